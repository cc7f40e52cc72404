package store

import (
	"encoding/binary"
	"fmt"
	"math"
	"time"
)

// summary is what a list and the counters need to know of a case. It can be
// carried on from change to change without folding the case again; see after.
type summary struct {
	opened, closed, last uint32 // seconds since 1970, as rowSeconds gives them
	version              uint32
	site                 SiteRef
	cause, symptom       string
	minutes              uint16
	state                State
}

// summarise takes the summary from a folded case.
func summarise(c Case) summary {
	s := summary{
		opened:  rowSeconds(c.Opened),
		last:    rowSeconds(c.Last),
		version: uint32(min(c.Version, math.MaxUint32)),
		site:    c.Site,
		symptom: c.Symptom,
		state:   c.State,
	}
	if c.State == Closed {
		s.closed = rowSeconds(c.Closed)
		s.cause = c.Outcome.Cause
		s.minutes = rowMinutes(c.Outcome.Minutes)
	}
	return s
}

// after carries a summary on over the events of one change. It reports false
// where that takes the whole case: when something is taken back, the earlier
// value is needed, and when the case is closed or reopened, all its actors.
func (s summary) after(events []Event) (summary, bool) {
	s.version++
	for i := range events {
		e := &events[i]
		s.last = max(s.last, rowSeconds(e.At))
		switch e.Kind {
		case KindUndo, KindOutcome:
			return s, false
		case KindMessage:
			if e.Message.Edit {
				return s, false
			}
		case KindSymptom:
			s.symptom = e.Symptom.Name
		case KindNote:
			if e.Note.Topic == TopicSite {
				s.site = SiteRef(e.Note.Value)
			}
		}
	}
	return s, true
}

// rowSeconds fits a time into a row. It never puts an earlier time after a
// later one, so that a range of times selects no fewer rows than it should.
func rowSeconds(t time.Time) uint32 {
	return uint32(min(max(t.Unix(), 0), math.MaxUint32))
}

// rowMinutes fits minutes into a row: whole ones, 45 days at most.
func rowMinutes(m float64) uint16 {
	return uint16(min(max(math.Round(m), 0), math.MaxUint16))
}

// rowSize is the length of a row.
const rowSize = 32

// row is a summary with numbers of the dictionary in place of its names.
type row struct {
	opened, closed, last, version uint32
	site, cause, symptom          uint32
	minutes                       uint16
	closedFlag                    bool
}

// encode packs a row, numbers big-endian:
//
//	0 opened  4 closed  8 last  12 version  16 site  20 cause  24 symptom
//	28 minutes (2 bytes)  30 flags (bit 0: closed)  31 zero
func (r row) encode() []byte {
	b := make([]byte, rowSize)
	for i, n := range []uint32{r.opened, r.closed, r.last, r.version, r.site, r.cause, r.symptom} {
		binary.BigEndian.PutUint32(b[4*i:], n)
	}
	binary.BigEndian.PutUint16(b[28:], r.minutes)
	if r.closedFlag {
		b[30] = 1
	}
	return b
}

// decodeRow unpacks a row.
func decodeRow(b []byte) (row, error) {
	if len(b) != rowSize {
		return row{}, fmt.Errorf("damaged row: %d bytes instead of %d", len(b), rowSize)
	}
	if b[30] > 1 || b[31] != 0 {
		return row{}, fmt.Errorf("damaged row: flags %#x %#x", b[30], b[31])
	}
	n := func(i int) uint32 { return binary.BigEndian.Uint32(b[i:]) }
	return row{
		opened: n(0), closed: n(4), last: n(8), version: n(12),
		site: n(16), cause: n(20), symptom: n(24),
		minutes: binary.BigEndian.Uint16(b[28:]), closedFlag: b[30] == 1,
	}, nil
}

// state tells the state that the row stands for.
func (r row) state() State {
	if r.closedFlag {
		return Closed
	}
	return Open
}

// weekOf names the ISO week of a row's time, in UTC.
func weekOf(seconds uint32) string {
	year, week := time.Unix(int64(seconds), 0).UTC().ISOWeek()
	return fmt.Sprintf("%04d-W%02d", year, week)
}
