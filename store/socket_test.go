package store

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// serveTest serves a store at a path of its own.
func serveTest(t *testing.T, s Store) (path string) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "s.sock")
	ln, err := listenPrivately(path)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- Serve(ctx, ln, s) }()
	t.Cleanup(func() {
		cancel()
		if err := <-ended; err != nil {
			t.Errorf("serve: %v", err)
		}
	})
	return path
}

func dialTest(t *testing.T, path string) *Remote {
	t.Helper()
	r, err := Dial(path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = r.Close() })
	return r
}

// odd is a store that does one thing of its own.
type odd struct {
	Store
	apply func(context.Context, Change) (Receipt, error)
}

func (o odd) Apply(ctx context.Context, c Change) (Receipt, error) { return o.apply(ctx, c) }

func TestErrorsSurviveTheSocket(t *testing.T) {
	var next error
	r := dialTest(t, serveTest(t, odd{NewMemory(), func(context.Context, Change) (Receipt, error) { return Receipt{}, next }}))
	for _, kind := range errorKinds {
		next = fmt.Errorf("case 7: %w", kind.err)
		_, err := r.Apply(t.Context(), Change{})
		if !errors.Is(err, kind.err) || err.Error() != next.Error() {
			t.Errorf("%v came back as %v", next, err)
		}
		for _, other := range errorKinds {
			if other.err != kind.err && errors.Is(err, other.err) {
				t.Errorf("%v came back as %v, too", next, other.err)
			}
		}
	}
	next = fmt.Errorf("%w: %w", ErrUnavailable, ErrLocked)
	if _, err := r.Apply(t.Context(), Change{}); !errors.Is(err, ErrUnavailable) || !errors.Is(err, ErrLocked) {
		t.Errorf("two kinds came back as %v", err)
	}
	next = errors.New("something else")
	if _, err := r.Apply(t.Context(), Change{}); err == nil || err.Error() != "something else" {
		t.Errorf("an error of no kind came back as %v", err)
	}
}

// The client learns what became of a change that it gave up while it was
// under way.
func TestCancelledCallTellsItsFate(t *testing.T) {
	begun := make(chan struct{})
	inTime := false
	r := dialTest(t, serveTest(t, odd{NewMemory(), func(ctx context.Context, _ Change) (Receipt, error) {
		begun <- struct{}{}
		<-ctx.Done()
		if inTime {
			return Receipt{}, ctx.Err()
		}
		return Receipt{Case: 5, Version: 1}, nil
	}}))
	for _, inTime = range []bool{true, false} {
		ctx, cancel := context.WithCancel(t.Context())
		go func() { <-begun; cancel() }()
		receipt, err := r.Apply(ctx, Change{})
		if inTime && (!errors.Is(err, context.Canceled) || errors.Is(err, ErrUncertain)) {
			t.Errorf("given up in time: %+v, %v", receipt, err)
		}
		if !inTime && (err != nil || receipt.Case != 5) {
			t.Errorf("given up too late: %+v, %v", receipt, err)
		}
	}
	// The connection is good for another call.
	if _, err := r.Case(t.Context(), 1); !errors.Is(err, ErrNotFound) {
		t.Errorf("the next call: %v", err)
	}
}

// When the holder ends in the middle of a call, nobody knows what became of a
// change; of a question it does not matter.
func TestHolderIsLost(t *testing.T) {
	path := filepath.Join(t.TempDir(), "s.sock")
	ln, err := net.Listen("unix", path)
	if err != nil {
		t.Fatal(err)
	}
	defer ln.Close()
	go func() {
		for {
			conn, err := ln.Accept()
			if err != nil {
				return
			}
			var q request
			_ = readFrame(conn, &q) // hello
			_ = writeFrame(conn, response{Result: []byte("{}")})
			_ = readFrame(conn, &q)
			_ = conn.Close()
		}
	}()
	r := dialTest(t, path)
	if _, err := r.Apply(t.Context(), Change{}); !errors.Is(err, ErrUncertain) {
		t.Errorf("apply: %v", err)
	}
	if _, err := r.Case(t.Context(), 1); !errors.Is(err, ErrUnavailable) || errors.Is(err, ErrUncertain) {
		t.Errorf("case: %v", err)
	}
	_ = ln.Close()
	if _, err := r.Apply(t.Context(), Change{}); !errors.Is(err, ErrUnavailable) || errors.Is(err, ErrUncertain) {
		t.Errorf("apply that did not leave: %v", err)
	}
}

// A client that goes away cancels what is done for it.
func TestClientIsLost(t *testing.T) {
	begun, ended := make(chan struct{}), make(chan struct{})
	path := serveTest(t, odd{NewMemory(), func(ctx context.Context, _ Change) (Receipt, error) {
		close(begun)
		<-ctx.Done()
		close(ended)
		return Receipt{}, ctx.Err()
	}})
	r := dialTest(t, path)
	go func() { _, _ = r.Apply(context.Background(), Change{}) }()
	<-begun
	_ = r.Close()
	select {
	case <-ended:
	case <-time.After(10 * time.Second):
		t.Error("the call goes on")
	}
}

func TestNobodyOfOurKind(t *testing.T) {
	path := filepath.Join(t.TempDir(), "s.sock")
	if _, err := Dial(path); !errors.Is(err, ErrUnavailable) {
		t.Errorf("nobody: %v", err)
	}
	ln, err := net.Listen("unix", path)
	if err != nil {
		t.Fatal(err)
	}
	defer ln.Close()
	go func() {
		for {
			conn, err := ln.Accept()
			if err != nil {
				return
			}
			_, _ = conn.Write([]byte("220 mail service\r\n"))
			_ = conn.Close()
		}
	}()
	if _, err := Dial(path); !errors.Is(err, ErrUnavailable) {
		t.Errorf("another service: %v", err)
	}
}

func TestAnotherProtocolVersion(t *testing.T) {
	path := serveTest(t, NewMemory())
	conn, err := net.Dial("unix", path)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	var a response
	err = errors.Join(writeFrame(conn, request{Method: "hello", Args: []byte(`{"protocol":99}`)}), readFrame(conn, &a))
	if err != nil || !errors.Is(a.Error, ErrUnavailable) {
		t.Errorf("hello: %v, %v", a.Error, err)
	}
	err = errors.Join(writeFrame(conn, request{Method: "guess", Args: []byte(`1`)}), readFrame(conn, &a))
	if err != nil || !errors.Is(a.Error, ErrInvalid) {
		t.Errorf("an unknown call: %v, %v", a.Error, err)
	}
	a = response{}
	err = errors.Join(writeFrame(conn, request{Method: "case", Args: []byte(`"x"`)}), readFrame(conn, &a))
	if err != nil || !errors.Is(a.Error, ErrInvalid) {
		t.Errorf("bad arguments: %v, %v", a.Error, err)
	}
}

// A frame that is longer than any of ours ends the connection at its head.
func TestLongFrames(t *testing.T) {
	path := serveTest(t, NewMemory())
	conn, err := net.Dial("unix", path)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	if _, err := conn.Write(binary.BigEndian.AppendUint32(nil, maxFrame+1)); err != nil {
		t.Fatal(err)
	}
	_ = conn.SetDeadline(time.Now().Add(10 * time.Second))
	if _, err := conn.Read(make([]byte, 1)); !errors.Is(err, io.EOF) {
		t.Errorf("after too long a frame: %v", err)
	}
	if err := writeFrame(io.Discard, strings.Repeat("x", maxFrame)); !errors.Is(err, ErrInvalid) {
		t.Errorf("writing too long a frame: %v", err)
	}
}

// Large changes and pages pass the socket.
func TestLargeCases(t *testing.T) {
	b := openTest(t)
	ctx, cancel := context.WithCancel(t.Context())
	ln, err := b.Listen()
	if err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- Serve(ctx, ln, b) }()
	defer func() { cancel(); <-ended }()
	r := dialTest(t, SocketPath(b.path))
	const cases = 12
	for range cases {
		c := Change{Events: []Event{{Kind: KindOpened, Opened: &Opened{}}, {Kind: KindMessage, Message: &Message{ID: "m", Text: strings.Repeat("x", 1<<20)}}}}
		if _, err := r.Apply(ctx, c); err != nil {
			t.Fatal(err)
		}
	}
	listed, pages := 0, 0
	for after := Cursor(""); pages == 0 || after != ""; pages++ {
		page, err := r.Cases(ctx, Query{}, after)
		if err != nil {
			t.Fatal(err)
		}
		listed, after = listed+len(page.Cases), page.Next
	}
	if listed != cases || pages != 2 {
		t.Errorf("%d cases on %d pages", listed, pages)
	}
}

func TestLongPaths(t *testing.T) {
	folder := t.TempDir()
	for len(folder) < 150 {
		folder = filepath.Join(folder, strings.Repeat("long", 10))
	}
	if err := os.MkdirAll(folder, 0o700); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(folder, "cases.db")
	b, err := OpenBolt(path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	ln, err := b.Listen()
	if err != nil {
		t.Fatal(err)
	}
	go func() { ended <- Serve(ctx, ln, b) }()
	defer func() { cancel(); <-ended }()
	s, err := OpenPath(ctx, path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if _, err := s.Apply(ctx, opening("c")); err != nil {
		t.Error(err)
	}
	name := filepath.Join(folder, strings.Repeat("n", 120))
	if _, err := Dial(name); err == nil || !strings.Contains(err.Error(), "shorter") {
		t.Errorf("a name that is too long: %v", err)
	}
}

// A socket that an earlier process left behind is replaced; anything else at
// its place is not.
func TestLeftoverSocket(t *testing.T) {
	b := openTest(t)
	path := SocketPath(b.path)
	old, err := net.ListenUnix("unix", &net.UnixAddr{Name: path, Net: "unix"})
	if err != nil {
		t.Fatal(err)
	}
	old.SetUnlinkOnClose(false)
	_ = old.Close()
	ln, err := b.Listen()
	if err != nil {
		t.Fatalf("with a socket left behind: %v", err)
	}
	newer, err := b.Listen()
	if err != nil {
		t.Fatal(err)
	}
	if err := ln.Close(); err != nil {
		t.Errorf("close: %v", err)
	}
	if _, err := os.Lstat(path); err != nil {
		t.Error("closing the older listener took the newer one's socket")
	}
	if err := errors.Join(newer.Close(), newer.Close()); err != nil {
		t.Errorf("close: %v", err)
	}
	if err := os.WriteFile(path, []byte("notes"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := b.Listen(); err == nil || !strings.Contains(err.Error(), "in the way") {
		t.Errorf("with a file in the way: %v", err)
	}
	if s, _ := os.ReadFile(path); string(s) != "notes" {
		t.Error("the file in the way was replaced")
	}
}

func TestKeeperOverTheSocket(t *testing.T) {
	b := openTest(t)
	r := dialTest(t, serveTest(t, b))
	if _, err := r.Apply(t.Context(), opening("c")); err != nil {
		t.Fatal(err)
	}
	if s, err := r.Stats(t.Context()); err != nil || s.Cases != 1 || s.Format != formatNow || s.Path != b.path || s.UsedBytes == 0 {
		t.Errorf("stats: %+v, %v", s, err)
	}
	if problems, err := r.Verify(t.Context()); err != nil || len(problems) != 0 {
		t.Errorf("verify: %q, %v", problems, err)
	}
	backup := filepath.Join(t.TempDir(), "backup.db")
	if err := r.Backup(t.Context(), backup); err != nil {
		t.Fatal(err)
	}
	if err := r.Backup(t.Context(), backup); !errors.Is(err, ErrInvalid) {
		t.Errorf("a backup over another: %v", err)
	}
	copied, err := OpenBolt(backup, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer copied.Close()
	if receipt, err := copied.Apply(t.Context(), opening("d")); err != nil || receipt.Case != 2 {
		t.Errorf("the backup goes on with %+v, %v", receipt, err)
	}
	wantSound(t, copied)
	m := dialTest(t, serveTest(t, NewMemory()))
	if _, err := m.Stats(t.Context()); !errors.Is(err, ErrInvalid) {
		t.Errorf("stats of a store without a file: %v", err)
	}
}

// What was erased is not in a backup.
func TestErasedTextIsNotInABackup(t *testing.T) {
	b := openTest(t)
	const secret = "the key is under the third stone"
	c := opening("c")
	c.Events = append(c.Events, Event{Kind: KindMessage, Message: &Message{ID: "m", Text: secret}})
	c.Reply = []byte(secret)
	if _, err := b.Apply(t.Context(), c); err != nil {
		t.Fatal(err)
	}
	if err := b.EraseText(t.Context(), 1); err != nil {
		t.Fatal(err)
	}
	backup := filepath.Join(t.TempDir(), "backup.db")
	if err := b.Backup(t.Context(), backup); err != nil {
		t.Fatal(err)
	}
	if raw, err := os.ReadFile(backup); err != nil || strings.Contains(string(raw), secret) {
		t.Errorf("it is in the backup: %v", err)
	}
}
