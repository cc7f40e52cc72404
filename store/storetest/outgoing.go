package storetest

import (
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"ferrule/store"
)

func (h *harness) lease(now time.Time, lease time.Duration, n int) []store.Leased {
	h.Helper()
	out, err := h.Lease(h.ctx(), now, lease, n)
	if err != nil {
		h.Fatalf("lease: %v", err)
	}
	return out
}

// wantLease leases for ten minutes and compares body and attempts.
func (h *harness) wantLease(minute, n int, want ...string) []store.Leased {
	h.Helper()
	out := h.lease(at(minute), 10*time.Minute, n)
	var got []string
	for _, l := range out {
		got = append(got, fmt.Sprintf("%s %d", l.Body, l.Attempts))
	}
	if diff := cmp.Diff(want, got, cmpopts.EquateEmpty()); diff != "" {
		h.Errorf("leased at minute %d (-want +got):\n%s", minute, diff)
	}
	return out
}

func message(key, body string, due time.Time) store.Outgoing {
	return store.Outgoing{Key: key, Channel: "room", Due: due, Body: []byte(body)}
}

func testOutbox(_ *testing.T, h *harness) {
	h.wantLease(0, 10)
	h.apply(store.Change{Outbox: []store.Outgoing{
		message("", "later", at(30)), message("", "soon", at(5)), message("", "now 1", time.Time{}), message("", "now 2", time.Time{})}})
	h.again()
	h.wantLease(4, 0)
	h.wantLease(4, 1, "now 1 1")
	h.wantLease(4, 10, "now 2 1")
	h.wantLease(5, 10, "soon 1") // due at this very minute
	h.again()
	h.wantLease(13, 10)                              // all leases still run
	out := h.wantLease(14, 10, "now 1 2", "now 2 2") // two have ended
	if err := h.Sent(h.ctx(), out[0].ID); err != nil {
		h.Error(err)
	}
	h.again()
	h.wantLease(25, 10, "soon 2", "now 2 3")
	h.wantLease(60, 10, "later 1", "soon 3", "now 2 4")
	for _, id := range []uint64{out[0].ID, 0, 999} {
		if err := h.Sent(h.ctx(), id); err != nil {
			h.Errorf("sent %d, which is not there: %v", id, err)
		}
	}
}

func testOutboxReplacement(_ *testing.T, h *harness) {
	h.apply(store.Change{Outbox: []store.Outgoing{message("k", "first", at(5)), message("other", "other", at(5))}})
	h.apply(store.Change{Outbox: []store.Outgoing{message("k", "second", at(20))}})
	h.again()
	h.wantLease(6, 10, "other 1")
	out := h.wantLease(20, 10, "other 2", "second 1")
	// Replaced while it is being sent: the new one is another message.
	h.apply(store.Change{Outbox: []store.Outgoing{message("k", "third", at(21)), message("k", "fourth", at(21))}})
	if err := h.Sent(h.ctx(), out[1].ID); err != nil {
		h.Errorf("sent what was replaced: %v", err)
	}
	h.again()
	out = h.wantLease(21, 10, "fourth 1")
	if err := h.Sent(h.ctx(), out[0].ID); err != nil {
		h.Error(err)
	}
	h.apply(store.Change{Outbox: []store.Outgoing{message("k", "fifth", at(22))}})
	h.wantLease(22, 10, "fifth 1")
}

func testOutboxRetry(_ *testing.T, h *harness) {
	h.apply(store.Change{Outbox: []store.Outgoing{message("k", "x", at(5))}})
	id := h.wantLease(5, 10, "x 1")[0].ID
	if err := h.Retry(h.ctx(), id, at(7)); err != nil {
		h.Error(err)
	}
	h.again()
	h.wantLease(6, 10)
	if out := h.wantLease(7, 10, "x 2"); !out[0].Due.Equal(at(7)) || out[0].ID != id || out[0].Key != "k" || out[0].Channel != "room" {
		h.Errorf("after a retry: %+v", out[0])
	}
	if err := h.Retry(h.ctx(), 999, at(7)); err != nil {
		h.Errorf("retry of what is not there: %v", err)
	}
	h.apply(store.Change{Outbox: []store.Outgoing{message("k", "y", at(8))}})
	h.wantLease(30, 10, "y 1")
}

// What goes out knows the case that the commit gave out.
func testOutboxCase(_ *testing.T, h *harness) {
	first := h.apply(store.Change{
		Events: []store.Event{opening("ada", 0, "c", "")}, Outbox: []store.Outgoing{message("new", "x", at(1))}})
	second := h.apply(store.Change{
		Case: first.Case, Expected: first.Version, Events: []store.Event{saying("ada", 1, "m", "y")}, Outbox: []store.Outgoing{message("old", "y", at(2))}})
	h.apply(store.Change{Outbox: []store.Outgoing{message("none", "z", at(3)), {Key: "given", Due: at(4), Body: []byte("w"), Case: 77, Version: 5}}})
	h.again()
	var got []string
	for _, l := range h.lease(at(5), time.Minute, 10) {
		got = append(got, fmt.Sprint(l.Key, " ", l.Case, " ", l.Version))
	}
	want := []string{fmt.Sprint("new ", first.Case, " 1"), fmt.Sprint("old ", second.Case, " 2"), "none 0 0", "given 77 5"}
	if diff := cmp.Diff(want, got); diff != "" {
		h.Errorf("leased (-want +got):\n%s", diff)
	}
}

// What is held is handed to whoever put it in, and is due to others when that
// ends; the receipt has the IDs, and a repetition's has none.
func testOutboxHeld(_ *testing.T, h *harness) {
	held := message("k", "held", time.Time{})
	held.Held = at(10)
	c := store.Change{Delivery: "d", Outbox: []store.Outgoing{message("", "first", at(1)), held}}
	r := h.apply(c)
	if len(r.Outbox) != 2 || r.Outbox[0] == r.Outbox[1] {
		h.Fatalf("receipt: %+v", r)
	}
	if again := h.apply(c); len(again.Outbox) != 0 || !again.Repeated {
		h.Errorf("repeated: %+v", again)
	}
	h.again()
	first := h.wantLease(5, 10, "first 1")
	if first[0].ID != r.Outbox[0] {
		h.Errorf("leased %d; the receipt says %v", first[0].ID, r.Outbox)
	}
	if out := h.wantLease(12, 10, "held 2"); out[0].ID != r.Outbox[1] || !out[0].Due.IsZero() {
		h.Errorf("leased %+v; the receipt says %v", out[0], r.Outbox)
	}
	if err := h.Sent(h.ctx(), r.Outbox[1]); err != nil {
		h.Error(err)
	}
}

func testEraseText(_ *testing.T, h *harness) {
	bot := store.Event{Kind: store.KindMessage, Actor: "bot", Message: &store.Message{ID: "b1", Text: "you said 35", FromBot: true}}
	r := h.apply(store.Change{Delivery: "d:1", Reply: []byte("you said 35"), Events: []store.Event{
		opening("ada", 0, "c", ""), saying("ada", 1, "m1", "sig 35 at the back door"), reading("ada", 1, "m1", 35), bot}})
	h.goOn(r.Case, saying("ada", 2, "m2", "and the lid"), closing("ada", 3, "lid", 5))
	other := h.opened("2", "ada")
	if err := h.EraseText(h.ctx(), r.Case); err != nil {
		h.Fatal(err)
	}
	h.again()
	c := h.load(r.Case)
	for _, e := range c.Events {
		if e.Message != nil && e.Message.Text != "" || e.Reading != nil && e.Reading.Words != "" {
			h.Errorf("text is left: %+v", e)
		}
	}
	if c.Version != 2 || len(c.Events) != 6 || c.Readings[0].Low != 35 || c.State != store.Closed {
		h.Errorf("more than the text went: %+v", c)
	}
	if h.load(other).Events[1].Message.Text == "" {
		h.Error("another case's text went, too")
	}
	if r := h.apply(store.Change{Delivery: "d:1"}); !r.Repeated || len(r.Reply) != 0 {
		h.Errorf("the delivery after erasing: %+v", r)
	}
	h.wantWeeks("after erasing", "", "", "2026-W10 lid/ 1 5")
	h.wantErr("erasing no case", h.EraseText(h.ctx(), 99), store.ErrNotFound)
	if err := h.EraseText(h.ctx(), r.Case); err != nil {
		h.Errorf("erasing again: %v", err)
	}
}

// A deleted message's words leave the store; what was measured stays.
func testDeletion(_ *testing.T, h *harness) {
	id := h.opened("c", "ada", reading("ada", 0, "m1", 35))
	h.goOn(id, saying("ada", 1, "m2", "stays"))
	gone := saying("ada", 2, "m1", "")
	gone.Message.Deleted = true
	h.goOn(id, gone)
	h.again()
	c := h.load(id)
	if c.Events[1].Message.Text != "" || c.Events[2].Reading.Words != "" {
		h.Errorf("words are left: %+v", c.Events)
	}
	if c.Events[3].Message.Text != "stays" || len(c.Readings) != 1 || c.Readings[0].Low != 35 {
		h.Errorf("more than the words went: %+v", c)
	}
}
