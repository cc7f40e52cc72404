package store

import (
	"context"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"time"
)

// outboxHead is what stands before the JSON of an outbox entry: when it is
// due, and how often it was handed out.
const outboxHead = 8 + 4

// entry is an entry of the outbox as it is stored.
type entry struct {
	due      uint64 // the key in outbox_due
	attempts uint32
	body     []byte // an Outgoing as JSON
}

func (e entry) encode() []byte {
	b := make([]byte, 0, outboxHead+len(e.body))
	b = binary.BigEndian.AppendUint64(b, e.due)
	b = binary.BigEndian.AppendUint32(b, e.attempts)
	return append(b, e.body...)
}

// decodeEntry reads an entry. The result shares nothing with b.
func decodeEntry(b []byte) (entry, error) {
	if len(b) < outboxHead {
		return entry{}, fmt.Errorf("damaged outbox entry of %d bytes", len(b))
	}
	return entry{
		due:      binary.BigEndian.Uint64(b),
		attempts: binary.BigEndian.Uint32(b[8:]),
		body:     append([]byte(nil), b[outboxHead:]...),
	}, nil
}

// send puts a message into the outbox, in place of one with the same key, and
// gives its ID.
func (g *group) send(o Outgoing, body []byte) (uint64, error) {
	if o.Key != "" {
		if b := g.tx.Bucket(bucketOutboxKeys).Get([]byte(o.Key)); len(b) == 8 {
			if err := g.dropEntry(binary.BigEndian.Uint64(b)); err != nil {
				return 0, err
			}
		}
	}
	id, err := g.tx.Bucket(bucketOutbox).NextSequence()
	if err != nil {
		return 0, fmt.Errorf("number an outgoing message: %w", err)
	}
	if o.Key != "" {
		if err := g.put(bucketOutboxKeys, []byte(o.Key), key64(id)); err != nil {
			return 0, err
		}
	}
	due, attempts := o.firstDue()
	return id, g.putEntry(id, entry{due: due, attempts: attempts, body: body})
}

// firstDue is when an entry is due at first, and how often it was handed out.
func (o Outgoing) firstDue() (due uint64, attempts uint32) {
	if !o.Held.IsZero() {
		return dueNanos(o.Held), 1
	}
	return dueNanos(o.Due), 0
}

func (g *group) putEntry(id uint64, e entry) error {
	if err := g.put(bucketOutbox, key64(id), e.encode()); err != nil {
		return err
	}
	return g.put(bucketOutboxDue, pair64(e.due, id), []byte{})
}

// findEntry returns an entry, and false if it has left the outbox.
func (g *group) findEntry(id uint64) (entry, Outgoing, bool, error) {
	b := g.tx.Bucket(bucketOutbox).Get(key64(id))
	if b == nil {
		return entry{}, Outgoing{}, false, nil
	}
	e, err := decodeEntry(b)
	if err != nil {
		return entry{}, Outgoing{}, false, unavailable("read the outbox", err)
	}
	var o Outgoing
	if err := json.Unmarshal(e.body, &o); err != nil {
		return entry{}, Outgoing{}, false, unavailable("read the outbox", err)
	}
	return e, o, true, nil
}

// dropEntry takes an entry out of the outbox, if it is still there.
func (g *group) dropEntry(id uint64) error {
	e, o, ok, err := g.findEntry(id)
	if err != nil || !ok {
		return err
	}
	if err := g.drop(bucketOutboxDue, pair64(e.due, id)); err != nil {
		return err
	}
	if o.Key != "" {
		if err := g.drop(bucketOutboxKeys, []byte(o.Key)); err != nil {
			return err
		}
	}
	return g.drop(bucketOutbox, key64(id))
}

// leasing hands out entries.
type leasing struct {
	now, until uint64
	n          int
	leased     []Leased
}

// Lease implements Store. It hands out fewer than n where those are long.
func (b *Bolt) Lease(ctx context.Context, now time.Time, lease time.Duration, n int) ([]Leased, error) {
	l := &leasing{now: dueNanos(now), until: dueNanos(now.Add(lease)), n: leaseSize(n)}
	if err := b.do(ctx, l); err != nil {
		return nil, err
	}
	return l.leased, nil
}

func (l *leasing) check(*group) error { return nil }

func (l *leasing) write(g *group) error {
	l.leased = nil
	size := 0
	for _, id := range l.due(g) {
		e, o, ok, err := g.findEntry(id)
		if err != nil {
			return err
		}
		if !ok {
			return unavailable("read the outbox", fmt.Errorf("entry %d is missing", id))
		}
		if size += len(e.body); size > maxRead && len(l.leased) > 0 {
			return nil
		}
		if err := g.drop(bucketOutboxDue, pair64(e.due, id)); err != nil {
			return err
		}
		e.due, e.attempts = l.until, e.attempts+1
		if err := g.putEntry(id, e); err != nil {
			return err
		}
		l.leased = append(l.leased, Leased{ID: id, Outgoing: o, Attempts: int(e.attempts)})
	}
	return nil
}

// due lists the entries to hand out. It is read to its end before anything
// is written, as a cursor does not survive writing.
func (l *leasing) due(g *group) []uint64 {
	var ids []uint64
	cursor := g.tx.Bucket(bucketOutboxDue).Cursor()
	for k, _ := cursor.First(); len(k) == 16 && len(ids) < l.n; k, _ = cursor.Next() {
		if binary.BigEndian.Uint64(k) > l.now {
			break
		}
		ids = append(ids, binary.BigEndian.Uint64(k[8:]))
	}
	return ids
}

// sent takes an entry out.
type sent struct{ id uint64 }

// Sent implements Store. An entry that is not there any more, because it was
// replaced or another worker sent it, is no error.
func (b *Bolt) Sent(ctx context.Context, id uint64) error {
	return b.do(ctx, sent{id})
}

func (s sent) check(*group) error   { return nil }
func (s sent) write(g *group) error { return g.dropEntry(s.id) }

// retry makes an entry due again.
type retry struct {
	id  uint64
	due time.Time
}

// Retry implements Store. As with Sent, a missing entry is no error.
func (b *Bolt) Retry(ctx context.Context, id uint64, due time.Time) error {
	return b.do(ctx, retry{id, due})
}

func (r retry) check(*group) error {
	if _, err := r.due.MarshalJSON(); err != nil {
		return invalidf("due: %v", err)
	}
	return nil
}

func (r retry) write(g *group) error {
	e, o, ok, err := g.findEntry(r.id)
	if err != nil || !ok {
		return err
	}
	if err := g.drop(bucketOutboxDue, pair64(e.due, r.id)); err != nil {
		return err
	}
	o.Due = r.due
	if e.body, err = json.Marshal(o); err != nil {
		return fmt.Errorf("encode outgoing message %d: %w", r.id, err)
	}
	e.due = dueNanos(r.due)
	return g.putEntry(r.id, e)
}

// erasing drops the text of a case.
type erasing struct{ id CaseID }

// EraseText implements Store. The words that readings quote and the replies
// kept for repeated deliveries are text, too. The bytes leave the file when
// their pages are used again; a backup is free of them at once.
func (b *Bolt) EraseText(ctx context.Context, id CaseID) error {
	return b.do(ctx, erasing{id})
}

func (e erasing) check(g *group) error {
	_, err := g.version(e.id)
	return err
}

func (e erasing) write(g *group) error {
	return g.rewriteRecords(e.id, func(r *record) bool {
		erased := eraseAllText(r.events)
		erased = erased || len(r.reply) > 0
		r.reply = nil
		return erased
	})
}

// rewriteRecords changes the stored records of a case.
func (g *group) rewriteRecords(id CaseID, change func(*record) bool) error {
	for i, b := range readRecords(g.tx, id).records {
		r, err := decodeRecord(b)
		if err != nil {
			return unavailable(fmt.Sprintf("read case %d", id), err)
		}
		if !change(&r) {
			continue
		}
		if b, err = encodeRecord(r); err != nil {
			return fmt.Errorf("case %d: %w", id, err)
		}
		if err := g.put(bucketRecords, pair64(uint64(id), uint64(i+1)), b); err != nil {
			return err
		}
	}
	return nil
}
