package store

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"net"
	"os"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// FuzzRecord: what can be decoded comes back the same when it is encoded
// again, and everything else is an error.
func FuzzRecord(f *testing.F) {
	for _, events := range goldenCases() {
		b, err := encodeRecord(record{"chat:x:1", []byte("reply"), events})
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
		f.Add(b[:len(b)/2])
	}
	f.Add([]byte{})
	f.Add([]byte{recordMark, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0x01})
	f.Fuzz(func(t *testing.T, b []byte) {
		r, err := decodeRecord(b)
		if err != nil {
			if !errors.Is(err, errRecord) {
				t.Errorf("error %v", err)
			}
			return
		}
		b, err = encodeRecord(r)
		if err != nil {
			t.Fatal(err)
		}
		again, err := decodeRecord(b)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(r, again, cmp.AllowUnexported(record{}), cmpopts.EquateEmpty()); diff != "" {
			t.Errorf("(-first +second):\n%s", diff)
		}
		Fold(r.events) // has an answer for everything
	})
}

// FuzzFold: every sequence of events has a state, and carrying a summary on
// over the last change gives what folding everything gives.
func FuzzFold(f *testing.F) {
	for _, events := range goldenCases() {
		b, err := json.Marshal(events)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b, 2)
	}
	f.Fuzz(func(t *testing.T, b []byte, cut int) {
		var events []Event
		if json.Unmarshal(b, &events) != nil {
			return
		}
		c := Fold(events)
		if (c.Outcome != nil) != (c.State == Closed) || len(c.Events) != len(events) {
			t.Errorf("a contradiction: %+v", c)
		}
		for i := range events {
			if i > 0 && events[i].Kind == KindOpened || events[i].check() != nil {
				return
			}
		}
		cut = max(0, min(cut, len(events)))
		s, ok := summarise(Fold(events[:cut])).after(events[cut:])
		want := summarise(c)
		want.version++
		if ok && cut > 0 && s != want {
			t.Errorf("carried on to %+v, folded to %+v", s, want)
		}
	})
}

// FuzzRow: a row is either refused or means exactly its bytes.
func FuzzRow(f *testing.F) {
	f.Add(row{opened: 1, closed: 2, last: 3, version: 4, site: 5, cause: 6, symptom: 7, minutes: 8, closedFlag: true}.encode())
	f.Add(row{}.encode())
	f.Add(bytes.Repeat([]byte{0xff}, rowSize))
	f.Add(make([]byte, 28))
	f.Fuzz(func(t *testing.T, b []byte) {
		if r, err := decodeRow(b); err == nil && !bytes.Equal(r.encode(), b) {
			t.Errorf("%x became %x", b, r.encode())
		}
	})
}

// FuzzSmallRecords: the other decoders never panic, and what they accept
// means exactly its bytes.
func FuzzSmallRecords(f *testing.F) {
	f.Add(counter{3, 45}.encode())
	f.Add(entry{due: 5, attempts: 2, body: []byte(`{"key":"k"}`)}.encode())
	f.Add(encodeDelivery(Receipt{Case: 300, Version: 2}, nil))
	f.Add(encodeDelivery(Receipt{}, []byte("reply")))
	f.Fuzz(func(t *testing.T, b []byte) {
		if c, err := decodeCounter(b); err == nil && !bytes.Equal(c.encode(), b) {
			t.Errorf("counter %x became %x", b, c.encode())
		}
		if e, err := decodeEntry(b); err == nil && !bytes.Equal(e.encode(), b) {
			t.Errorf("entry %x became %x", b, e.encode())
		}
		if r, err := decodeDelivery(b); err == nil {
			again, err := decodeDelivery(encodeDelivery(r, r.Reply))
			if diff := cmp.Diff(r, again, cmpopts.EquateEmpty()); err != nil || diff != "" {
				t.Errorf("delivery %x: %v\n%s", b, err, diff)
			}
		}
	})
}

// FuzzFrame: the reader of frames takes no more than it should, and returns
// only its own errors.
func FuzzFrame(f *testing.F) {
	var b bytes.Buffer
	if err := writeFrame(&b, request{Method: "case", Args: []byte("7")}); err != nil {
		f.Fatal(err)
	}
	f.Add(b.Bytes())
	f.Add(b.Bytes()[:6])
	f.Add([]byte{0xff, 0xff, 0xff, 0xff})
	f.Add([]byte{0, 0, 0, 0})
	f.Add([]byte{})
	f.Fuzz(func(t *testing.T, b []byte) {
		in := bytes.NewReader(b)
		var q request
		switch err := readFrame(in, &q); {
		case err == nil:
			var out bytes.Buffer
			if err := writeFrame(&out, q); err != nil {
				t.Fatal(err)
			}
			var again request
			if err := readFrame(&out, &again); err != nil || again.Method != q.Method || again.Cancel != q.Cancel {
				t.Errorf("%+v came back as %+v, %v", q, again, err)
			}
		case !errors.Is(err, io.EOF) && !errors.Is(err, errFrame) && !errors.Is(err, io.ErrUnexpectedEOF):
			t.Errorf("error %v", err)
		}
	})
}

// FuzzServe: whatever a client sends, the server ends with the connection.
func FuzzServe(f *testing.F) {
	var b bytes.Buffer
	change, err := json.Marshal(opening("c"))
	if err != nil {
		f.Fatal(err)
	}
	for _, q := range []request{
		{Method: "hello", Args: []byte(`{"protocol":1}`)}, {Method: "apply", Args: change}, {Cancel: true}, {Method: "cases", Args: []byte(`{}`)},
	} {
		if err := writeFrame(&b, q); err != nil {
			f.Fatal(err)
		}
		f.Add(bytes.Clone(b.Bytes()))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		client, server := net.Pipe()
		ended := make(chan struct{})
		go func() {
			defer close(ended)
			serveConn(t.Context(), server, NewMemory())
		}()
		go func() { _, _ = io.Copy(io.Discard, client) }()
		_ = client.SetWriteDeadline(time.Now().Add(5 * time.Second))
		_, _ = client.Write(b)
		_ = client.Close()
		select {
		case <-ended:
		case <-time.After(10 * time.Second):
			t.Error("the server goes on")
		}
	})
}

// FuzzOpen: a damaged file is refused or read, but never ends the program.
func FuzzOpen(f *testing.F) {
	old, err := os.ReadFile(golden)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(uint32(0), byte(0))
	f.Add(uint32(4096+16), byte(7))
	f.Add(uint32(2*4096+3), byte(200))
	f.Fuzz(func(t *testing.T, at uint32, with byte) {
		file := bytes.Clone(old)
		file[int(at)%len(file)] ^= with
		path := t.TempDir() + "/x.db"
		if err := os.WriteFile(path, file, 0o600); err != nil {
			t.Fatal(err)
		}
		b, err := OpenBolt(path, Options{})
		if err != nil {
			return
		}
		defer b.Close()
		_, _ = b.Cases(t.Context(), Query{}, "")
		_, _ = b.Weeks(t.Context(), "", "")
		_, _ = b.Apply(t.Context(), opening("x"))
		_, _ = b.Lease(t.Context(), day, time.Hour, 9)
	})
}
