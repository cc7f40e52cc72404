package storetest

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"ferrule/store"
)

func testOpenCase(_ *testing.T, h *harness) {
	events := []store.Event{
		opening("ada", 0, "chat:room:1", "lantern-1"), saying("ada", 1, "m1", "no signal"),
		reading("ada", 1, "m1", 35), symptom("ada", 1, "m1", "weak_signal"),
	}
	r := h.apply(store.Change{Events: events, Reply: []byte("reply")})
	if diff := cmp.Diff(store.Receipt{Case: 1, Version: 1}, r); diff != "" {
		h.Errorf("receipt (-want +got):\n%s", diff)
	}
	h.again()
	want := store.Fold(events)
	want.ID, want.Version = 1, 1
	if diff := cmp.Diff(want, h.load(1)); diff != "" {
		h.Errorf("case (-want +got):\n%s", diff)
	}
	if r := h.apply(store.Change{Events: events}); r.Case != 2 {
		h.Errorf("the second case got number %d", r.Case)
	}
	_, err := h.Case(h.ctx(), 3)
	h.wantErr("a case that is not there", err, store.ErrNotFound)
	_, err = h.Case(h.ctx(), 0)
	h.wantErr("case 0", err, store.ErrNotFound)
}

func testVersions(_ *testing.T, h *harness) {
	id := h.opened("c", "ada")
	if r := h.goOn(id, reading("ada", 2, "m2", 35)); r.Case != id || r.Version != 2 {
		h.Errorf("second change: %+v", r)
	}
	h.again()
	for _, stale := range []uint64{0, 1, 3} {
		_, err := h.Apply(h.ctx(), store.Change{Case: id, Expected: stale, Events: []store.Event{reading("ada", 3, "m3", 1)}})
		h.wantErr(fmt.Sprintf("expecting version %d of 2", stale), err, store.ErrConflict)
	}
	if r := h.apply(store.Change{Case: id, Expected: 2}); r.Version != 3 {
		h.Errorf("a change without events: %+v", r)
	}
	h.again()
	if c := h.load(id); c.Version != 3 || len(c.Events) != 3 || len(c.Readings) != 1 {
		h.Errorf("case: version %d, %d events, %d readings", c.Version, len(c.Events), len(c.Readings))
	}
	_, err := h.Apply(h.ctx(), store.Change{Case: id + 1, Expected: 1})
	h.wantErr("a change of no case", err, store.ErrNotFound)
}

func testRepeatedDelivery(_ *testing.T, h *harness) {
	first := store.Change{Delivery: "chat:room:1.5", Events: []store.Event{opening("ada", 0, "c", "")}, Reply: []byte("first")}
	r := h.apply(first)
	h.goOn(r.Case, reading("ada", 1, "m2", 35))
	second := store.Change{Delivery: "chat:room:1.6", Case: r.Case, Expected: 2, Events: []store.Event{reading("ada", 2, "m3", 36)}, Reply: []byte("second")}
	h.apply(second)
	h.again()
	again := first
	again.Events, again.Reply = append(again.Events, reading("ada", 9, "m9", 1)), []byte("other")
	if diff := cmp.Diff(store.Receipt{Case: r.Case, Version: 1, Repeated: true, Reply: []byte("first")}, h.apply(again)); diff != "" {
		h.Errorf("opening again (-want +got):\n%s", diff)
	}
	// The version that it expects has passed; that it was applied comes first.
	if diff := cmp.Diff(store.Receipt{Case: r.Case, Version: 3, Repeated: true, Reply: []byte("second")}, h.apply(second)); diff != "" {
		h.Errorf("second again (-want +got):\n%s", diff)
	}
	if c := h.load(r.Case); c.Version != 3 {
		h.Errorf("version %d after repetitions, want 3", c.Version)
	}
	// Keys that differ only in where the colons stand are different.
	for _, delivery := range []string{"chat:room1:5", "chat:room1", "5", "chat", "room:1.5:chat", ":", "a:", ":a"} {
		if r := h.apply(store.Change{Delivery: delivery, Events: first.Events}); r.Repeated {
			h.Errorf("delivery %q taken for a repetition", delivery)
		}
		if r := h.apply(store.Change{Delivery: delivery, Events: first.Events}); !r.Repeated {
			h.Errorf("delivery %q not taken for a repetition", delivery)
		}
	}
}

func testDeliveryWithoutCase(_ *testing.T, h *harness) {
	c := store.Change{Delivery: "chat:x:1", Reply: []byte("good morning"), Outbox: []store.Outgoing{{Channel: "x", Body: []byte("good morning")}}}
	if r := h.apply(c); r.Case != 0 || r.Version != 0 || r.Repeated {
		h.Errorf("first: %+v", r)
	}
	h.again()
	if diff := cmp.Diff(store.Receipt{Repeated: true, Reply: []byte("good morning")}, h.apply(c)); diff != "" {
		h.Errorf("again (-want +got):\n%s", diff)
	}
	if out := h.lease(at(0), time.Hour, 10); len(out) != 1 {
		h.Errorf("%d messages go out, want 1", len(out))
	}
}

func testRefused(_ *testing.T, h *harness) {
	id := h.opened("c", "ada")
	open := opening("ada", 0, "c", "")
	with := func(e store.Event) []store.Event { return []store.Event{open, e} }
	both := reading("ada", 0, "m", 1)
	both.Note = &store.Note{Topic: "t"}
	long := strings.Repeat("x", 5000)
	for name, c := range map[string]store.Change{
		"events of no case":      {Events: []store.Event{saying("ada", 0, "m", "x")}},
		"opened twice":           {Events: with(open)},
		"opened again":           {Case: id, Expected: 1, Events: []store.Event{open}},
		"unknown kind":           {Events: with(store.Event{Kind: "guess"})},
		"part missing":           {Events: with(store.Event{Kind: store.KindReading})},
		"two parts":              {Events: with(both)},
		"NaN":                    {Events: with(reading("ada", 0, "m", math.NaN()))},
		"infinite":               {Events: with(reading("ada", 0, "m", math.Inf(1)))},
		"year 10000":             {Events: with(store.Event{Kind: store.KindNote, At: time.Date(10000, 1, 1, 0, 0, 0, 0, time.UTC), Note: &store.Note{}})},
		"zero byte":              {Delivery: "a\x00b", Events: []store.Event{open}},
		"long delivery":          {Delivery: long, Events: []store.Event{open}},
		"long conversation":      {Events: []store.Event{opening("ada", 0, long, "")}},
		"actor that is no UTF-8": {Events: []store.Event{opening("\xff", 0, "c", "")}},
		"site without reference": {Sites: []store.Site{{Name: "x"}}},
		"device without site":    {Devices: []store.Device{{Subject: "device 1"}}},
		"device without subject": {Devices: []store.Device{{Site: "s"}}},
		"very large":             {Events: with(saying("ada", 0, "m", strings.Repeat("x", 5<<20)))},
	} {
		_, err := h.Apply(h.ctx(), c)
		h.wantErr(name, err, store.ErrInvalid)
	}
	if page, err := h.Cases(h.ctx(), store.Query{}, ""); err != nil || len(page.Cases) != 1 || page.Cases[0].Version != 1 {
		h.Errorf("something was stored of them: %+v, %v", page, err)
	}
}

// A change that is refused leaves nothing behind, whatever else it brings.
func testWhole(_ *testing.T, h *harness) {
	id := h.opened("c", "ada")
	c := store.Change{
		Delivery: "chat:x:7", Case: id, Expected: 9, Events: []store.Event{reading("ada", 1, "m", 1)},
		Sites: []store.Site{{Ref: "s"}}, Devices: []store.Device{{Site: "s", Subject: "device 1"}},
		Outbox: []store.Outgoing{{Key: "k", Body: []byte("b")}},
	}
	_, err := h.Apply(h.ctx(), c)
	h.wantErr("a stale change", err, store.ErrConflict)
	h.again()
	_, _, err = h.Site(h.ctx(), "s")
	h.wantErr("its site", err, store.ErrNotFound)
	if out := h.lease(at(0), time.Hour, 10); len(out) != 0 {
		h.Errorf("its messages go out: %+v", out)
	}
	c.Expected = 1
	if r := h.apply(c); r.Repeated || r.Version != 2 {
		h.Errorf("applied after all: %+v", r)
	}
	h.again()
	if _, devices, err := h.Site(h.ctx(), "s"); err != nil || len(devices) != 1 {
		h.Errorf("site: %v, %v", devices, err)
	}
	if out := h.lease(at(0), time.Hour, 10); len(out) != 1 {
		h.Errorf("outbox: %+v", out)
	}
}

// What a caller does to a value before or after has no effect on the store.
func testNothingShared(_ *testing.T, h *harness) {
	e := reading("ada", 1, "m1", 35)
	c := store.Change{Delivery: "d:1", Events: []store.Event{opening("ada", 0, "c", ""), e}, Reply: []byte("reply"),
		Outbox: []store.Outgoing{{Body: []byte("body")}}}
	id := h.apply(c).Case
	e.Reading.Low, c.Reply[0], c.Outbox[0].Body[0] = 99, 'X', 'X'
	got := h.load(id)
	got.Events[1].Reading.Low, got.Readings[0].Low = 98, 97
	out := h.lease(at(1), 0, 1)
	out[0].Body[1] = 'Y'
	if c := h.load(id); c.Readings[0].Low != 35 || c.Events[1].Reading.Low != 35 {
		h.Errorf("the reading changed: %+v", c.Readings)
	}
	if out := h.lease(at(1), 0, 1); string(out[0].Body) != "body" {
		h.Errorf("the body changed: %s", out[0].Body)
	}
	if r := h.apply(store.Change{Delivery: "d:1"}); string(r.Reply) != "reply" {
		h.Errorf("the reply changed: %s", r.Reply)
	}
}

func testOddValues(_ *testing.T, h *harness) {
	dublin := time.FixedZone("", 3600)
	e := store.Event{Kind: store.KindReading, At: time.Date(2026, 7, 1, 9, 30, 15, 123456789, dublin), Actor: "Zoë", Reading: &store.Reading{
		Name: "radio.signal", Low: -math.MaxFloat64, High: math.SmallestNonzeroFloat64, Text: "½ “quoted” <b> \u2028 \x00 \U0001F50B",
		Has: []string{"a", ""}, State: store.StateKnown}}
	events := []store.Event{opening("Zoë", 0, "chat:Ünï:1", ""), e, {Kind: store.KindNote, Note: &store.Note{}}}
	id := h.apply(store.Change{Events: events}).Case
	h.again()
	if diff := cmp.Diff(events, h.load(id).Events); diff != "" {
		h.Errorf("events (-want +got):\n%s", diff)
	}
	if _, offset := h.load(id).Events[1].At.Zone(); offset != 3600 {
		h.Errorf("the zone is lost: %d", offset)
	}
}

func testContext(_ *testing.T, h *harness) {
	id := h.opened("c", "ada")
	ctx, cancel := context.WithCancel(h.ctx())
	cancel()
	_, applyErr := h.Apply(ctx, store.Change{Case: id, Expected: 1})
	_, caseErr := h.Case(ctx, id)
	_, casesErr := h.Cases(ctx, store.Query{}, "")
	_, leaseErr := h.Lease(ctx, at(0), time.Hour, 1)
	_, weeksErr := h.Weeks(ctx, "", "")
	for doing, err := range map[string]error{
		"apply": applyErr, "case": caseErr, "cases": casesErr, "lease": leaseErr, "weeks": weeksErr, "erase": h.EraseText(ctx, id),
	} {
		h.wantErr(doing, err, context.Canceled)
	}
	late, cancel := context.WithDeadline(h.ctx(), time.Unix(0, 0))
	defer cancel()
	_, err := h.Apply(late, store.Change{Case: id, Expected: 1})
	h.wantErr("apply after the deadline", err, context.DeadlineExceeded)
	if c := h.load(id); c.Version != 1 {
		h.Errorf("version %d, want 1", c.Version)
	}
}

func testConcurrentWriters(_ *testing.T, h *harness) {
	const writers, changes = 16, 8
	var wg sync.WaitGroup
	for w := range writers {
		wg.Go(func() {
			actor := fmt.Sprintf("actor %d", w)
			r, err := h.Apply(h.ctx(), store.Change{Delivery: fmt.Sprintf("w:%d:0", w), Events: []store.Event{opening(actor, 0, actor, ""), saying(actor, 0, "m0", "x")}})
			for n := 1; n < changes && err == nil; n++ {
				r, err = h.Apply(h.ctx(), store.Change{
					Delivery: fmt.Sprintf("w:%d:%d", w, n), Case: r.Case, Expected: r.Version,
					Events: []store.Event{reading(actor, n, fmt.Sprintf("m%d", n), float64(n))}})
			}
			if err != nil {
				h.Errorf("writer %d: %v", w, err)
			}
		})
	}
	wg.Wait()
	h.again()
	for w := range writers {
		actor := fmt.Sprintf("actor %d", w)
		id, err := h.LastOpen(h.ctx(), actor)
		if err != nil {
			h.Fatal(err)
		}
		c := h.load(id)
		if c.Version != changes || c.Conversation != actor || len(c.Readings) != 1 || c.Readings[0].Low != changes-1 {
			h.Errorf("writer %d: version %d, %+v", w, c.Version, c.Readings)
		}
	}
}

// Of many changes that rest on one version exactly one is applied.
func testRaceForVersion(_ *testing.T, h *harness) {
	id := h.opened("c", "ada")
	var mu sync.Mutex
	var wg sync.WaitGroup
	won := 0
	for n := range 32 {
		wg.Go(func() {
			_, err := h.Apply(h.ctx(), store.Change{Case: id, Expected: 1, Events: []store.Event{reading("ada", n, "m2", float64(n))}})
			mu.Lock()
			defer mu.Unlock()
			switch {
			case err == nil:
				won++
			case !errors.Is(err, store.ErrConflict):
				h.Errorf("change %d: %v", n, err)
			}
		})
	}
	wg.Wait()
	if c := h.load(id); won != 1 || c.Version != 2 {
		h.Errorf("%d changes were applied; the version is %d", won, c.Version)
	}
}

// Of many deliveries of one message exactly one is applied, and all get its
// receipt.
func testRaceOfDelivery(_ *testing.T, h *harness) {
	var mu sync.Mutex
	var wg sync.WaitGroup
	receipts := map[string]int{}
	for range 32 {
		wg.Go(func() {
			r, err := h.Apply(h.ctx(), store.Change{Delivery: "chat:x:1", Events: []store.Event{opening("ada", 0, "c", "")}, Reply: []byte("reply")})
			mu.Lock()
			defer mu.Unlock()
			receipts[fmt.Sprintf("%d %d %t %q %v", r.Case, r.Version, r.Repeated, r.Reply, err)]++
		})
	}
	wg.Wait()
	want := map[string]int{`1 1 false "" <nil>`: 1, `1 1 true "reply" <nil>`: 31}
	if diff := cmp.Diff(want, receipts, cmpopts.EquateEmpty()); diff != "" {
		h.Errorf("receipts (-want +got):\n%s", diff)
	}
	if _, err := h.Case(h.ctx(), 2); !errors.Is(err, store.ErrNotFound) {
		h.Errorf("a second case: %v", err)
	}
}

func testClosed(_ *testing.T, h *harness) {
	id := h.opened("c", "ada")
	if err := h.Close(); err != nil {
		h.Fatal(err)
	}
	_, err := h.Apply(h.ctx(), store.Change{Case: id, Expected: 1})
	h.wantErr("apply", err, store.ErrUnavailable)
	_, err = h.Case(h.ctx(), id)
	h.wantErr("case", err, store.ErrUnavailable)
	_, err = h.Lease(h.ctx(), at(0), time.Hour, 1)
	h.wantErr("lease", err, store.ErrUnavailable)
	h.wantErr("sent", h.Sent(h.ctx(), 1), store.ErrUnavailable)
	if err := h.Close(); err != nil {
		h.Errorf("closing again: %v", err)
	}
}
