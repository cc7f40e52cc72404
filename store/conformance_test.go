package store_test

import (
	"path/filepath"
	"testing"

	"go.etcd.io/bbolt"

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

// checkFile runs bbolt's own consistency check.
func checkFile(t *testing.T, path string) {
	t.Helper()
	db, err := bbolt.Open(path, 0o600, &bbolt.Options{ReadOnly: true, PreLoadFreelist: true})
	if err != nil {
		t.Errorf("check: %v", err)
		return
	}
	defer db.Close()
	_ = db.View(func(tx *bbolt.Tx) error {
		for err := range tx.Check() {
			t.Errorf("check: %v", err)
		}
		return nil
	})
}
