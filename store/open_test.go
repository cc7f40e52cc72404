package store_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"go.etcd.io/bbolt"

	"ferrule/store"
)

// openCase opens a case in a store.
func openCase(t *testing.T, s store.Store) store.CaseID {
	t.Helper()
	r, err := s.Apply(t.Context(), store.Change{Events: []store.Event{{Kind: store.KindOpened, Actor: "ada", Opened: &store.Opened{Conversation: "c"}}}})
	if err != nil {
		t.Fatal(err)
	}
	return r.Case
}

// childHold holds a file, says so, and answers nobody.
func childHold(args []string) error {
	b, err := store.OpenBolt(args[0], store.Options{})
	if err != nil {
		return err
	}
	fmt.Println("held")
	time.Sleep(time.Minute)
	return b.Close()
}

func TestHeldByAnother(t *testing.T) {
	path := newFile(t)
	c := child(t, "hold", path)
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	defer func() { _ = c.Process.Kill(); _ = c.Wait() }()
	if _, err := out.Read(make([]byte, 4)); err != nil {
		t.Fatal(err)
	}
	begun := time.Now()
	if _, err := store.OpenBolt(path, store.Options{}); !errors.Is(err, store.ErrLocked) {
		t.Errorf("OpenBolt: %v", err)
	}
	if took := time.Since(begun); took > 2*time.Second {
		t.Errorf("it took %v to find out", took)
	}
	_, err = store.OpenPath(t.Context(), path, store.Options{LockWait: 60 * time.Millisecond, HolderWait: 100 * time.Millisecond})
	if !errors.Is(err, store.ErrLocked) || !errors.Is(err, store.ErrUnavailable) {
		t.Errorf("OpenPath: %v", err)
	}
	for _, part := range []string{"fuser " + path, "lsof " + path, path + ".sock"} {
		if err == nil || !strings.Contains(err.Error(), part) {
			t.Errorf("the error does not mention %q: %v", part, err)
		}
	}
	ctx, cancel := context.WithTimeout(t.Context(), 50*time.Millisecond)
	defer cancel()
	if _, err := store.OpenPath(ctx, path, store.Options{}); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("OpenPath with little time: %v", err)
	}
}

func TestOpenPathTakesTheFileOrTheSocket(t *testing.T) {
	path := newFile(t)
	first, err := store.OpenPath(t.Context(), path, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if _, ok := first.(*store.Bolt); !ok {
		t.Fatalf("a free file gave a %T", first)
	}
	id := openCase(t, first)
	if err := first.Close(); err != nil {
		t.Fatal(err)
	}
	h := hold(t, path)
	second, err := store.OpenPath(t.Context(), path, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer second.Close()
	if _, ok := second.(*store.Remote); !ok {
		t.Fatalf("a file that is held gave a %T", second)
	}
	if c, err := second.Case(t.Context(), id); err != nil || c.ID != id {
		t.Errorf("case: %+v, %v", c, err)
	}
	h.end(t)
	if _, err := os.Lstat(store.SocketPath(path)); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the socket is still there: %v", err)
	}
	// The holder ends while others wait for it.
	b := openBolt(t, path)
	time.AfterFunc(100*time.Millisecond, func() { _ = b.Close() })
	third, err := store.OpenPath(t.Context(), path, store.Options{LockWait: 10 * time.Millisecond, HolderWait: 5 * time.Second})
	if err != nil {
		t.Fatal(err)
	}
	_ = third.Close()
}

func TestFilesThatAreNoStore(t *testing.T) {
	foreign := func(t *testing.T, path string) {
		db, err := bbolt.Open(path, 0o600, nil)
		if err != nil {
			t.Fatal(err)
		}
		err = db.Update(func(tx *bbolt.Tx) error { _, err := tx.CreateBucket([]byte("x")); return err })
		if err := errors.Join(err, db.Close()); err != nil {
			t.Fatal(err)
		}
	}
	write := func(content []byte) func(*testing.T, string) {
		return func(t *testing.T, path string) {
			if err := os.WriteFile(path, content, 0o600); err != nil {
				t.Fatal(err)
			}
		}
	}
	cutShort := func(t *testing.T, path string) {
		b := openBolt(t, path)
		for range 50 {
			openCase(t, b)
		}
		if err := errors.Join(b.Close(), os.Truncate(path, 3*4096)); err != nil {
			t.Fatal(err)
		}
	}
	badFreePages := func(t *testing.T, path string) {
		b := openBolt(t, path)
		openCase(t, b)
		if err := b.Close(); err != nil {
			t.Fatal(err)
		}
		file, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		// A page's head has its kind at byte 8; 0x10 is the list of free pages.
		for at := 2 * 4096; at+16 <= len(file); at += 4096 {
			if file[at+8] == 0x10 {
				file[at+8] = 0x01
			}
		}
		if err := os.WriteFile(path, file, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for name, prepare := range map[string]func(*testing.T, string){
		"bad free pages":   badFreePages,
		"text":             write([]byte("site,grade\n")),
		"zeros":            write(make([]byte, 1<<16)),
		"another database": foreign,
		"cut short":        cutShort,
		"a folder":         func(t *testing.T, path string) { _ = os.Mkdir(path, 0o700) },
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "x.db")
			prepare(t, path)
			before, _ := os.ReadFile(path)
			_, err := store.OpenPath(t.Context(), path, store.Options{})
			if !errors.Is(err, store.ErrUnavailable) || !strings.Contains(err.Error(), path) {
				t.Errorf("error %v", err)
			}
			if after, _ := os.ReadFile(path); !bytes.Equal(before, after) {
				t.Error("the file was changed")
			}
		})
	}
	if _, err := store.OpenBolt(filepath.Join(t.TempDir(), "no", "such.db"), store.Options{}); !errors.Is(err, store.ErrUnavailable) {
		t.Errorf("a folder that is missing: %v", err)
	}
}

func TestReadOnly(t *testing.T) {
	path := newFile(t)
	if _, err := store.OpenBolt(path, store.Options{ReadOnly: true}); !errors.Is(err, store.ErrUnavailable) {
		t.Errorf("reading a file that is not there: %v", err)
	}
	b := openBolt(t, path)
	id := openCase(t, b)
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	for range 2 { // at the same time
		r, err := store.OpenBolt(path, store.Options{ReadOnly: true})
		if err != nil {
			t.Fatal(err)
		}
		defer r.Close()
		if c, err := r.Case(t.Context(), id); err != nil || c.ID != id {
			t.Errorf("case: %+v, %v", c, err)
		}
		if _, err := r.Apply(t.Context(), store.Change{Case: id, Expected: 1}); !errors.Is(err, store.ErrUnavailable) {
			t.Errorf("apply: %v", err)
		}
		if _, err := r.Listen(); !errors.Is(err, store.ErrUnavailable) {
			t.Errorf("listen: %v", err)
		}
	}
}

// childOpen opens a file and applies a change.
func childOpen(args []string) error {
	s, err := store.OpenPath(context.Background(), args[0], store.Options{})
	if err != nil {
		return err
	}
	_, err = s.Apply(context.Background(), store.Change{Events: []store.Event{{Kind: store.KindOpened, Opened: &store.Opened{}}}})
	return errors.Join(err, s.Close())
}

// Somebody who may not write is told so when he opens the store.
func TestWithoutTheRightToWrite(t *testing.T) {
	program, folder := readable(t)
	path := filepath.Join(folder, "cases.db")
	run := func() string {
		c := exec.CommandContext(t.Context(), program)
		c.Env = append(os.Environ(), childVariable+"=open\n"+path)
		if os.Getuid() == 0 {
			asNobody(c)
		}
		out, err := c.CombinedOutput()
		if err == nil {
			t.Error("it was opened")
		}
		return string(out)
	}
	if os.Getuid() != 0 {
		if err := os.Chmod(folder, 0o555); err != nil {
			t.Fatal(err)
		}
		defer func() { _ = os.Chmod(folder, 0o755) }()
	}
	if out := run(); !strings.Contains(out, "may only be read") || !strings.Contains(out, path) {
		t.Errorf("in a folder of somebody else: %s", out)
	}
	_ = os.Chmod(folder, 0o755)
	b := openBolt(t, path)
	openCase(t, b)
	if err := errors.Join(b.Close(), os.Chmod(path, 0o444)); err != nil {
		t.Fatal(err)
	}
	if out := run(); !strings.Contains(out, "may only be read") || !strings.Contains(out, path) {
		t.Errorf("a file of somebody else: %s", out)
	}
}

func TestModes(t *testing.T) {
	defer setUmask(setUmask(0)) // the most careless
	path := newFile(t)
	h := hold(t, path)
	for _, p := range []string{path, store.SocketPath(path)} {
		info, err := os.Lstat(p)
		if err != nil {
			t.Fatal(err)
		}
		if info.Mode().Perm() != 0o600 {
			t.Errorf("%s has mode %v", p, info.Mode())
		}
	}
	backup := filepath.Join(filepath.Dir(path), "backup.db")
	if err := h.bolt.Backup(t.Context(), backup); err != nil {
		t.Fatal(err)
	}
	if info, err := os.Lstat(backup); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("backup: %v, %v", info.Mode(), err)
	}
	entries, err := os.ReadDir(filepath.Dir(path))
	if err != nil || len(entries) != 3 {
		t.Errorf("left in the folder: %v, %v", entries, err)
	}
}
