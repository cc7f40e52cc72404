// Package octavetest holds arithmetic of ours against GNU Octave: a script of
// testdata computes the same figures in another way, and what it printed is
// committed beside it.
package octavetest

import (
	"context"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// near is how far a figure may be from the committed one, relative to it: another
// processor may round otherwise.
const near = 1e-9

// nothing is what counts as 0, where one way of computing gives it and another not.
const nothing = 1e-15

// Current runs a script and demands that it prints what is committed: the same
// rows, the same words, and numbers to nine figures. It skips where Octave is not
// installed, and with -short.
func Current(t testing.TB, script, committed string) {
	t.Helper()
	if testing.Short() {
		t.Skip("-short: GNU Octave takes some seconds")
	}
	octave := installed()
	if octave == "" {
		t.Skip("GNU Octave is not installed: the committed figures are taken as they are")
	}
	want, err := os.ReadFile(committed)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), 3*time.Minute)
	defer cancel()
	cmd := exec.CommandContext(ctx, octave, "--no-gui", "--norc", "--quiet", filepath.Base(script))
	cmd.Dir = filepath.Dir(script)
	got, err := cmd.Output() // what it says on leaving goes to the other output
	if err != nil {
		t.Fatalf("running %s: %v", script, err)
	}
	made, kept := strings.Split(strings.TrimSpace(string(got)), "\n"), strings.Split(strings.TrimSpace(string(want)), "\n")
	if len(made) != len(kept) {
		t.Fatalf("%s prints %d rows, and %d are committed", script, len(made), len(kept))
	}
	for i := range made {
		if !sameRow(made[i], kept[i]) {
			t.Fatalf("row %d is now %q, and was %q", i+1, made[i], kept[i])
		}
	}
}

func installed() string {
	for _, name := range []string{"octave-cli", "octave"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	return ""
}

func sameRow(a, b string) bool {
	x, y := strings.Split(a, ","), strings.Split(b, ",")
	if len(x) != len(y) {
		return false
	}
	for i := range x {
		if strings.TrimSpace(x[i]) == strings.TrimSpace(y[i]) {
			continue
		}
		u, errA := strconv.ParseFloat(strings.TrimSpace(x[i]), 64)
		v, errB := strconv.ParseFloat(strings.TrimSpace(y[i]), 64)
		if errA != nil || errB != nil || !(math.Abs(u-v) <= near*math.Abs(v)+nothing) {
			return false
		}
	}
	return true
}
