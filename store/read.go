package store

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"

	"go.etcd.io/bbolt"
)

// scanStep is how many rows one transaction of a list looks at; a list of few
// among very many goes on in another, so that the writer gets its turn.
const scanStep = 50_000

// rawCase is a case as it is stored, copied out of the transaction so that
// decoding happens outside.
type rawCase struct {
	id      CaseID
	records [][]byte
	size    int
}

func (r rawCase) fold() (Case, error) {
	c, err := decodeRecords(r.records)
	if err != nil {
		return Case{}, unavailable(fmt.Sprintf("read case %d", r.id), err)
	}
	c.ID, c.Version = r.id, uint64(len(r.records))
	return c, nil
}

// readRecords copies the records of a case.
func readRecords(tx *bbolt.Tx, id CaseID) rawCase {
	r := rawCase{id: id}
	prefix := key64(uint64(id))
	cursor := tx.Bucket(bucketRecords).Cursor()
	for k, v := cursor.Seek(prefix); bytes.HasPrefix(k, prefix); k, v = cursor.Next() {
		r.records = append(r.records, bytes.Clone(v))
		r.size += len(v)
	}
	return r
}

// loadCase reads and folds a case within a transaction.
func loadCase(tx *bbolt.Tx, id CaseID) (Case, error) {
	return readRecords(tx, id).fold()
}

// Case implements Store.
func (b *Bolt) Case(ctx context.Context, id CaseID) (Case, error) {
	var raw rawCase
	err := b.view(ctx, func(tx *bbolt.Tx) error {
		raw = readRecords(tx, id)
		return nil
	})
	switch {
	case err != nil:
		return Case{}, err
	case len(raw.records) == 0:
		return Case{}, noCase(id)
	}
	return raw.fold()
}

// listing is one list on its way through the rows.
type listing struct {
	Query
	size int // cases wanted

	from    CaseID // the last case looked at
	started bool   // from counts
	site    uint32
	ended   bool
	full    bool

	found []Case
	bytes int // read for the page so far
}

// Cases implements Store. A page may be shorter than the limit when its cases
// are long; only an empty Next ends the list.
func (b *Bolt) Cases(ctx context.Context, q Query, after Cursor) (Page, error) {
	from, started, err := after.position()
	if err != nil {
		return Page{}, err
	}
	l := &listing{Query: q, size: pageSize(q.Limit), from: from, started: started}
	for !l.ended && !l.full {
		if err := b.listMore(ctx, l); err != nil {
			return Page{}, err
		}
	}
	page := Page{Cases: l.found}
	if l.full {
		page.Next = cursorAt(l.found[len(l.found)-1].ID)
	}
	return page, nil
}

// listMore reads the next candidates in one transaction, and decodes them
// after it.
func (b *Bolt) listMore(ctx context.Context, l *listing) error {
	var raw []rawCase
	err := b.view(ctx, func(tx *bbolt.Tx) (err error) {
		raw, err = l.scan(tx)
		return err
	})
	if err != nil {
		return err
	}
	for _, r := range raw {
		c, err := r.fold()
		if err != nil {
			return err
		}
		if !l.selects(c) {
			continue // a row is coarser than a case
		}
		if len(l.found) == l.size || (l.bytes > 0 && l.bytes+r.size > maxRead) {
			l.full = true
			return nil
		}
		l.found = append(l.found, c)
		l.bytes += r.size
	}
	return nil
}

// scan collects the cases whose rows may be on the list: one more than is
// wanted, to know whether the list goes on.
func (l *listing) scan(tx *bbolt.Tx) (raw []rawCase, err error) {
	var known bool
	if l.site, known = findNumber(tx, nameSite, string(l.Site)); !known {
		l.ended = true
		return nil, nil
	}
	want, size := l.size+1-len(l.found), 0
	cursor := tx.Bucket(bucketRows).Cursor()
	k, v := l.first(cursor)
	for looked := 0; k != nil; k, v = l.next(cursor) {
		if len(k) != 8 {
			return nil, unavailable("list", errRecord)
		}
		if len(raw) == want || size > maxRead || looked == scanStep {
			return raw, nil
		}
		looked++
		l.from, l.started = CaseID(binary.BigEndian.Uint64(k)), true
		r, err := decodeRow(v)
		if err != nil {
			return nil, unavailable(fmt.Sprintf("read the row of case %d", l.from), err)
		}
		if l.mayBe(r) {
			c := readRecords(tx, l.from)
			raw, size = append(raw, c), size+c.size
		}
	}
	l.ended = true
	return raw, nil
}

// mayBe tells whether a row can stand for a case on the list.
func (l *listing) mayBe(r row) bool {
	return (l.State == "" || l.State == r.state()) &&
		(l.Site == "" || l.site == r.site) &&
		(l.Since.IsZero() || r.opened >= rowSeconds(l.Since)) &&
		(l.Before.IsZero() || r.opened <= rowSeconds(l.Before))
}

// first finds the first row after the cursor's position.
func (l *listing) first(cursor *bbolt.Cursor) (k, v []byte) {
	switch {
	case !l.started && l.Newest:
		return cursor.Last()
	case !l.started:
		return cursor.First()
	}
	at := key64(uint64(l.from))
	k, v = cursor.Seek(at)
	switch {
	case l.Newest && k == nil:
		k, v = cursor.Last()
		if bytes.Compare(k, at) < 0 {
			return k, v
		}
		return cursor.Prev()
	case l.Newest:
		return cursor.Prev() // Seek stops at the row itself or behind it
	case bytes.Equal(k, at):
		return cursor.Next()
	}
	return k, v
}

func (l *listing) next(cursor *bbolt.Cursor) (k, v []byte) {
	if l.Newest {
		return cursor.Prev()
	}
	return cursor.Next()
}

// Conversation implements Store.
func (b *Bolt) Conversation(ctx context.Context, conversation string) (id CaseID, err error) {
	err = b.view(ctx, func(tx *bbolt.Tx) error {
		v := tx.Bucket(bucketConversations).Get([]byte(conversation))
		if conversation == "" || len(v) != 8 {
			return fmt.Errorf("conversation %q: %w", conversation, ErrNotFound)
		}
		id = CaseID(binary.BigEndian.Uint64(v))
		return nil
	})
	return id, err
}

// LastOpen implements Store.
func (b *Bolt) LastOpen(ctx context.Context, actor string) (id CaseID, err error) {
	err = b.view(ctx, func(tx *bbolt.Tx) error {
		// The newest is the last key with the actor's prefix: the one before
		// the first key that sorts behind them all.
		prefix := joined(actor, "")
		cursor := tx.Bucket(bucketOpen).Cursor()
		k, _ := cursor.Seek(append(joined(actor, ""), bytes.Repeat([]byte{0xff}, 9)...))
		if k == nil {
			k, _ = cursor.Last()
		} else {
			k, _ = cursor.Prev()
		}
		if actor == "" || !bytes.HasPrefix(k, prefix) || len(k) != len(prefix)+8 {
			return fmt.Errorf("open case of %q: %w", actor, ErrNotFound)
		}
		id = CaseID(binary.BigEndian.Uint64(k[len(prefix):]))
		return nil
	})
	return id, err
}

// Site implements Store.
func (b *Bolt) Site(ctx context.Context, ref SiteRef) (Site, []Device, error) {
	var raw []byte
	var devices [][]byte
	err := b.view(ctx, func(tx *bbolt.Tx) error {
		if ref == "" {
			return noSite(ref)
		}
		if raw = bytes.Clone(tx.Bucket(bucketSites).Get([]byte(ref))); raw == nil {
			return noSite(ref)
		}
		prefix := joined(string(ref), "")
		cursor := tx.Bucket(bucketDevices).Cursor()
		for k, v := cursor.Seek(prefix); bytes.HasPrefix(k, prefix); k, v = cursor.Next() {
			devices = append(devices, bytes.Clone(v))
		}
		return nil
	})
	if err != nil {
		return Site{}, nil, err
	}
	return decodeSite(raw, devices)
}

// Sites implements Store.
func (b *Bolt) Sites(ctx context.Context, after SiteRef, limit int) ([]Site, error) {
	var sites []Site
	err := b.view(ctx, func(tx *bbolt.Tx) error {
		cursor := tx.Bucket(bucketSites).Cursor()
		k, v := cursor.Seek([]byte(after))
		if bytes.Equal(k, []byte(after)) {
			k, v = cursor.Next()
		}
		for ; k != nil && len(sites) < pageSize(limit); k, v = cursor.Next() {
			site, _, err := decodeSite(v, nil)
			if err != nil {
				return unavailable("read the register", err)
			}
			sites = append(sites, site)
		}
		return nil
	})
	return sites, err
}
