package storetest

import (
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"ferrule/store"
)

func testConversation(_ *testing.T, h *harness) {
	first, other := h.opened("chat:x:1", "ada"), h.opened("chat:x:2", "ada")
	second := h.opened("chat:x:1", "ben")
	h.again()
	for conversation, want := range map[string]store.CaseID{"chat:x:1": second, "chat:x:2": other} {
		if id, err := h.Conversation(h.ctx(), conversation); err != nil || id != want {
			h.Errorf("%s: case %d (first was %d), %v; want %d", conversation, id, first, err, want)
		}
	}
	h.opened("", "ada") // belongs to no conversation
	for _, none := range []string{"", "chat:x", "chat:x:1\x00"} {
		_, err := h.Conversation(h.ctx(), none)
		h.wantErr(fmt.Sprintf("conversation %q", none), err, store.ErrNotFound)
	}
}

func testLastOpen(_ *testing.T, h *harness) {
	bot := store.Event{Kind: store.KindMessage, Actor: "bot", Message: &store.Message{ID: "b", FromBot: true}}
	first := h.opened("1", "ada", bot)
	second := h.opened("2", "ada")
	h.goOn(first, saying("ben", 2, "m2", "me too"))
	last := func(actor string, want store.CaseID) {
		h.Helper()
		id, err := h.LastOpen(h.ctx(), actor)
		if want == 0 {
			h.wantErr("last open case of "+actor, err, store.ErrNotFound)
		} else if err != nil || id != want {
			h.Errorf("last open case of %s: %d, %v; want %d", actor, id, err, want)
		}
	}
	last("ada", second)
	last("ben", first)
	last("bot", 0)
	last("ad", 0)
	last("", 0)
	h.goOn(second, closing("ada", 3, "fuse", 5))
	h.again()
	last("ada", first)
	h.goOn(first, closing("ada", 4, "fuse", 5))
	last("ada", 0)
	last("ben", 0)
	h.goOn(first, saying("cy", 5, "m5", "in a closed case"))
	last("cy", 0)
	h.goOn(first, reopening("cy", 6))
	h.again()
	last("ada", first)
	last("ben", first)
	last("cy", first)
}

func testLateSite(_ *testing.T, h *harness) {
	id := h.opened("1", "ada")
	h.goOn(id, aboutSite("ada", 1, "lantern-7"))
	h.again()
	if c := h.load(id); c.Site != "lantern-7" {
		h.Errorf("site %q", c.Site)
	}
	if page, err := h.Cases(h.ctx(), store.Query{Site: "lantern-7"}, ""); err != nil || len(page.Cases) != 1 {
		h.Errorf("list of the site: %+v, %v", page, err)
	}
}

// list reads a list to its end.
func (h *harness) list(q store.Query) []store.CaseID {
	h.Helper()
	var ids []store.CaseID
	var after store.Cursor
	for {
		page, err := h.Cases(h.ctx(), q, after)
		if err != nil {
			h.Fatalf("list %+v after %q: %v", q, after, err)
		}
		for _, c := range page.Cases {
			ids = append(ids, c.ID)
		}
		if after = page.Next; after == "" {
			return ids
		}
		if len(ids) > 10_000 {
			h.Fatalf("list %+v does not end", q)
		}
	}
}

func testLists(_ *testing.T, h *harness) {
	for n := range 12 {
		site := store.SiteRef([]string{"a", "b", ""}[n%3])
		id := h.apply(store.Change{Events: []store.Event{opening("ada", 60*n, "c", site)}}).Case
		if n%4 == 0 {
			h.goOn(id, closing("ada", 60*n+1, "fuse", 5))
		}
	}
	h.again()
	for _, tt := range []struct {
		name string
		q    store.Query
		want []store.CaseID
	}{
		{"all", store.Query{}, []store.CaseID{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}},
		{"newest", store.Query{Newest: true}, []store.CaseID{12, 11, 10, 9, 8, 7, 6, 5, 4, 3, 2, 1}},
		{"closed", store.Query{State: store.Closed}, []store.CaseID{1, 5, 9}},
		{"open", store.Query{State: store.Open}, []store.CaseID{2, 3, 4, 6, 7, 8, 10, 11, 12}},
		{"site", store.Query{Site: "b"}, []store.CaseID{2, 5, 8, 11}},
		{"site and state", store.Query{Site: "b", State: store.Closed, Newest: true}, []store.CaseID{5}},
		{"unknown site", store.Query{Site: "c"}, nil},
		{"unknown state", store.Query{State: "lost"}, nil},
		{"since", store.Query{Since: at(540)}, []store.CaseID{10, 11, 12}},
		{"since a nanosecond later", store.Query{Since: at(540).Add(1)}, []store.CaseID{11, 12}},
		{"before", store.Query{Before: at(60)}, []store.CaseID{1}},
		{"before a nanosecond later", store.Query{Before: at(60).Add(1)}, []store.CaseID{1, 2}},
		{"between", store.Query{Since: at(60), Before: at(180), Newest: true}, []store.CaseID{3, 2}},
		{"long ago", store.Query{Before: time.Date(1900, 1, 1, 0, 0, 0, 0, time.UTC)}, nil},
		{"far ahead", store.Query{Since: time.Date(2900, 1, 1, 0, 0, 0, 0, time.UTC)}, nil},
	} {
		for _, limit := range []int{0, 1, 2, 3, 12, 13, 5000} {
			tt.q.Limit = limit
			if diff := cmp.Diff(tt.want, h.list(tt.q), cmpopts.EquateEmpty()); diff != "" {
				h.Errorf("%s, %d a page (-want +got):\n%s", tt.name, limit, diff)
			}
		}
	}
}

// A case that is added while a list is read appears at most once, and no
// other is left out.
func testListWhileGrowing(_ *testing.T, h *harness) {
	for range 5 {
		h.opened("c", "ada")
	}
	for _, q := range []store.Query{{Limit: 2}, {Limit: 2, Newest: true}} {
		seen := map[store.CaseID]int{}
		var after store.Cursor
		for {
			page, err := h.Cases(h.ctx(), q, after)
			if err != nil {
				h.Fatal(err)
			}
			for _, c := range page.Cases {
				seen[c.ID]++
			}
			if after = page.Next; after == "" || len(seen) > 50 {
				break
			}
			if len(seen) < 5 {
				h.opened("c", "ada")
			}
		}
		for id := store.CaseID(1); id <= 5; id++ {
			if seen[id] != 1 {
				h.Errorf("%+v: case %d was listed %d times", q, id, seen[id])
			}
		}
	}
}

func testCursors(_ *testing.T, h *harness) {
	h.opened("c", "ada")
	for _, cursor := range []store.Cursor{"x", "after", "after x", "after -1", "after 1 ", "after 01", "after 99999999999999999999"} {
		_, err := h.Cases(h.ctx(), store.Query{}, cursor)
		h.wantErr(fmt.Sprintf("cursor %q", cursor), err, store.ErrInvalid)
	}
}

// weeks lists the counters, short.
func (h *harness) weeks(from, to string) []string {
	h.Helper()
	counts, err := h.Weeks(h.ctx(), from, to)
	if err != nil {
		h.Fatal(err)
	}
	var all []string
	for _, w := range counts {
		all = append(all, fmt.Sprintf("%s %s/%s %d %d", w.Week, w.Cause, w.Symptom, w.Cases, w.Minutes))
	}
	return all
}

func (h *harness) wantWeeks(doing, from, to string, want ...string) {
	h.Helper()
	if diff := cmp.Diff(want, h.weeks(from, to), cmpopts.EquateEmpty()); diff != "" {
		h.Errorf("weeks %s (-want +got):\n%s", doing, diff)
	}
}

func testWeeks(_ *testing.T, h *harness) {
	const week = 7 * 24 * 60
	a := h.opened("1", "ada", symptom("ada", 0, "m1", "weak_signal"))
	b := h.opened("2", "ada", symptom("ada", 0, "m1", "weak_signal"))
	c := h.opened("3", "ada", symptom("ada", 0, "m1", "tamper"))
	h.wantWeeks("with open cases only", "", "")
	h.goOn(a, closing("ada", 1, "place", 20.4))
	h.goOn(b, closing("ada", 2, "place", 10.5))
	h.goOn(c, closing("ada", week, "lid", 7))
	h.again()
	h.wantWeeks("of three", "", "", "2026-W10 place/weak_signal 2 31", "2026-W11 lid/tamper 1 7")
	h.wantWeeks("up to the first", "2026-W01", "2026-W10", "2026-W10 place/weak_signal 2 31")
	h.wantWeeks("from the second", "2026-W11", "2026-W11", "2026-W11 lid/tamper 1 7")
	h.wantWeeks("turned round", "2026-W11", "2026-W10")
	h.goOn(a, closing("ada", 3, "battery", 20)) // corrected
	h.wantWeeks("after a correction", "", "2026-W10", "2026-W10 battery/weak_signal 1 20", "2026-W10 place/weak_signal 1 11")
	h.goOn(b, reopening("ada", 4))
	h.goOn(a, undoing("ada", 5, "m1")) // the symptom of a closed case is taken back
	h.again()
	h.wantWeeks("after reopening and undo", "", "", "2026-W10 battery/ 1 20", "2026-W11 lid/tamper 1 7")
	h.goOn(b, closing("ada", week+1, "lid", -5))
	h.goOn(c, symptom("ada", week+2, "m7", "loop_fault"))
	h.wantWeeks("at the end", "2026-W11", "", "2026-W11 lid/loop_fault 1 7", "2026-W11 lid/weak_signal 1 0")
}

// ISO 8601 puts 2024-12-30 into the first week of 2025 and 2027-01-03, a
// Sunday, into the 53rd of 2026.
func testWeekOfYearEnd(_ *testing.T, h *harness) {
	for i, day := range []time.Time{
		time.Date(2024, 12, 29, 23, 59, 59, 0, time.UTC), time.Date(2024, 12, 30, 0, 0, 0, 0, time.UTC),
		time.Date(2027, 1, 3, 12, 0, 0, 0, time.UTC),
		time.Date(2027, 1, 4, 0, 30, 0, 0, time.FixedZone("", 3600)), // still Sunday in UTC
	} {
		id := h.opened("c", "ada")
		e := closing("ada", 0, fmt.Sprint("cause", i), 1)
		e.At = day
		h.goOn(id, e)
	}
	h.wantWeeks("of the year's end", "", "", "2024-W52 cause0/ 1 1", "2025-W01 cause1/ 1 1", "2026-W53 cause2/ 1 1", "2026-W53 cause3/ 1 1")
}

func testSites(_ *testing.T, h *harness) {
	if sites, err := h.Sites(h.ctx(), "", 0); err != nil || len(sites) != 0 {
		h.Errorf("an empty register: %v, %v", sites, err)
	}
	site := store.Site{Ref: "b", Name: "Bramble Row", Grade: 2, PathCategory: "DP2", Equipment: []string{"Moor Small"},
		BatteryDate: at(0), NextMaintenance: at(1)}
	device := store.Device{Site: "b", Subject: "device 2", Model: "Rill-P", Firmware: "1.10", Handover: map[string]float64{"radio.signal": 62}}
	h.apply(store.Change{Sites: []store.Site{{Ref: "c"}, site, {Ref: "a"}}, Devices: []store.Device{device, {Site: "b", Subject: "device 1"}, {Site: "bb", Subject: "device 9"}}})
	h.again()
	got, devices, err := h.Site(h.ctx(), "b")
	if diff := cmp.Diff(site, got); err != nil || diff != "" {
		h.Errorf("site: %v (-want +got):\n%s", err, diff)
	}
	if diff := cmp.Diff([]store.Device{{Site: "b", Subject: "device 1"}, device}, devices); diff != "" {
		h.Errorf("devices (-want +got):\n%s", diff)
	}
	device.Firmware = "1.11"
	h.apply(store.Change{Sites: []store.Site{{Ref: "b", Grade: 3}}, Devices: []store.Device{device}})
	h.again()
	got, devices, err = h.Site(h.ctx(), "b")
	if err != nil || got.Grade != 3 || got.Name != "" || len(devices) != 2 || devices[1].Firmware != "1.11" {
		h.Errorf("after an update: %+v %+v %v", got, devices, err)
	}
	refs := func(after store.SiteRef, limit int) (all string) {
		sites, err := h.Sites(h.ctx(), after, limit)
		if err != nil {
			h.Fatal(err)
		}
		for _, s := range sites {
			all += string(s.Ref)
		}
		return all
	}
	for _, tt := range []struct {
		after store.SiteRef
		limit int
		want  string
	}{{"", 0, "abc"}, {"", 2, "ab"}, {"b", 2, "c"}, {"aa", 9, "bc"}, {"c", 9, ""}, {"zz", 9, ""}} {
		if got := refs(tt.after, tt.limit); got != tt.want {
			h.Errorf("register after %q, %d: %q, want %q", tt.after, tt.limit, got, tt.want)
		}
	}
	for _, none := range []store.SiteRef{"", "bb", "ab"} {
		_, _, err := h.Site(h.ctx(), none)
		h.wantErr(fmt.Sprintf("site %q", none), err, store.ErrNotFound)
	}
}
