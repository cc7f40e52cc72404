package main

import (
	"bufio"
	"bytes"
	"context"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
)

// lockedBuffer is written by the conversation and read by the test.
type lockedBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *lockedBuffer) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *lockedBuffer) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

// A threshold that is edited while a piped dialogue runs is used by the next
// message; a broken edit is refused with its place, and the dialogue goes on.
func TestPackIsTakenOverBetweenMessages(t *testing.T) {
	dir := t.TempDir()
	pack := filepath.Join(dir, "pack")
	var quiet bytes.Buffer
	if code := run(context.Background(), []string{"pack", "init", pack}, strings.NewReader(""), &quiet, &quiet); code != 0 {
		t.Fatalf("pack init: %d %s", code, quiet.String())
	}
	says, lines := io.Pipe()
	hears, out := io.Pipe()
	notices := &lockedBuffer{}
	done := make(chan int, 1)
	go func() {
		code := run(context.Background(), []string{"chat", "--pack", pack, "--db", filepath.Join(dir, "cases.db")}, says, out, notices)
		_ = out.Close()
		done <- code
	}()
	replies := bufio.NewReader(hears)
	say := func(line string) string {
		t.Helper()
		if _, err := io.WriteString(lines, line+"\n"); err != nil {
			t.Fatal(err)
		}
		var reply strings.Builder
		for {
			part, err := replies.ReadString('\n')
			if reply.WriteString(part); err != nil || strings.TrimSpace(part) == "" {
				return reply.String()
			}
		}
	}
	edit := func(old, new string) {
		t.Helper()
		file := filepath.Join(pack, "equipment.yaml")
		src, err := os.ReadFile(file)
		if err != nil || !strings.Contains(string(src), old) {
			t.Fatalf("%q is not in equipment.yaml, %v", old, err)
		}
		if err := os.WriteFile(file, []byte(strings.Replace(string(src), old, new, 1)), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	const limit = "lowest_level: 47" // of the invented siren
	if got := say("bittern, weak signal, signal 55 %"); strings.Contains(got, "below the mounting limit") {
		t.Errorf("55 %% is below 47 %%:\n%s", got)
	}
	edit(limit, "lowest_level: 58")
	if got := say("signal 56 %"); !strings.Contains(got, "below the mounting limit of 58 %") {
		t.Errorf("the new limit is not used:\n%s\n%s", got, notices)
	}
	edit("lowest_level: 58", "lowest_level: [")
	if got := say("signal 57 %"); !strings.Contains(got, "limit of 58 %") {
		t.Errorf("the old pack does not go on:\n%s", got)
	}
	if got := notices.String(); !strings.Contains(got, "equipment.yaml:") || !strings.Contains(got, "not taken over") {
		t.Errorf("the broken edit is not refused with its place:\n%s", got)
	}
	edit("lowest_level: [", limit)
	if got := say("signal 54 %"); strings.Contains(got, "limit of 58 %") {
		t.Errorf("the mended pack is not used:\n%s", got)
	}
	_ = lines.Close()
	if code := <-done; code != 0 {
		t.Errorf("it ended with %d\n%s", code, notices)
	}
}
