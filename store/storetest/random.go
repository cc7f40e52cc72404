package storetest

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"testing"
	"time"

	gocmp "github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"ferrule/store"
)

// model is what a store should hold, kept in the most obvious way.
type model struct {
	cases      [][]store.Event
	versions   []uint64
	deliveries map[string]store.Receipt
	outbox     []outgoing
	sites      map[store.SiteRef]store.Site
	bodies     int    // outgoing messages so far; each has its own body
	entries    uint64 // of the outbox so far
}

type outgoing struct {
	store.Outgoing
	next     time.Time // when it is handed out next
	attempts int
}

// random is one run of random operations.
type random struct {
	*rapid.T
	s store.Store
	m *model
}

// testRandom applies random operations to a store and to the model, and
// compares them after each. rapid prints the seed and the shortest failing
// run.
func testRandom(t *testing.T, h *harness) {
	spare := h.Store
	rapid.Check(t, func(rt *rapid.T) {
		s := spare
		if spare = nil; s == nil {
			s = h.open(t)
		}
		r := &random{T: rt, s: s, m: &model{deliveries: map[string]store.Receipt{}, sites: map[store.SiteRef]store.Site{}}}
		actions := map[string]func(*rapid.T){
			"open":    r.step((*random).openCase),
			"go on":   r.step((*random).goOn),
			"stale":   r.step((*random).stale),
			"repeat":  r.step((*random).repeat),
			"erase":   r.step((*random).erase),
			"lease":   r.step((*random).lease),
			"sent":    r.step((*random).sent),
			"look":    r.step((*random).look),
			"listing": r.step((*random).lists),
		}
		if h.reopen != nil {
			actions["reopen"] = r.step(func(r *random) { r.s = h.reopen(t, r.s) })
		}
		rt.Repeat(actions)
		r.T = rt
		r.look()
		r.lists()
		if err := r.s.Close(); err != nil {
			rt.Fatal(err)
		}
	})
}

func (r *random) step(do func(*random)) func(*rapid.T) {
	return func(t *rapid.T) {
		r.T = t
		do(r)
	}
}

// change draws what a change brings besides its case.
func (r *random) change() store.Change {
	c := store.Change{Reply: []byte(rapid.SampledFrom([]string{"", "reply", "another"}).Draw(r.T, "reply"))}
	if rapid.Bool().Draw(r.T, "has delivery") {
		c.Delivery = fmt.Sprintf("chat:room %d:%d", rapid.IntRange(1, 2).Draw(r.T, "room"), len(r.m.deliveries))
	}
	for range rapid.IntRange(0, 2).Draw(r.T, "outgoing") {
		r.m.bodies++
		c.Outbox = append(c.Outbox, store.Outgoing{
			Key: rapid.SampledFrom([]string{"", "k", "l"}).Draw(r.T, "key"), Body: fmt.Append(nil, "body ", r.m.bodies),
			Due: at(rapid.IntRange(0, 60).Draw(r.T, "due")),
		})
		if rapid.Bool().Draw(r.T, "is held") {
			c.Outbox[len(c.Outbox)-1].Held = at(rapid.IntRange(1, 60).Draw(r.T, "held"))
		}
	}
	if rapid.IntRange(0, 5).Draw(r.T, "site") == 0 {
		c.Sites = []store.Site{{Ref: Site().Draw(r.T, "ref"), Grade: rapid.IntRange(1, 4).Draw(r.T, "grade")}}
	}
	return c
}

func (r *random) openCase() {
	c := r.change()
	c.Events = append([]store.Event{Opening().Draw(r.T, "opening")}, Events().Draw(r.T, "events")...)
	r.apply(c)
}

func (r *random) someCase() store.CaseID {
	if len(r.m.cases) == 0 {
		r.Skip("no case")
	}
	return store.CaseID(rapid.IntRange(1, len(r.m.cases)).Draw(r.T, "case"))
}

func (r *random) goOn() {
	id := r.someCase()
	c := r.change()
	c.Case, c.Expected = id, r.m.versions[id-1]
	c.Events = Events().Draw(r.T, "events")
	r.apply(c)
}

// apply applies a change that must succeed, to both.
func (r *random) apply(c store.Change) {
	got, err := r.s.Apply(context.Background(), c)
	if err != nil {
		r.Fatalf("apply: %v", err)
	}
	want := r.m.apply(c)
	if diff := gocmp.Diff(want, got, cmpopts.EquateEmpty()); diff != "" {
		r.Fatalf("receipt (-want +got):\n%s", diff)
	}
}

func (m *model) apply(c store.Change) store.Receipt {
	if c.Case == 0 {
		m.cases, m.versions = append(m.cases, nil), append(m.versions, 0)
		c.Case = store.CaseID(len(m.cases))
	}
	// What a deletion takes out of earlier events is gone for good, which
	// the fold of all events shows all the same.
	m.cases[c.Case-1] = append(m.cases[c.Case-1], c.Events...)
	m.versions[c.Case-1]++
	r := store.Receipt{Case: c.Case, Version: m.versions[c.Case-1]}
	if c.Delivery != "" {
		first := r
		first.Repeated, first.Reply = true, c.Reply
		m.deliveries[c.Delivery] = first
	}
	for _, o := range c.Outbox {
		m.outbox = slices.DeleteFunc(m.outbox, func(old outgoing) bool { return o.Key != "" && old.Key == o.Key })
		entry := outgoing{Outgoing: o, next: o.Due}
		if !o.Held.IsZero() {
			entry.next, entry.attempts = o.Held, 1
		}
		m.outbox = append(m.outbox, entry)
		m.entries++
		r.Outbox = append(r.Outbox, m.entries)
	}
	for _, s := range c.Sites {
		m.sites[s.Ref] = s
	}
	return r
}

func (r *random) stale() {
	id := r.someCase()
	c := r.change()
	c.Case, c.Events = id, Events().Draw(r.T, "events")
	c.Expected = r.m.versions[id-1] + rapid.SampledFrom([]uint64{1, 7, ^uint64(0)}).Draw(r.T, "off by")
	if _, err := r.s.Apply(context.Background(), c); !errors.Is(err, store.ErrConflict) {
		r.Fatalf("stale change: %v", err)
	}
}

func (r *random) repeat() {
	if len(r.m.deliveries) == 0 {
		r.Skip("no delivery")
	}
	var keys []string
	for k := range r.m.deliveries {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	c := r.change()
	c.Delivery = rapid.SampledFrom(keys).Draw(r.T, "delivery")
	c.Events = append([]store.Event{Opening().Draw(r.T, "opening")}, Events().Draw(r.T, "events")...)
	got, err := r.s.Apply(context.Background(), c)
	if err != nil {
		r.Fatalf("repeat: %v", err)
	}
	if diff := gocmp.Diff(r.m.deliveries[c.Delivery], got, cmpopts.EquateEmpty()); diff != "" {
		r.Fatalf("repeated receipt (-want +got):\n%s", diff)
	}
}

func (r *random) erase() {
	id := r.someCase()
	if err := r.s.EraseText(context.Background(), id); err != nil {
		r.Fatalf("erase: %v", err)
	}
	for i, e := range r.m.cases[id-1] {
		if e.Message != nil {
			m := *e.Message
			m.Text = ""
			r.m.cases[id-1][i].Message = &m
		}
		if e.Reading != nil {
			v := *e.Reading
			v.Words = ""
			r.m.cases[id-1][i].Reading = &v
		}
	}
	for k, d := range r.m.deliveries {
		if d.Case == id {
			d.Reply = nil
			r.m.deliveries[k] = d
		}
	}
}

func (r *random) lease() {
	now := at(rapid.IntRange(0, 90).Draw(r.T, "now"))
	length := time.Duration(rapid.IntRange(0, 20).Draw(r.T, "lease")) * time.Minute
	n := rapid.IntRange(0, 3).Draw(r.T, "n")
	got, err := r.s.Lease(context.Background(), now, length, n)
	if err != nil {
		r.Fatalf("lease: %v", err)
	}
	// Entries stand in order of their numbers, and the sort is stable.
	var due []*outgoing
	for i := range r.m.outbox {
		if !r.m.outbox[i].next.After(now) {
			due = append(due, &r.m.outbox[i])
		}
	}
	slices.SortStableFunc(due, func(a, b *outgoing) int { return a.next.Compare(b.next) })
	due = due[:min(n, len(due))]
	var want, have []string
	for _, o := range due {
		o.next = now.Add(length)
		o.attempts++
		want = append(want, fmt.Sprintf("%s %d", o.Body, o.attempts))
	}
	for _, l := range got {
		have = append(have, fmt.Sprintf("%s %d", l.Body, l.Attempts))
	}
	if diff := gocmp.Diff(want, have); diff != "" {
		r.Fatalf("leased at %v for %v, %d (-want +got):\n%s", now, length, n, diff)
	}
	for _, l := range got {
		r.settle(l, now)
	}
}

// settle sends what was leased, gives it back, or forgets about it.
func (r *random) settle(l store.Leased, now time.Time) {
	i := slices.IndexFunc(r.m.outbox, func(o outgoing) bool { return bytes.Equal(o.Body, l.Body) })
	switch rapid.IntRange(0, 3).Draw(r.T, "then") {
	case 0:
		if err := r.s.Sent(context.Background(), l.ID); err != nil {
			r.Fatalf("sent: %v", err)
		}
		r.m.outbox = slices.Delete(r.m.outbox, i, i+1)
	case 1:
		due := now.Add(time.Minute)
		if err := r.s.Retry(context.Background(), l.ID, due); err != nil {
			r.Fatalf("retry: %v", err)
		}
		r.m.outbox[i].next, r.m.outbox[i].Due = due, due
	}
}

// sent confirms an entry that may or may not be there any more; nothing that
// waits has a number as high as this.
func (r *random) sent() {
	if err := r.s.Sent(context.Background(), 1<<40); err != nil {
		r.Fatalf("sent: %v", err)
	}
}

// look compares one case, or all when there are few.
func (r *random) look() {
	for i := range r.m.cases {
		got, err := r.s.Case(context.Background(), store.CaseID(i+1))
		if err != nil {
			r.Fatalf("case %d: %v", i+1, err)
		}
		if diff := gocmp.Diff(r.m.fold(i), got, cmpopts.EquateEmpty()); diff != "" {
			r.Fatalf("case %d (-want +got):\n%s", i+1, diff)
		}
	}
}

func (m *model) fold(i int) store.Case {
	c := store.Fold(m.cases[i])
	c.ID, c.Version = store.CaseID(i+1), m.versions[i]
	return c
}

// lists compares every answer that is about several cases.
func (r *random) lists() {
	ctx := context.Background()
	q := Query().Draw(r.T, "query")
	var want, got []store.CaseID
	weeks := map[store.WeekCount]store.WeekCount{}
	lastOpen := map[string]store.CaseID{}
	newest := map[string]store.CaseID{}
	for i := range r.m.cases {
		c := r.m.fold(i)
		if selects(q, c) {
			want = append(want, c.ID)
		}
		newest[c.Conversation] = c.ID
		if c.State == store.Open {
			for _, actor := range c.Actors {
				lastOpen[actor] = c.ID
			}
			continue
		}
		year, week := c.Closed.UTC().ISOWeek()
		k := store.WeekCount{Week: fmt.Sprintf("%04d-W%02d", year, week), Cause: c.Outcome.Cause, Symptom: c.Symptom}
		w := weeks[k]
		weeks[k] = store.WeekCount{Cases: w.Cases + 1, Minutes: w.Minutes + int(c.Outcome.Minutes)}
	}
	if q.Newest {
		slices.Reverse(want)
	}
	for after, more := store.Cursor(""), true; more; more = after != "" {
		page, err := r.s.Cases(ctx, q, after)
		if err != nil {
			r.Fatalf("list: %v", err)
		}
		for _, c := range page.Cases {
			got = append(got, c.ID)
		}
		after = page.Next
	}
	if diff := gocmp.Diff(want, got); diff != "" {
		r.Fatalf("list %+v (-want +got):\n%s", q, diff)
	}
	r.compareIndexes(newest, lastOpen, weeks)
}

func (r *random) compareIndexes(newest, lastOpen map[string]store.CaseID, weeks map[store.WeekCount]store.WeekCount) {
	ctx := context.Background()
	for conversation, want := range newest {
		if id, err := r.s.Conversation(ctx, conversation); err != nil || id != want {
			r.Fatalf("conversation %q: %d, %v; want %d", conversation, id, err, want)
		}
	}
	for _, actor := range actors {
		id, err := r.s.LastOpen(ctx, actor)
		if id != lastOpen[actor] || (err != nil) != (id == 0) {
			r.Fatalf("last open case of %s: %d, %v; want %d", actor, id, err, lastOpen[actor])
		}
	}
	var want []store.WeekCount
	for k, w := range weeks {
		k.Cases, k.Minutes = w.Cases, w.Minutes
		want = append(want, k)
	}
	slices.SortFunc(want, func(a, b store.WeekCount) int {
		return cmp.Or(cmp.Compare(a.Week, b.Week), cmp.Compare(a.Cause, b.Cause), cmp.Compare(a.Symptom, b.Symptom))
	})
	got, err := r.s.Weeks(ctx, "", "")
	if diff := gocmp.Diff(want, got, cmpopts.EquateEmpty()); err != nil || diff != "" {
		r.Fatalf("weeks: %v (-want +got):\n%s", err, diff)
	}
	sites, err := r.s.Sites(ctx, "", 0)
	if err != nil || len(sites) != len(r.m.sites) {
		r.Fatalf("register: %+v, %v; want %+v", sites, err, r.m.sites)
	}
	for _, s := range sites {
		if s.Grade != r.m.sites[s.Ref].Grade {
			r.Fatalf("site %s: %+v, want %+v", s.Ref, s, r.m.sites[s.Ref])
		}
	}
}

func selects(q store.Query, c store.Case) bool {
	switch {
	case q.State != "" && q.State != c.State, q.Site != "" && q.Site != c.Site:
		return false
	case !q.Since.IsZero() && c.Opened.Before(q.Since), !q.Before.IsZero() && !c.Opened.Before(q.Before):
		return false
	}
	return true
}
