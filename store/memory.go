package store

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
)

// Memory is a Store that forgets everything with the process, for tests. It
// keeps the plainest structures that do, and computes each answer from the
// cases themselves: the other implementations' indexes are checked against it.
type Memory struct {
	mu         sync.Mutex
	closed     bool
	cases      [][]record // case n is at n-1
	deliveries map[string]Receipt
	replies    map[string][]byte // of deliveries that belong to no case
	sites      map[SiteRef][]byte
	devices    map[SiteRef]map[string][]byte
	outbox     map[uint64]*waiting
	lastOut    uint64
}

var _ Store = (*Memory)(nil)

// NewMemory returns an empty store.
func NewMemory() *Memory {
	return &Memory{
		deliveries: map[string]Receipt{},
		replies:    map[string][]byte{},
		sites:      map[SiteRef][]byte{},
		devices:    map[SiteRef]map[string][]byte{},
		outbox:     map[uint64]*waiting{},
	}
}

// enter locks the store and returns what leaves it again.
func (m *Memory) enter(ctx context.Context) (leave func(), err error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	m.mu.Lock()
	if m.closed {
		m.mu.Unlock()
		return nil, unavailable("use the store", errClosed)
	}
	return m.mu.Unlock, nil
}

var errClosed = errors.New("it was closed")

// Apply implements Store.
func (m *Memory) Apply(ctx context.Context, c Change) (Receipt, error) {
	p, err := prepare(c)
	if err != nil {
		return Receipt{}, err
	}
	leave, err := m.enter(ctx)
	if err != nil {
		return Receipt{}, err
	}
	defer leave()
	if r, ok := m.repeated(c.Delivery); ok {
		return r, nil
	}
	if err := m.expect(c); err != nil {
		return Receipt{}, err
	}
	stored, err := decodeRecord(p.record) // a copy that shares nothing with the caller
	if err != nil {
		return Receipt{}, err
	}
	r := m.add(c, stored)
	err = m.register(p, &r)
	return r, err
}

func (m *Memory) repeated(delivery string) (Receipt, bool) {
	r, ok := m.deliveries[delivery]
	if !ok || delivery == "" {
		return Receipt{}, false
	}
	r.Repeated = true
	r.Reply = slices.Clone(m.replies[delivery])
	if r.Case != 0 {
		r.Reply = slices.Clone(m.cases[r.Case-1][r.Version-1].reply)
	}
	return r, true
}

func (m *Memory) expect(c Change) error {
	switch {
	case c.Case == 0:
		return nil
	case uint64(c.Case) > uint64(len(m.cases)):
		return noCase(c.Case)
	case uint64(len(m.cases[c.Case-1])) != c.Expected:
		return conflict(c.Case, c.Expected, uint64(len(m.cases[c.Case-1])))
	}
	return nil
}

func (m *Memory) add(c Change, stored record) Receipt {
	var r Receipt
	switch {
	case c.Case != 0:
		r.Case = c.Case
	case len(c.Events) > 0:
		m.cases = append(m.cases, nil)
		r.Case = CaseID(len(m.cases))
	}
	if r.Case != 0 {
		records := &m.cases[r.Case-1]
		for _, id := range deletions(stored.events) {
			for i := range *records {
				eraseText((*records)[i].events, id)
			}
		}
		stored.events = withoutDeletedText(stored.events)
		*records = append(*records, stored)
		r.Version = uint64(len(*records))
	} else if c.Delivery != "" {
		m.replies[c.Delivery] = stored.reply
	}
	if c.Delivery != "" {
		m.deliveries[c.Delivery] = r
	}
	return r
}

func (m *Memory) register(p prepared, r *Receipt) error {
	for i, s := range p.Sites {
		m.sites[s.Ref] = p.sites[i]
	}
	for i, d := range p.Devices {
		if m.devices[d.Site] == nil {
			m.devices[d.Site] = map[string][]byte{}
		}
		m.devices[d.Site][d.Subject] = p.device[i]
	}
	for i, o := range p.Outbox {
		body, err := p.outgoing(i, *r)
		if err != nil {
			return err // unreachable: it was encoded before
		}
		r.Outbox = append(r.Outbox, m.send(o, body))
	}
	return nil
}

func noCase(id CaseID) error { return fmt.Errorf("case %d: %w", id, ErrNotFound) }

func conflict(id CaseID, expected, is uint64) error {
	return fmt.Errorf("case %d is at version %d, not %d: %w", id, is, expected, ErrConflict)
}

// fold returns the present state of a case.
func (m *Memory) fold(id CaseID) Case {
	var events []Event
	for _, r := range m.cases[id-1] {
		events = append(events, r.events...)
	}
	c := Fold(cloneEvents(events))
	c.ID, c.Version = id, uint64(len(m.cases[id-1]))
	return c
}

// cloneEvents copies events, so that a caller may do with them as it likes.
func cloneEvents(events []Event) []Event {
	b, err := json.Marshal(events)
	if err != nil {
		return nil // unreachable: the events were decoded from JSON
	}
	var clone []Event
	_ = json.Unmarshal(b, &clone)
	return clone
}

// Case implements Store.
func (m *Memory) Case(ctx context.Context, id CaseID) (Case, error) {
	leave, err := m.enter(ctx)
	if err != nil {
		return Case{}, err
	}
	defer leave()
	if id == 0 || uint64(id) > uint64(len(m.cases)) {
		return Case{}, noCase(id)
	}
	return m.fold(id), nil
}

// Cases implements Store.
func (m *Memory) Cases(ctx context.Context, q Query, after Cursor) (Page, error) {
	from, started, err := after.position()
	if err != nil {
		return Page{}, err
	}
	leave, err := m.enter(ctx)
	if err != nil {
		return Page{}, err
	}
	defer leave()
	var page Page
	for n := range m.cases {
		id := CaseID(n + 1)
		if q.Newest {
			id = CaseID(len(m.cases) - n)
		}
		if started && (id == from || q.Newest == (id > from)) {
			continue
		}
		c := m.fold(id)
		if !q.selects(c) {
			continue
		}
		if len(page.Cases) == pageSize(q.Limit) {
			page.Next = cursorAt(page.Cases[len(page.Cases)-1].ID)
			break
		}
		page.Cases = append(page.Cases, c)
	}
	return page, nil
}

// Conversation implements Store.
func (m *Memory) Conversation(ctx context.Context, conversation string) (CaseID, error) {
	return m.newest(ctx, fmt.Sprintf("conversation %q", conversation), func(c Case) bool {
		return conversation != "" && c.Conversation == conversation
	})
}

// LastOpen implements Store.
func (m *Memory) LastOpen(ctx context.Context, actor string) (CaseID, error) {
	return m.newest(ctx, fmt.Sprintf("open case of %q", actor), func(c Case) bool {
		return c.State == Open && slices.Contains(c.Actors, actor)
	})
}

func (m *Memory) newest(ctx context.Context, what string, found func(Case) bool) (CaseID, error) {
	leave, err := m.enter(ctx)
	if err != nil {
		return 0, err
	}
	defer leave()
	for n := len(m.cases); n > 0; n-- {
		if found(m.fold(CaseID(n))) {
			return CaseID(n), nil
		}
	}
	return 0, fmt.Errorf("%s: %w", what, ErrNotFound)
}

// Site implements Store.
func (m *Memory) Site(ctx context.Context, ref SiteRef) (Site, []Device, error) {
	leave, err := m.enter(ctx)
	if err != nil {
		return Site{}, nil, err
	}
	defer leave()
	b, ok := m.sites[ref]
	if !ok {
		return Site{}, nil, noSite(ref)
	}
	var raw [][]byte
	for _, d := range m.devices[ref] {
		raw = append(raw, d)
	}
	site, devices, err := decodeSite(b, raw)
	slices.SortFunc(devices, func(a, b Device) int { return strings.Compare(a.Subject, b.Subject) })
	return site, devices, err
}

func noSite(ref SiteRef) error { return fmt.Errorf("site %q: %w", ref, ErrNotFound) }

// Sites implements Store.
func (m *Memory) Sites(ctx context.Context, after SiteRef, limit int) ([]Site, error) {
	leave, err := m.enter(ctx)
	if err != nil {
		return nil, err
	}
	defer leave()
	var refs []SiteRef
	for ref := range m.sites {
		if ref > after {
			refs = append(refs, ref)
		}
	}
	slices.Sort(refs)
	var sites []Site
	for _, ref := range refs[:min(len(refs), pageSize(limit))] {
		site, _, err := decodeSite(m.sites[ref], nil)
		if err != nil {
			return nil, err
		}
		sites = append(sites, site)
	}
	return sites, nil
}

// decodeSite decodes a site and devices as they are stored.
func decodeSite(b []byte, raw [][]byte) (Site, []Device, error) {
	var site Site
	if err := json.Unmarshal(b, &site); err != nil {
		return Site{}, nil, fmt.Errorf("decode site: %w", err)
	}
	var devices []Device
	for _, b := range raw {
		var d Device
		if err := json.Unmarshal(b, &d); err != nil {
			return Site{}, nil, fmt.Errorf("decode device of %q: %w", site.Ref, err)
		}
		devices = append(devices, d)
	}
	return site, devices, nil
}

// Weeks implements Store.
func (m *Memory) Weeks(ctx context.Context, from, to string) ([]WeekCount, error) {
	leave, err := m.enter(ctx)
	if err != nil {
		return nil, err
	}
	defer leave()
	type key struct{ week, cause, symptom string }
	sums := map[key]WeekCount{}
	for n := range m.cases {
		s := summarise(m.fold(CaseID(n + 1)))
		k := key{weekOf(s.closed), s.cause, s.symptom}
		if s.state != Closed || k.week < from || (to != "" && k.week > to) {
			continue
		}
		w := sums[k]
		sums[k] = WeekCount{k.week, k.cause, k.symptom, w.Cases + 1, w.Minutes + int(s.minutes)}
	}
	var counts []WeekCount
	for _, w := range sums {
		counts = append(counts, w)
	}
	sortWeeks(counts)
	return counts, nil
}

// sortWeeks puts counters in order of week, cause and symptom.
func sortWeeks(counts []WeekCount) {
	slices.SortFunc(counts, func(a, b WeekCount) int {
		if c := strings.Compare(a.Week, b.Week); c != 0 {
			return c
		}
		if c := strings.Compare(a.Cause, b.Cause); c != 0 {
			return c
		}
		return strings.Compare(a.Symptom, b.Symptom)
	})
}

// EraseText implements Store.
func (m *Memory) EraseText(ctx context.Context, id CaseID) error {
	leave, err := m.enter(ctx)
	if err != nil {
		return err
	}
	defer leave()
	if id == 0 || uint64(id) > uint64(len(m.cases)) {
		return noCase(id)
	}
	for i := range m.cases[id-1] {
		r := &m.cases[id-1][i]
		eraseAllText(r.events)
		r.reply = nil
	}
	return nil
}

// Close implements Store. It succeeds however often it is called.
func (m *Memory) Close() error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.closed = true
	return nil
}
