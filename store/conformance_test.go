package store_test

import (
	"context"
	"path/filepath"
	"sync"
	"testing"

	"ferrule/store"
	"ferrule/store/storetest"
)

func TestMemory(t *testing.T) {
	storetest.Conformance(t, func(*testing.T) store.Store { return store.NewMemory() }, nil)
}

func TestBolt(t *testing.T) {
	files := map[store.Store]string{}
	open := func(t *testing.T, path string) store.Store {
		s := openBolt(t, path)
		files[s] = path
		return s
	}
	storetest.Conformance(t,
		func(t *testing.T) store.Store { return open(t, newFile(t)) },
		func(t *testing.T, s store.Store) store.Store {
			if err := s.Close(); err != nil {
				t.Fatal(err)
			}
			return open(t, files[s])
		})
}

// newFile names a file that does not exist yet; what is there in the end is
// checked.
func newFile(t *testing.T) string {
	path := filepath.Join(t.TempDir(), "cases.db")
	t.Cleanup(func() { checkFile(t, path) })
	return path
}

// openBolt opens a file and closes it after the test.
func openBolt(t *testing.T, path string) *store.Bolt {
	t.Helper()
	b, err := store.OpenBolt(path, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = b.Close() })
	return b
}

// checkFile runs bbolt's own consistency check, and compares all that is
// derived from the cases with the cases.
func checkFile(t *testing.T, path string) {
	t.Helper()
	b, err := store.OpenBolt(path, store.Options{ReadOnly: true})
	if err != nil {
		t.Errorf("check: %v", err)
		return
	}
	defer b.Close()
	problems, err := b.Verify(context.Background())
	if err != nil {
		t.Errorf("check: %v", err)
	}
	for _, p := range problems {
		t.Errorf("check: %s", p)
	}
}

func TestRemote(t *testing.T) {
	served := map[store.Store]*holder{}
	open := func(t *testing.T, path string) store.Store {
		h := hold(t, path)
		r, err := store.Dial(store.SocketPath(path))
		if err != nil {
			t.Fatal(err)
		}
		served[r] = h
		t.Cleanup(func() { _ = r.Close() })
		return r
	}
	storetest.Conformance(t,
		func(t *testing.T) store.Store { return open(t, newFile(t)) },
		func(t *testing.T, s store.Store) store.Store {
			if err := s.Close(); err != nil {
				t.Fatal(err)
			}
			h := served[s]
			h.end(t)
			return open(t, h.path)
		})
}

// holder holds a file and serves it.
type holder struct {
	path   string
	bolt   *store.Bolt
	cancel context.CancelFunc
	ended  chan error
	once   sync.Once
}

func hold(t *testing.T, path string) *holder {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	h := &holder{path: path, bolt: openBolt(t, path), cancel: cancel, ended: make(chan error, 1)}
	ln, err := h.bolt.Listen()
	if err != nil {
		t.Fatal(err)
	}
	go func() { h.ended <- store.Serve(ctx, ln, h.bolt) }()
	t.Cleanup(func() { h.end(t) })
	return h
}

// end stops serving and closes the file.
func (h *holder) end(t *testing.T) {
	t.Helper()
	h.once.Do(func() {
		h.cancel()
		if err := <-h.ended; err != nil {
			t.Errorf("serve: %v", err)
		}
		if err := h.bolt.Close(); err != nil {
			t.Errorf("close: %v", err)
		}
	})
}
