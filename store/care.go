package store

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"go.etcd.io/bbolt"
)

// Keeper is what looking after a store takes. Bolt has it, and Remote where
// the holder of the file does. All three read the whole file in one
// transaction, so they may make the writer wait when the file outgrows its
// map meanwhile: they are for a quiet hour.
type Keeper interface {
	// Backup writes a copy to a new file. It has no free pages, and so
	// nothing of what was erased.
	Backup(ctx context.Context, path string) error
	// Verify looks for contradictions in the file and returns them in words.
	Verify(ctx context.Context) ([]string, error)
	// Stats tells how much is in the file.
	Stats(ctx context.Context) (Stats, error)
}

var _, _ Keeper = (*Bolt)(nil), (*Remote)(nil)

// Stats tells how much is in a file.
type Stats struct {
	Path       string `json:"path"`
	Format     int    `json:"format"`
	Cases      int    `json:"cases"`
	OpenCases  int    `json:"open_cases"`
	Changes    int    `json:"changes"`
	Deliveries int    `json:"deliveries"`
	Sites      int    `json:"sites"`
	Devices    int    `json:"devices"`
	Waiting    int    `json:"waiting"`    // messages in the outbox
	FileBytes  int64  `json:"file_bytes"` // as the folder lists it; the end of it may be a hole
	UsedBytes  int64  `json:"used_bytes"`
	FreeBytes  int64  `json:"free_bytes"` // inside the used part, for coming changes
}

// Stats implements Keeper.
func (b *Bolt) Stats(ctx context.Context) (Stats, error) {
	s := Stats{Path: b.path}
	err := b.view(ctx, func(tx *bbolt.Tx) (err error) {
		if s.Format, err = readFormat(tx); err != nil {
			return err
		}
		for name, n := range map[string]*int{
			string(bucketRows): &s.Cases, string(bucketRecords): &s.Changes, string(bucketDeliveries): &s.Deliveries,
			string(bucketSites): &s.Sites, string(bucketDevices): &s.Devices, string(bucketOutbox): &s.Waiting,
		} {
			*n = tx.Bucket([]byte(name)).Stats().KeyN
		}
		s.UsedBytes = tx.Size()
		return tx.Bucket(bucketRows).ForEach(func(_, v []byte) error {
			if r, err := decodeRow(v); err == nil && !r.closedFlag {
				s.OpenCases++
			}
			return ctx.Err()
		})
	})
	if err != nil {
		return Stats{}, err
	}
	s.FreeBytes = int64(b.db.Stats().FreePageN) * int64(b.db.Info().PageSize)
	info, err := os.Stat(b.path)
	if err != nil {
		return Stats{}, unavailable("look at the file", err)
	}
	s.FileBytes = info.Size()
	return s, nil
}

// Backup implements Keeper.
func (b *Bolt) Backup(ctx context.Context, path string) (err error) {
	if err := errors.Join(ctx.Err(), b.usable()); err != nil {
		return err
	}
	if _, err := os.Lstat(path); !errors.Is(err, os.ErrNotExist) {
		return invalidf("back up to %s: there is something already", path)
	}
	private, err := os.MkdirTemp(filepath.Dir(path), ".ferrule-")
	if err != nil {
		return fmt.Errorf("back up to %s: %w", path, err)
	}
	defer os.RemoveAll(private)
	made := filepath.Join(private, "backup")
	if err := b.copyTo(made); err != nil {
		return fmt.Errorf("back up to %s: %w", path, err)
	}
	if err := os.Rename(made, path); err != nil {
		return fmt.Errorf("back up to %s: %w", path, err)
	}
	return syncFolder(path)
}

// copyTo writes what is in use to a new file; bbolt syncs each part of it.
func (b *Bolt) copyTo(path string) (err error) {
	defer b.stopOnDamage(&err)
	to, err := bbolt.Open(path, fileMode, nil)
	if err != nil {
		return err
	}
	return errors.Join(bbolt.Compact(to, b.db, 1<<20), to.Close())
}

// syncFolder makes the name of a new file last.
func syncFolder(path string) error {
	folder, err := os.Open(filepath.Dir(path))
	if err != nil {
		return fmt.Errorf("sync the folder of %s: %w", path, err)
	}
	if err := errors.Join(folder.Sync(), folder.Close()); err != nil {
		return fmt.Errorf("sync the folder of %s: %w", path, err)
	}
	return nil
}

// maxProblems is where Verify stops: more say nothing new.
const maxProblems = 100

// verifying collects what is wrong with a file.
type verifying struct {
	tx       *bbolt.Tx
	problems []string
	weeks    map[string]counter // as the rows have them, by key
	openKeys map[string]bool    // as the cases have them
}

// Verify implements Keeper. Beside the database's own check it folds every
// case anew and compares what is derived from it.
func (b *Bolt) Verify(ctx context.Context) ([]string, error) {
	v := verifying{weeks: map[string]counter{}, openKeys: map[string]bool{}}
	err := b.view(ctx, func(tx *bbolt.Tx) error {
		v.tx = tx
		for err := range tx.Check() {
			v.add("pages: %v", err)
		}
		if len(v.problems) > 0 {
			return nil // what is built on damaged pages is not worth a look
		}
		if err := v.cases(ctx); err != nil {
			return err
		}
		v.counters()
		v.openCases()
		v.outbox()
		return nil
	})
	return v.problems, err
}

func (v *verifying) add(format string, args ...any) {
	if len(v.problems) < maxProblems {
		v.problems = append(v.problems, fmt.Sprintf(format, args...))
	}
}

// cases folds every case and compares its row.
func (v *verifying) cases(ctx context.Context) error {
	return v.tx.Bucket(bucketRows).ForEach(func(k, value []byte) error {
		if err := ctx.Err(); err != nil {
			return err
		}
		id, err := caseOf(k)
		if err != nil {
			v.add("rows: %v", err)
			return nil
		}
		if err := v.oneCase(id, value); err != nil {
			v.add("case %d: %v", id, err)
		}
		return nil
	})
}

func (v *verifying) oneCase(id CaseID, value []byte) error {
	r, err := decodeRow(value)
	if err != nil {
		return err
	}
	have, err := unpack(v.tx, r)
	if err != nil {
		return err
	}
	c, err := loadCase(v.tx, id)
	if err != nil {
		return err
	}
	if last := pair64(uint64(id), c.Version); v.tx.Bucket(bucketRecords).Get(last) == nil {
		return fmt.Errorf("a change is missing: %d are there, but not number %d", c.Version, c.Version)
	}
	if want := summarise(c); have != want {
		v.add("case %d: the row says %+v, the events %+v", id, have, want)
	}
	if r.closedFlag {
		n := v.weeks[string(weekKey(r))]
		v.weeks[string(weekKey(r))] = counter{n.cases + 1, n.minutes + uint64(r.minutes)}
		return nil
	}
	for _, actor := range c.Actors {
		v.openKeys[string(openKey(actor, id))] = true
	}
	return nil
}

// counters compares the weekly counters with the sums over the rows.
func (v *verifying) counters() {
	n := 0
	_ = v.tx.Bucket(bucketWeeks).ForEach(func(k, value []byte) error {
		n++
		if have, err := decodeCounter(value); err != nil || have != v.weeks[string(k)] {
			v.add("weekly counter %q: %+v, %v; the rows add up to %+v", k, have, err, v.weeks[string(k)])
		}
		return nil
	})
	if n < len(v.weeks) {
		v.add("weekly counters: %d are there, the rows make %d", n, len(v.weeks))
	}
}

func (v *verifying) openCases() {
	n := 0
	_ = v.tx.Bucket(bucketOpen).ForEach(func(k, _ []byte) error {
		n++
		if !v.openKeys[string(k)] {
			v.add("open cases: %q stands for no open case of that actor", k)
		}
		return nil
	})
	if n < len(v.openKeys) {
		v.add("open cases: %d are listed, the cases make %d", n, len(v.openKeys))
	}
}

// outbox holds the outbox's three buckets against each other.
func (v *verifying) outbox() {
	n := 0
	due := v.tx.Bucket(bucketOutboxDue)
	_ = v.tx.Bucket(bucketOutbox).ForEach(func(k, value []byte) error {
		n++
		e, err := decodeEntry(value)
		if err != nil {
			v.add("outbox entry %x: %v", k, err)
		} else if due.Get(append(key64(e.due), k...)) == nil {
			v.add("outbox entry %x: not in the order of due times", k)
		}
		return nil
	})
	if in := due.Stats().KeyN; in != n {
		v.add("outbox: %d entries, %d due times", n, in)
	}
	_ = v.tx.Bucket(bucketOutboxKeys).ForEach(func(k, id []byte) error {
		value := v.tx.Bucket(bucketOutbox).Get(id)
		if e, err := decodeEntry(value); err != nil || !bytes.Contains(e.body, []byte(`"key":`)) {
			v.add("outbox key %q: its entry is missing", k)
		}
		return nil
	})
}
