package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"ferrule/store"
)

var eightTurns = []string{
	"wireless keypad won't enrol", "gen 2 hub", "signal 62%", "why", "both buses", "fen wide", "hub fw 1.09",
}

// A conversation that is killed keeps what it had answered, and sent again
// under the same name it goes on without doubling anything.
func TestKilledConversationGoesOn(t *testing.T) {
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	ferrule := filepath.Join(dir, "ferrule")
	if err := os.Symlink(self, ferrule); err != nil {
		t.Fatal(err)
	}
	db := filepath.Join(dir, "cases.db")
	cmd := exec.Command(ferrule, "--db", db, "--stream", "kill")
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	const answered = 3
	fmt.Fprintln(in, strings.Join(eightTurns[:answered], "\n"))
	waitFor(t, out, answered)
	if err := cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = cmd.Wait() // it was killed

	if got := messages(t, db); len(got) != answered {
		t.Fatalf("after the kill %d messages are there, want the %d that were answered: %q", len(got), answered, got)
	}
	again := exec.Command(ferrule, "--db", db, "--stream", "kill")
	again.Stdin = strings.NewReader(strings.Join(eightTurns, "\n"))
	if out, err := again.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	if got := messages(t, db); strings.Join(got, "|") != strings.Join(eightTurns, "|") {
		t.Errorf("got %q, want each message once", got)
	}
}

// waitFor reads until so many replies have ended.
func waitFor(t *testing.T, out io.Reader, replies int) {
	t.Helper()
	seen, buf := "", make([]byte, 4096)
	for strings.Count(seen, "\n\n") < replies {
		n, err := out.Read(buf)
		seen += string(buf[:n])
		if err != nil {
			t.Fatalf("after %q: %v", seen, err)
		}
	}
}

func messages(t *testing.T, db string) []string {
	t.Helper()
	st, err := store.OpenPath(context.Background(), db, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	c, err := st.Case(context.Background(), 1)
	if err != nil {
		t.Fatal(err)
	}
	var texts []string
	for _, e := range c.Events {
		if e.Kind == store.KindMessage {
			texts = append(texts, e.Message.Text)
		}
	}
	return texts
}
