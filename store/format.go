package store

import (
	"errors"
	"fmt"
	"os"
	"strconv"
	"syscall"

	"go.etcd.io/bbolt"
)

// formatNow is the format that this version of the program writes.
const formatNow = 2

var keyFormat = []byte("format")

// inspect looks at an existing file without writing to it: opening a file for
// writing can already change it, and one of a newer format must not be. It
// tells whether there is no file yet.
func inspect(path string, opts Options) (isNew bool, err error) {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, os.ErrNotExist) && !opts.ReadOnly:
		return true, nil
	case err != nil:
		return false, openError(path, err)
	case !info.Mode().IsRegular():
		return false, unavailable("open "+path, errors.New("not a regular file"))
	case info.Size() == 0 && !opts.ReadOnly:
		return true, nil
	}
	db, err := openFile(path, &bbolt.Options{ReadOnly: true, Timeout: opts.LockWait})
	if err != nil {
		return false, openError(path, err)
	}
	format, err := peek(db, info)
	if err := errors.Join(err, db.Close()); err != nil {
		return false, fmt.Errorf("open %s: %w", path, err)
	}
	if opts.ReadOnly && format != formatNow {
		return false, unavailable("open "+path+" for reading", fmt.Errorf("it is of format %d and has to be opened for writing once", format))
	}
	return false, nil
}

func peek(db *bbolt.DB, info os.FileInfo) (format int, err error) {
	defer recoverDamage(&err)
	if err := whole(db, info); err != nil {
		return 0, unavailable("inspect", err)
	}
	err = db.View(func(tx *bbolt.Tx) error {
		format, err = readFormat(tx)
		return err
	})
	return format, err
}

// readFormat returns the format of a file, 0 for an empty one.
func readFormat(tx *bbolt.Tx) (int, error) {
	meta := tx.Bucket(bucketMeta)
	if meta == nil {
		if k, _ := tx.Cursor().First(); k != nil {
			return 0, unavailable("read the format", errors.New("the database of another program"))
		}
		return 0, nil
	}
	format, err := strconv.Atoi(string(meta.Get(keyFormat)))
	switch {
	case err != nil || format < 1:
		return 0, unavailable("read the format", fmt.Errorf("damaged: %q", meta.Get(keyFormat)))
	case format > formatNow:
		return 0, fmt.Errorf("%w: format %d, this version knows formats up to %d", ErrNewerFormat, format, formatNow)
	}
	return format, nil
}

// migrations lead from each format, the first being 1, to the next.
var migrations = []func(*bbolt.Tx) error{addMinutes}

// migrate makes a new file's buckets, or brings an old one up to date, in one
// transaction: after a crash the file is the old one.
func migrate(db *bbolt.DB) error {
	format := 0
	err := db.View(func(tx *bbolt.Tx) (err error) {
		format, err = readFormat(tx)
		return err
	})
	if err != nil || format == formatNow {
		return err
	}
	err = db.Update(func(tx *bbolt.Tx) error {
		for _, name := range allBuckets {
			if _, err := tx.CreateBucketIfNotExists(name); err != nil {
				return fmt.Errorf("make bucket %s: %w", name, err)
			}
		}
		for ; format > 0 && format < formatNow; format++ {
			if err := migrations[format-1](tx); err != nil {
				return fmt.Errorf("format %d to %d: %w", format, format+1, err)
			}
		}
		return tx.Bucket(bucketMeta).Put(keyFormat, []byte(strconv.Itoa(formatNow)))
	})
	if err != nil {
		return unavailable("bring the file up to date", err)
	}
	return nil
}

// addMinutes leads from format 1 to 2. Rows of format 1 had no minutes (28
// bytes, up to the symptom), and the weekly counters counted cases only (8
// bytes). Both are made anew from the records, which did not change.
func addMinutes(tx *bbolt.Tx) error {
	if err := tx.DeleteBucket(bucketWeeks); err != nil {
		return err
	}
	if _, err := tx.CreateBucket(bucketWeeks); err != nil {
		return err
	}
	var ids []CaseID
	err := tx.Bucket(bucketRows).ForEach(func(k, _ []byte) error {
		id, err := caseOf(k)
		ids = append(ids, id)
		return err
	})
	if err != nil {
		return err
	}
	names := (&dictionary{}).begin(tx)
	g := &group{tx: tx, names: names}
	for _, id := range ids {
		c, err := loadCase(tx, id)
		if err != nil {
			return err
		}
		if err := g.putSummary(id, nil, summarise(c)); err != nil {
			return fmt.Errorf("case %d: %w", id, err)
		}
	}
	return nil
}

// isReadOnlyDisk tells whether an error says that the disk may only be read.
func isReadOnlyDisk(err error) bool { return errors.Is(err, syscall.EROFS) }
