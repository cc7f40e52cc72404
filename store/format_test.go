package store

import (
	"bytes"
	"encoding/binary"
	"errors"
	"flag"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"go.etcd.io/bbolt"
)

var update = flag.Bool("update", false, "write the golden file of format 1 again")

const golden = "testdata/format1.db"

// goldenCases is what the golden file holds. The names are invented.
func goldenCases() [][]Event {
	closed := new(script)
	closed.add("ada", Event{Kind: KindOpened, Opened: &Opened{Conversation: "chat:yard:1", Site: "lantern-12"}})
	closed.says("ada", "m1", "sig 35%, keypad drops out").reads("ada", "m1", 35).symptom("m1", "intermittent_loss")
	closed.add("ada", Event{Kind: KindOutcome, Outcome: &Outcome{Cause: "place_too_weak", Fix: "moved it", Minutes: 42, Confirmed: "measurement"}})
	same := new(script)
	same.add("ben", Event{Kind: KindOpened, Opened: &Opened{Conversation: "chat:yard:2"}})
	same.symptom("m1", "intermittent_loss")
	same.add("ben", Event{Kind: KindOutcome, Outcome: &Outcome{Cause: "place_too_weak", Minutes: 8, Confirmed: "unproven"}})
	open := new(script)
	open.add("ada", Event{Kind: KindOpened, Opened: &Opened{Conversation: "chat:yard:3", Site: "lantern-12"}})
	open.says("ada", "m1", "tamper will not clear").symptom("m1", "tamper")
	return [][]Event{*closed, *same, *open}
}

// copyGolden copies the golden file, so that opening never changes it.
func copyGolden(t *testing.T) string {
	t.Helper()
	b, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "old.db")
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestFormat1IsBroughtUpToDate(t *testing.T) {
	if *update {
		writeGolden(t)
	}
	path := copyGolden(t)
	if _, err := OpenBolt(path, Options{ReadOnly: true}); !errors.Is(err, ErrUnavailable) {
		t.Errorf("an old file opened for reading: %v", err)
	}
	for range 2 { // the second time it is of the present format
		b, err := OpenBolt(path, Options{})
		if err != nil {
			t.Fatal(err)
		}
		checkGolden(t, b)
		if err := b.Close(); err != nil {
			t.Fatal(err)
		}
	}
	b, err := OpenBolt(path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	// What was stored in the old format is carried on.
	if r, err := b.Apply(t.Context(), Change{Delivery: "chat:yard:10.2"}); err != nil || !r.Repeated || r.Case != 2 || string(r.Reply) != "reply" {
		t.Errorf("an old delivery: %+v, %v", r, err)
	}
	r, err := b.Apply(t.Context(), Change{Case: 3, Expected: 1, Events: []Event{
		{Kind: KindOutcome, At: day, Actor: "ada", Outcome: &Outcome{Cause: "lid", Minutes: 3}}}})
	if err != nil || r.Version != 2 {
		t.Fatalf("closing an old case: %+v, %v", r, err)
	}
	if r, err := b.Apply(t.Context(), Change{Events: goldenCases()[0]}); err != nil || r.Case != 4 {
		t.Errorf("a new case: %+v, %v", r, err)
	}
	wantSound(t, b)
}

func checkGolden(t *testing.T, b *Bolt) {
	t.Helper()
	wantSound(t, b)
	for i, events := range goldenCases() {
		want := Fold(events)
		want.ID, want.Version = CaseID(i+1), 1
		got, err := b.Case(t.Context(), want.ID)
		if diff := cmp.Diff(want, got); err != nil || diff != "" {
			t.Errorf("case %d: %v (-want +got):\n%s", i+1, err, diff)
		}
	}
	weeks, err := b.Weeks(t.Context(), "", "")
	want := []WeekCount{{Week: "2026-W10", Cause: "place_too_weak", Symptom: "intermittent_loss", Cases: 2, Minutes: 50}}
	if diff := cmp.Diff(want, weeks); err != nil || diff != "" {
		t.Errorf("weeks: %v (-want +got):\n%s", err, diff)
	}
	if site, devices, err := b.Site(t.Context(), "lantern-12"); err != nil || site.Grade != 2 || len(devices) != 1 {
		t.Errorf("site: %+v %+v, %v", site, devices, err)
	}
}

func wantSound(t *testing.T, b *Bolt) {
	t.Helper()
	problems, err := b.Verify(t.Context())
	if err != nil || len(problems) > 0 {
		t.Errorf("verify: %q, %v", problems, err)
	}
}

// writeGolden makes the golden file: one of the present format, taken back to
// what format 1 had.
func writeGolden(t *testing.T) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "now.db")
	b, err := OpenBolt(path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for i, events := range goldenCases() {
		c := Change{Delivery: "chat:yard:10." + strconv.Itoa(i+1), Events: events, Reply: []byte("reply"),
			Sites: []Site{{Ref: "lantern-12", Grade: 2}}, Devices: []Device{{Site: "lantern-12", Subject: "device 1", Model: "Wick-W"}},
			Outbox: []Outgoing{{Key: "k", Channel: "yard", Due: day, Body: []byte("reply")}}}
		if _, err := b.Apply(t.Context(), c); err != nil {
			t.Fatal(err)
		}
	}
	if err := b.db.Update(backToFormat1); err != nil {
		t.Fatal(err)
	}
	_ = os.Remove(golden)
	if err := errors.Join(b.Backup(t.Context(), golden), b.Close(), os.Chmod(golden, 0o644)); err != nil {
		t.Fatal(err)
	}
}

func backToFormat1(tx *bbolt.Tx) error {
	shorten := func(bucket []byte, size int) error {
		short := map[string][]byte{}
		_ = tx.Bucket(bucket).ForEach(func(k, v []byte) error {
			short[string(k)] = bytes.Clone(v[:size])
			return nil
		})
		for k, v := range short {
			if err := tx.Bucket(bucket).Put([]byte(k), v); err != nil {
				return err
			}
		}
		return nil
	}
	return errors.Join(shorten(bucketRows, 28), shorten(bucketWeeks, 8), tx.Bucket(bucketMeta).Put(keyFormat, []byte("1")))
}

// TestGoldenIsOld sees to it that the golden file still is of format 1, so
// that the test of the migration tests something.
func TestGoldenIsOld(t *testing.T) {
	db, err := bbolt.Open(copyGolden(t), 0o600, &bbolt.Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	_ = db.View(func(tx *bbolt.Tx) error {
		if f, err := readFormat(tx); f != 1 || err != nil {
			t.Errorf("format %d, %v", f, err)
		}
		if v := tx.Bucket(bucketRows).Get(key64(1)); len(v) != 28 {
			t.Errorf("a row of %d bytes", len(v))
		}
		_, v := tx.Bucket(bucketWeeks).Cursor().First()
		if len(v) != 8 || binary.BigEndian.Uint64(v) != 2 {
			t.Errorf("a counter %x", v)
		}
		return nil
	})
}

// A migration that fails leaves the old file.
func TestMigrationIsWholeOrNotAtAll(t *testing.T) {
	path := copyGolden(t)
	db, err := bbolt.Open(path, 0o600, nil)
	if err != nil {
		t.Fatal(err)
	}
	err = db.Update(func(tx *bbolt.Tx) error { return tx.Bucket(bucketRecords).Put(pair64(2, 1), []byte("damaged")) })
	if err := errors.Join(err, db.Close()); err != nil {
		t.Fatal(err)
	}
	if _, err := OpenBolt(path, Options{}); !errors.Is(err, ErrUnavailable) {
		t.Errorf("a damaged old file: %v", err)
	}
	db, err = bbolt.Open(path, 0o600, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	_ = db.View(func(tx *bbolt.Tx) error {
		if f, err := readFormat(tx); f != 1 || err != nil || len(tx.Bucket(bucketRows).Get(key64(1))) != 28 {
			t.Errorf("format %d, %v", f, err)
		}
		return nil
	})
}

// A file of a newer version is not touched, not even by what opening for
// writing does to a file whose list of free pages was not written.
func TestNewerFormatIsNotTouched(t *testing.T) {
	path := copyGolden(t)
	db, err := bbolt.Open(path, 0o600, &bbolt.Options{NoFreelistSync: true})
	if err != nil {
		t.Fatal(err)
	}
	err = db.Update(func(tx *bbolt.Tx) error {
		return tx.Bucket(bucketMeta).Put(keyFormat, []byte(strconv.Itoa(formatNow+1)))
	})
	if err := errors.Join(err, db.Close()); err != nil {
		t.Fatal(err)
	}
	long := time.Date(2020, 1, 1, 0, 0, 0, 0, time.UTC)
	if err := os.Chtimes(path, long, long); err != nil {
		t.Fatal(err)
	}
	before, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, opts := range []Options{{}, {ReadOnly: true}} {
		if _, err := OpenBolt(path, opts); !errors.Is(err, ErrNewerFormat) {
			t.Errorf("%+v: %v", opts, err)
		}
		if _, err := OpenPath(t.Context(), path, opts); !errors.Is(err, ErrNewerFormat) {
			t.Errorf("%+v: %v", opts, err)
		}
	}
	after, err := os.ReadFile(path)
	if err != nil || !bytes.Equal(before, after) {
		t.Errorf("the file was changed: %v", err)
	}
	if info, err := os.Stat(path); err != nil || !info.ModTime().Equal(long) {
		t.Errorf("the file was written to at %v", info.ModTime())
	}
	if entries, err := os.ReadDir(filepath.Dir(path)); err != nil || len(entries) != 1 {
		t.Errorf("left in the folder: %v, %v", entries, err)
	}
}

// Verify has to find what it is for.
func TestVerifyFindsContradictions(t *testing.T) {
	for name, spoil := range map[string]func(*bbolt.Tx) error{
		"a row": func(tx *bbolt.Tx) error {
			v := bytes.Clone(tx.Bucket(bucketRows).Get(key64(1)))
			v[29]++
			return tx.Bucket(bucketRows).Put(key64(1), v)
		},
		"a counter": func(tx *bbolt.Tx) error {
			k, _ := tx.Bucket(bucketWeeks).Cursor().First()
			return tx.Bucket(bucketWeeks).Put(bytes.Clone(k), counter{9, 9}.encode())
		},
		"no counter": func(tx *bbolt.Tx) error {
			k, _ := tx.Bucket(bucketWeeks).Cursor().First()
			return tx.Bucket(bucketWeeks).Delete(bytes.Clone(k))
		},
		"an open case": func(tx *bbolt.Tx) error { return tx.Bucket(bucketOpen).Put(openKey("ada", 1), nil) },
		"no open case": func(tx *bbolt.Tx) error { return tx.Bucket(bucketOpen).Delete(openKey("ada", 3)) },
		"a due time":   func(tx *bbolt.Tx) error { return tx.Bucket(bucketOutboxDue).Put(pair64(1, 2), nil) },
		"an outbox key": func(tx *bbolt.Tx) error {
			return tx.Bucket(bucketOutboxKeys).Put([]byte("other"), key64(77))
		},
		"a record": func(tx *bbolt.Tx) error { return tx.Bucket(bucketRecords).Delete(pair64(1, 1)) },
	} {
		t.Run(name, func(t *testing.T) {
			b, err := OpenBolt(copyGolden(t), Options{})
			if err != nil {
				t.Fatal(err)
			}
			defer b.Close()
			if err := b.db.Update(spoil); err != nil {
				t.Fatal(err)
			}
			if problems, err := b.Verify(t.Context()); err != nil || len(problems) == 0 {
				t.Errorf("verify: %q, %v", problems, err)
			}
		})
	}
}
