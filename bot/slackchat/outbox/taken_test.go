package outbox_test

import (
	"fmt"
	"testing"
	"time"

	"ferrule/store"
)

// hand puts entries in that are held for the caller, and gives them as the
// caller has them.
func hand(t testing.TB, s store.Store, entries ...store.Outgoing) []store.Leased {
	t.Helper()
	for i := range entries {
		entries[i].Held = time.Now().Add(2 * time.Minute)
	}
	r, err := s.Apply(t.Context(), store.Change{Outbox: entries})
	if err != nil {
		t.Fatal(err)
	}
	var out []store.Leased
	for i, id := range r.Outbox {
		out = append(out, store.Leased{ID: id, Outgoing: entries[i], Attempts: 1})
	}
	return out
}

// What its caller hands over goes out at once, in order, without a lease and
// without a look, and is taken out of the store with others.
func TestTaken(t *testing.T) {
	bubble(t, func(t *testing.T, s *watched, c *channels, begun time.Time) {
		w := start(t, s, c)
		defer w.stop()
		sleep(time.Millisecond)
		leases := s.count("lease")
		for _, e := range hand(t, s, out("CA", "a1"), out("CB", "b1"), out("CA", "a2")) {
			w.Take(e)
		}
		sleep(500 * time.Millisecond)
		want(t, "CA", c.arrived("CA", begun), "a1@0.001")
		want(t, "CB", c.arrived("CB", begun), "b1@0.001")
		if n := s.count("lease") - leases; n != 0 {
			t.Errorf("%d leases", n)
		}
		sleep(10 * time.Second)
		want(t, "CA", c.arrived("CA", begun), "a1@0.001 a2@1.001")
		want(t, "left", left(t, s), "")
		if _, looks, _ := c.counts(); looks > 0 {
			t.Errorf("%d looks", looks)
		}
	})
}

// What was left by another process goes before what is taken at the start.
func TestTakenBeforeTheStart(t *testing.T) {
	bubble(t, func(t *testing.T, s *watched, c *channels, begun time.Time) {
		put(t, s, out("CA", "old"))
		w := start(t, s, c)
		for _, e := range hand(t, s, out("CA", "new")) {
			w.Take(e)
		}
		defer w.stop()
		sleep(10 * time.Second)
		want(t, "CA", c.arrived("CA", begun), "old@0 new@1")
		want(t, "left", left(t, s), "")
	})
}

// A process that dies before the store knows what it posted leaves what the
// next one looks for and does not post again; what was handed over and not
// posted is posted by the next.
func TestTakenAndDied(t *testing.T) {
	bubble(t, func(t *testing.T, s *watched, c *channels, begun time.Time) {
		s.failing(func(op string) error {
			if op == "sent" || op == "retry" {
				return fmt.Errorf("gone: %w", store.ErrUnavailable)
			}
			return nil
		})
		w := start(t, s, c)
		sleep(time.Millisecond)
		for _, e := range hand(t, s, out("CA", "a1"), out("CA", "a2")) {
			w.Take(e)
		}
		sleep(100 * time.Millisecond)
		w.stop()
		for _, e := range hand(t, s, out("CB", "b1")) {
			w.Take(e) // nobody is there any more
		}
		s.failing(nil)
		w = start(t, s, c)
		defer w.stop()
		sleep(10 * time.Second)
		if n, _, _ := c.counts(); n != 3 {
			t.Errorf("%d messages: %s %s", n, c.arrived("CA", begun), c.arrived("CB", begun))
		}
		want(t, "left", left(t, s), "")
	})
}

// Many entries that were posted share a few commits.
func TestTakenOutTogether(t *testing.T) {
	bubble(t, func(t *testing.T, s *watched, c *channels, _ time.Time) {
		w := start(t, s, c)
		defer w.stop()
		sleep(time.Millisecond)
		for i := range 100 {
			for _, e := range hand(t, s, out(fmt.Sprint("C", i), "x")) {
				w.Take(e)
			}
		}
		sleep(10 * time.Millisecond)
		if n, _, _ := c.counts(); n != 100 {
			t.Fatalf("%d messages", n)
		}
		if n := s.count("sent"); n != 0 {
			t.Errorf("%d entries were taken out one by one", n)
		}
		sleep(time.Second)
		if n := s.count("sent"); n != 100 {
			t.Errorf("%d entries were taken out", n)
		}
	})
}
