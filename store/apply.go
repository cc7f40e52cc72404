package store

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"

	"go.etcd.io/bbolt"
)

// applying is a change on its way into the file.
type applying struct {
	prepared
	receipt Receipt
}

// Apply implements Store.
func (b *Bolt) Apply(ctx context.Context, c Change) (Receipt, error) {
	p, err := prepare(c)
	if err != nil {
		return Receipt{}, err
	}
	a := &applying{prepared: p}
	if err := b.do(ctx, a); err != nil {
		return Receipt{}, err
	}
	return a.receipt, nil
}

// check finds out whether the delivery was applied before, holds the expected
// version against the file and what the group has planned, and gives out the
// number of a new case.
func (a *applying) check(g *group) error {
	a.receipt = Receipt{}
	if a.Delivery != "" {
		first, ok, err := g.findDelivery(a.Delivery)
		if err != nil {
			return err
		}
		if ok {
			a.receipt = first
			return nil
		}
	}
	switch {
	case a.Case != 0:
		version, err := g.version(a.Case)
		if err != nil {
			return err
		}
		if version != a.Expected {
			return conflict(a.Case, a.Expected, version)
		}
		a.receipt = Receipt{Case: a.Case, Version: version + 1}
	case len(a.Events) > 0:
		g.lastCase++
		a.receipt = Receipt{Case: CaseID(g.lastCase), Version: 1}
	}
	if a.receipt.Case != 0 {
		g.versions[a.receipt.Case] = a.receipt.Version
	}
	if a.Delivery != "" {
		planned := a.receipt
		planned.Reply = a.Reply
		g.deliveries[a.Delivery] = planned
	}
	return nil
}

// findDelivery returns the receipt of a delivery that was applied before, or
// that the group is about to apply.
func (g *group) findDelivery(delivery string) (Receipt, bool, error) {
	if r, ok := g.deliveries[delivery]; ok {
		r.Repeated, r.Reply = true, bytes.Clone(r.Reply)
		return r, true, nil
	}
	b := g.tx.Bucket(bucketDeliveries).Get(deliveryKey(delivery))
	if b == nil {
		return Receipt{}, false, nil
	}
	r, err := decodeDelivery(b)
	if err != nil {
		return Receipt{}, false, err
	}
	r.Repeated = true
	if r.Case == 0 {
		return r, true, nil
	}
	first, err := decodeRecord(g.tx.Bucket(bucketRecords).Get(pair64(uint64(r.Case), r.Version)))
	if err != nil {
		return Receipt{}, false, unavailable("read the first reply", err)
	}
	r.Reply = first.reply
	return r, true, nil
}

// encodeDelivery writes where a delivery went: case and version, and the
// reply where there is no case whose record has it.
func encodeDelivery(r Receipt, reply []byte) []byte {
	b := binary.AppendUvarint(nil, uint64(r.Case))
	b = binary.AppendUvarint(b, r.Version)
	if r.Case == 0 {
		b = append(b, reply...)
	}
	return b
}

func decodeDelivery(b []byte) (Receipt, error) {
	id, n := binary.Uvarint(b)
	version, m := binary.Uvarint(b[max(n, 0):])
	if n <= 0 || m <= 0 {
		return Receipt{}, unavailable("read a delivery", errRecord)
	}
	r := Receipt{Case: CaseID(id), Version: version}
	if rest := b[n+m:]; id == 0 && len(rest) > 0 {
		r.Reply = bytes.Clone(rest)
	}
	return r, nil
}

// version returns the version of a case after what the group has planned.
func (g *group) version(id CaseID) (uint64, error) {
	if v, ok := g.versions[id]; ok {
		return v, nil
	}
	r, err := readRow(g.tx, id)
	return uint64(r.version), err
}

// readRow returns the row of a case; ErrNotFound if there is none.
func readRow(tx *bbolt.Tx, id CaseID) (row, error) {
	b := tx.Bucket(bucketRows).Get(key64(uint64(id)))
	if b == nil {
		return row{}, noCase(id)
	}
	r, err := decodeRow(b)
	if err != nil {
		return row{}, unavailable(fmt.Sprintf("read the row of case %d", id), err)
	}
	return r, nil
}

func (a *applying) write(g *group) error {
	if a.receipt.Repeated {
		return nil
	}
	if a.receipt.Case != 0 {
		if err := a.writeCase(g); err != nil {
			return fmt.Errorf("case %d: %w", a.receipt.Case, err)
		}
	}
	if a.Delivery != "" {
		entry := encodeDelivery(a.receipt, a.Reply)
		if err := g.put(bucketDeliveries, deliveryKey(a.Delivery), entry); err != nil {
			return err
		}
	}
	if err := a.writeRegister(g); err != nil {
		return err
	}
	a.receipt.Outbox = nil
	for i, o := range a.Outbox {
		body, err := a.outgoing(i, a.receipt)
		if err != nil {
			return err
		}
		id, err := g.send(o, body)
		if err != nil {
			return err
		}
		a.receipt.Outbox = append(a.receipt.Outbox, id)
	}
	return nil
}

// writeCase puts the record in place and moves what is derived from it.
func (a *applying) writeCase(g *group) error {
	id, stored := a.receipt.Case, a.record
	if deleted := deletions(a.Events); len(deleted) > 0 {
		var err error
		if stored, err = a.withoutDeleted(g, deleted); err != nil {
			return err
		}
	}
	if err := g.put(bucketRecords, pair64(uint64(id), a.receipt.Version), stored); err != nil {
		return err
	}
	if a.Case == 0 {
		return a.openCase(g)
	}
	return a.moveCase(g)
}

// withoutDeleted drops the text of deleted messages from the case's earlier
// records, and returns this change's record without it.
func (a *applying) withoutDeleted(g *group, deleted []string) ([]byte, error) {
	for _, message := range deleted {
		err := g.rewriteRecords(a.receipt.Case, func(r *record) bool {
			return eraseText(r.events, message)
		})
		if err != nil {
			return nil, err
		}
	}
	return encodeRecord(record{a.Delivery, a.Reply, withoutDeletedText(a.Events)})
}

// openCase writes the derived entries of a new case.
func (a *applying) openCase(g *group) error {
	id := a.receipt.Case
	if err := g.tx.Bucket(bucketRows).SetSequence(uint64(id)); err != nil {
		return fmt.Errorf("give out the number: %w", err)
	}
	c := Fold(a.Events)
	c.ID, c.Version = id, a.receipt.Version
	if c.Conversation != "" {
		if err := g.put(bucketConversations, []byte(c.Conversation), key64(uint64(id))); err != nil {
			return err
		}
	}
	return g.putCase(id, nil, c)
}

// moveCase moves the derived entries of a case on over this change.
func (a *applying) moveCase(g *group) error {
	id := a.receipt.Case
	old, err := readRow(g.tx, id)
	if err != nil {
		return err
	}
	s, err := unpack(g.tx, old)
	if err != nil {
		return unavailable("read the row", err)
	}
	moved, ok := s.after(a.Events)
	if !ok {
		c, err := loadCase(g.tx, id)
		if err != nil {
			return err
		}
		c.Version = a.receipt.Version
		return g.putCase(id, &old, c)
	}
	if moved.state == Open {
		if err := g.putActors(id, a.Events); err != nil {
			return err
		}
	}
	return g.putSummary(id, &old, moved)
}

// putCase writes the row of a folded case and keeps the actors' open cases
// in step with its state.
func (g *group) putCase(id CaseID, old *row, c Case) error {
	for _, actor := range c.Actors {
		err := g.putActor(actor, id, c.State == Open)
		if err != nil {
			return err
		}
	}
	return g.putSummary(id, old, summarise(c))
}

func (g *group) putActors(id CaseID, events []Event) error {
	for i := range events {
		if wrote(&events[i]) {
			if err := g.putActor(events[i].Actor, id, true); err != nil {
				return err
			}
		}
	}
	return nil
}

// putActor enters a case among an actor's open ones, or takes it out.
func (g *group) putActor(actor string, id CaseID, open bool) error {
	k := openKey(actor, id)
	switch is := g.tx.Bucket(bucketOpen).Get(k) != nil; {
	case open && !is:
		return g.put(bucketOpen, k, []byte{})
	case !open && is:
		return g.drop(bucketOpen, k)
	}
	return nil
}

// putSummary writes a case's row and moves the weekly counters by the
// difference to the row before.
func (g *group) putSummary(id CaseID, old *row, s summary) error {
	r, err := g.names.pack(s)
	if err != nil {
		return err
	}
	if err := g.put(bucketRows, key64(uint64(id)), r.encode()); err != nil {
		return err
	}
	return g.moveCounters(old, &r)
}

func (a *applying) writeRegister(g *group) error {
	for i, s := range a.Sites {
		if err := g.put(bucketSites, []byte(s.Ref), a.sites[i]); err != nil {
			return err
		}
	}
	for i, d := range a.Devices {
		if err := g.put(bucketDevices, joined(string(d.Site), d.Subject), a.device[i]); err != nil {
			return err
		}
	}
	return nil
}
