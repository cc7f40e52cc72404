package store

import (
	"cmp"
	"context"
	"encoding/json"
	"slices"
	"time"
)

// waiting is an entry of the outbox.
type waiting struct {
	Outgoing
	due      uint64
	attempts int
}

// send puts a message into the outbox, in place of one with the same key.
func (m *Memory) send(o Outgoing, encoded []byte) uint64 {
	for id, w := range m.outbox {
		if o.Key != "" && w.Key == o.Key {
			delete(m.outbox, id)
		}
	}
	due, attempts := o.firstDue()
	w := waiting{due: due, attempts: int(attempts)}
	_ = json.Unmarshal(encoded, &w.Outgoing) // what prepare just encoded
	m.lastOut++
	m.outbox[m.lastOut] = &w
	return m.lastOut
}

// Lease implements Store.
func (m *Memory) Lease(ctx context.Context, now time.Time, lease time.Duration, n int) ([]Leased, error) {
	leave, err := m.enter(ctx)
	if err != nil {
		return nil, err
	}
	defer leave()
	var due []uint64
	for id, w := range m.outbox {
		if w.due <= dueNanos(now) {
			due = append(due, id)
		}
	}
	slices.SortFunc(due, func(a, b uint64) int {
		if m.outbox[a].due != m.outbox[b].due {
			return cmp.Compare(m.outbox[a].due, m.outbox[b].due)
		}
		return cmp.Compare(a, b)
	})
	var leased []Leased
	for _, id := range due[:min(len(due), leaseSize(n))] {
		w := m.outbox[id]
		w.attempts++
		w.due = dueNanos(now.Add(lease))
		out := w.Outgoing
		out.Body = slices.Clone(out.Body)
		leased = append(leased, Leased{ID: id, Outgoing: out, Attempts: w.attempts})
	}
	return leased, nil
}

// leaseSize bounds how many entries are handed out at once.
func leaseSize(n int) int { return min(max(n, 0), maxPage) }

// Sent implements Store.
func (m *Memory) Sent(ctx context.Context, id uint64) error {
	leave, err := m.enter(ctx)
	if err != nil {
		return err
	}
	defer leave()
	delete(m.outbox, id)
	return nil
}

// Retry implements Store.
func (m *Memory) Retry(ctx context.Context, id uint64, due time.Time) error {
	leave, err := m.enter(ctx)
	if err != nil {
		return err
	}
	defer leave()
	if w := m.outbox[id]; w != nil {
		w.Due, w.due = due, dueNanos(due)
	}
	return nil
}
