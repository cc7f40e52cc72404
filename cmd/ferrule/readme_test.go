package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The dialogue of the README is what the program says.
func TestReadmeDialogue(t *testing.T) {
	src, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, _ := strings.Cut(string(src), "\n```\n")
	want, _, ok := strings.Cut(rest, "\n```\n")
	var turns []string
	for _, line := range strings.Split(want, "\n") {
		if turn, typed := strings.CutPrefix(line, "> "); typed {
			turns = append(turns, turn)
		}
	}
	if !ok || len(turns) < 4 {
		t.Fatalf("the README shows %d turns, want four or more", len(turns))
	}
	var out, errOut bytes.Buffer
	args := []string{"chat", "--db", filepath.Join(t.TempDir(), "cases.db"), "--stream", "readme"}
	if code := run(context.Background(), args, strings.NewReader(strings.Join(turns, "\n")), &out, &errOut); code != exitDone {
		t.Fatalf("exit code %d: %s", code, errOut.String())
	}
	if got := strings.TrimSpace(out.String()); got != strings.TrimSpace(want) {
		t.Errorf("the program says\n%s\n\nthe README shows\n%s", got, want)
	}
}
