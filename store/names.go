package store

import (
	"encoding/binary"
	"fmt"
	"math"

	"go.etcd.io/bbolt"
)

// What a name of the dictionary stands for; the same word may be a cause and
// a symptom.
const (
	nameSite    = 's'
	nameCause   = 'c'
	nameSymptom = 'y'
)

// dictionary gives names numbers that never change, whatever the pack calls
// things later. The empty name is number 0. It belongs to the writer.
type dictionary struct {
	numbers map[string]uint32 // of names whose transaction is on the disk
}

// lookup is the dictionary within one transaction.
type lookup struct {
	tx    *bbolt.Tx
	known map[string]uint32 // nil when there is no cache
	added map[string]uint32 // new ones, cached after the commit
}

func (d *dictionary) begin(tx *bbolt.Tx) *lookup {
	return &lookup{tx: tx, known: d.numbers, added: map[string]uint32{}}
}

// keep takes over the names of a transaction that was committed.
func (d *dictionary) keep(l *lookup) {
	for name, n := range l.added {
		d.numbers[name] = n
	}
}

// number returns the number of a name, giving it one if it has none.
func (l *lookup) number(kind byte, name string) (uint32, error) {
	if name == "" {
		return 0, nil
	}
	key := string(kind) + name
	if n, ok := l.known[key]; ok {
		return n, nil
	}
	if n, ok := l.added[key]; ok {
		return n, nil
	}
	n, ok := findNumber(l.tx, kind, name)
	if !ok {
		var err error
		if n, err = l.add(key); err != nil {
			return 0, fmt.Errorf("give %q a number: %w", name, err)
		}
	}
	l.added[key] = n
	return n, nil
}

func (l *lookup) add(key string) (uint32, error) {
	numbers := l.tx.Bucket(bucketNumbers)
	next, err := numbers.NextSequence()
	if err != nil {
		return 0, err
	}
	if next > math.MaxUint32 {
		return 0, fmt.Errorf("no numbers left after %d names", next-1)
	}
	n := binary.BigEndian.AppendUint32(nil, uint32(next))
	if err := l.tx.Bucket(bucketNames).Put([]byte(key), n); err != nil {
		return 0, err
	}
	return uint32(next), numbers.Put(n, []byte(key))
}

// findNumber looks a name up without giving it a number.
func findNumber(tx *bbolt.Tx, kind byte, name string) (uint32, bool) {
	if name == "" {
		return 0, true
	}
	b := tx.Bucket(bucketNames).Get([]byte(string(kind) + name))
	if len(b) != 4 {
		return 0, false
	}
	return binary.BigEndian.Uint32(b), true
}

// nameOf looks a number up.
func nameOf(tx *bbolt.Tx, n uint32) (string, error) {
	if n == 0 {
		return "", nil
	}
	b := tx.Bucket(bucketNumbers).Get(binary.BigEndian.AppendUint32(nil, n))
	if len(b) < 2 {
		return "", fmt.Errorf("damaged: name %d is missing", n)
	}
	return string(b[1:]), nil
}

// pack turns a summary into a row.
func (l *lookup) pack(s summary) (row, error) {
	r := row{
		opened: s.opened, closed: s.closed, last: s.last, version: s.version,
		minutes: s.minutes, closedFlag: s.state == Closed,
	}
	var err error
	if r.site, err = l.number(nameSite, string(s.site)); err != nil {
		return row{}, err
	}
	if r.cause, err = l.number(nameCause, s.cause); err != nil {
		return row{}, err
	}
	r.symptom, err = l.number(nameSymptom, s.symptom)
	return r, err
}

// unpack turns a row into a summary.
func unpack(tx *bbolt.Tx, r row) (summary, error) {
	s := summary{
		opened: r.opened, closed: r.closed, last: r.last, version: r.version,
		minutes: r.minutes, state: r.state(),
	}
	site, err := nameOf(tx, r.site)
	if err != nil {
		return summary{}, err
	}
	s.site = SiteRef(site)
	if s.cause, err = nameOf(tx, r.cause); err != nil {
		return summary{}, err
	}
	s.symptom, err = nameOf(tx, r.symptom)
	return s, err
}
