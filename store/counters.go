package store

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"

	"go.etcd.io/bbolt"
)

// counter is what a key of the weekly counters holds.
type counter struct{ cases, minutes uint64 }

func (c counter) encode() []byte { return pair64(c.cases, c.minutes) }

func decodeCounter(b []byte) (counter, error) {
	if len(b) != 16 {
		return counter{}, fmt.Errorf("damaged counter: %d bytes instead of 16", len(b))
	}
	return counter{binary.BigEndian.Uint64(b), binary.BigEndian.Uint64(b[8:])}, nil
}

// moveCounters takes a case's old row out of the counters and puts the new
// one in. Open cases count nowhere.
func (g *group) moveCounters(before, now *row) error {
	if before != nil && before.closedFlag && now.closedFlag &&
		before.minutes == now.minutes && bytes.Equal(weekKey(*before), weekKey(*now)) {
		return nil
	}
	if before != nil && before.closedFlag {
		if err := g.count(weekKey(*before), ^uint64(0), -uint64(before.minutes)); err != nil {
			return err
		}
	}
	if now.closedFlag {
		return g.count(weekKey(*now), 1, uint64(now.minutes))
	}
	return nil
}

// count adds to a counter; a negative number is added as its complement.
func (g *group) count(key []byte, cases, minutes uint64) error {
	var c counter
	if b := g.tx.Bucket(bucketWeeks).Get(key); b != nil {
		var err error
		if c, err = decodeCounter(b); err != nil {
			return unavailable("count", err)
		}
	}
	c.cases += cases
	c.minutes += minutes
	if c.cases == 0 {
		return g.drop(bucketWeeks, key)
	}
	return g.put(bucketWeeks, key, c.encode())
}

// Weeks implements Store.
func (b *Bolt) Weeks(ctx context.Context, from, to string) ([]WeekCount, error) {
	var counts []WeekCount
	err := b.view(ctx, func(tx *bbolt.Tx) (err error) {
		counts, err = readWeeks(tx, from, to)
		return err
	})
	if err != nil {
		return nil, err
	}
	sortWeeks(counts)
	return counts, nil
}

func readWeeks(tx *bbolt.Tx, from, to string) ([]WeekCount, error) {
	names := map[uint32]string{}
	name := func(b []byte) (string, error) {
		n := binary.BigEndian.Uint32(b)
		if s, ok := names[n]; ok {
			return s, nil
		}
		s, err := nameOf(tx, n)
		names[n] = s
		return s, err
	}
	var counts []WeekCount
	cursor := tx.Bucket(bucketWeeks).Cursor()
	for k, v := cursor.Seek([]byte(from)); k != nil; k, v = cursor.Next() {
		if len(k) != weekKeySize {
			return nil, unavailable("read the weekly counters", errRecord)
		}
		week := string(k[:weekSize])
		if to != "" && week > to {
			break
		}
		c, err := decodeCounter(v)
		if err != nil {
			return nil, unavailable("read the weekly counters", err)
		}
		w := WeekCount{Week: week, Cases: int(c.cases), Minutes: int(c.minutes)}
		if w.Cause, err = name(k[weekSize:]); err != nil {
			return nil, unavailable("read the weekly counters", err)
		}
		if w.Symptom, err = name(k[weekSize+4:]); err != nil {
			return nil, unavailable("read the weekly counters", err)
		}
		counts = append(counts, w)
	}
	return counts, nil
}
