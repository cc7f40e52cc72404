package store

import (
	"fmt"
	"math"
	"strconv"
	"time"
)

// selects tells whether a case is on the list that the query asks for.
func (q Query) selects(c Case) bool {
	return (q.State == "" || q.State == c.State) &&
		(q.Site == "" || q.Site == c.Site) &&
		(q.Since.IsZero() || !c.Opened.Before(q.Since)) &&
		(q.Before.IsZero() || c.Opened.Before(q.Before))
}

// cursorAt is the cursor that continues after a case.
func cursorAt(id CaseID) Cursor {
	return Cursor("after " + strconv.FormatUint(uint64(id), 10))
}

// position reads a cursor back: the case after which the list goes on.
func (c Cursor) position() (id CaseID, started bool, err error) {
	if c == "" {
		return 0, false, nil
	}
	var n uint64
	if _, err := fmt.Sscanf(string(c), "after %d", &n); err != nil || cursorAt(CaseID(n)) != c {
		return 0, false, invalidf("unknown cursor %q", string(c))
	}
	return CaseID(n), true, nil
}

// dueNanos orders times of the outbox; an empty time comes first.
func dueNanos(t time.Time) uint64 {
	const limit = math.MaxInt64 / int64(time.Second) // beyond it nanoseconds overflow
	switch s := t.Unix(); {
	case t.IsZero() || s < 0:
		return 0
	case s >= limit:
		return math.MaxInt64
	default:
		return uint64(t.UnixNano())
	}
}
