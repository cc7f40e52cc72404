package outbox_test

import (
	"errors"
	"path/filepath"
	"testing"
	"testing/synctest"
	"time"

	"github.com/slack-go/slack"

	"ferrule/store"
)

// kill ends a worker as the end of its process does: nothing that it does from
// now on reaches the store or a channel.
func kill(w *running, s *watched, c *channels) {
	s.failing(func(string) error { return store.ErrUnavailable })
	c.die(true)
	w.cancel()
	<-w.done
	c.die(false)
	s.failing(nil)
}

// die makes a worker's calls reach nothing, or reach the channels again.
func (c *channels) die(dead bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.dead, c.busy, c.now = dead, map[string]bool{}, 0
}

func openFile(t *testing.T, path string) store.Store {
	t.Helper()
	s, err := store.OpenPath(t.Context(), path, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// A process dies with the first of a channel posted but not taken out, the
// second in the queue and another channel told to wait. The next one posts
// nothing twice, keeps the order with what came in meanwhile, and leaves alone
// what is for later. One more dies while it starts.
func TestProcessDies(t *testing.T) {
	for name, tc := range map[string]struct {
		later  time.Duration
		ca, cb string // in seconds since the second start
	}{
		"and starts again at once":     {time.Second, "a1@-1.501 a2@0 a3@1 soon@60 later@3600", "b1@0 b2@1 b3@2"},
		"and starts when leases ended": {10 * time.Minute, "a1@-600.501 soon@0 a2@1 a3@2 later@3000", "b1@0 b2@1 b3@2"},
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "cases.db")
			synctest.Test(t, func(t *testing.T) {
				begun := time.Now()
				s := &watched{Store: openFile(t, path)}
				c := newChannels()
				c.answer = func(e store.Leased, try int) answer {
					if string(e.Body) == "b1" && try == 1 {
						return answer{err: &slack.RateLimitedError{RetryAfter: time.Hour}}
					}
					return taken
				}
				soon, later := out("CA", "soon"), out("CA", "later")
				soon.Due, later.Due = begun.Add(time.Minute), begun.Add(time.Hour)
				s.failing(only("sent"))
				w := start(t, s, c)
				synctest.Wait()
				put(t, s, out("CA", "a1"), later, soon, out("CA", "a2"), out("CB", "b1"), out("CB", "b2"))
				w.Kick()
				sleep(500 * time.Millisecond)
				kill(w, s, c)
				if err := s.Close(); err != nil {
					t.Fatal(err)
				}

				s.Store = openFile(t, path)
				sleep(tc.later)
				put(t, s, out("CA", "a3"), out("CB", "b3"))
				c.die(true)
				w = start(t, s, c)
				synctest.Wait() // it has leased, and nothing arrives
				kill(w, s, c)
				time.Sleep(time.Millisecond)
				again := time.Now()
				w = start(t, s, c)
				sleep(2 * time.Hour)
				want(t, "CA", c.arrived("CA", again), tc.ca)
				want(t, "CB", c.arrived("CB", again), tc.cb)
				want(t, "left", left(t, s), "")
				if err := errors.Join(w.stop(), s.Close()); err != nil {
					t.Error(err)
				}
			})
		})
	}
}

// only makes one operation of the store fail.
func only(failing string) func(string) error {
	return func(operation string) error {
		if operation == failing {
			return store.ErrUnavailable
		}
		return nil
	}
}

// A store that can't be used at the start is tried until it can, and a stop
// does not wait for it.
func TestStoreFailsAtTheStart(t *testing.T) {
	bubble(t, func(t *testing.T, s *watched, c *channels, begun time.Time) {
		put(t, s, out("CA", "a1"), out("CA", "a2"))
		s.failing(only("lease"))
		w := start(t, s, c)
		sleep(time.Minute)
		if err := w.stop(); err != nil || time.Since(begun) != time.Minute {
			t.Errorf("stopped after %v with %v", time.Since(begun), err)
		}
		w = start(t, s, c)
		sleep(10 * time.Second)
		s.failing(nil)
		sleep(10 * time.Second)
		want(t, "CA", c.arrived("CA", begun.Add(time.Minute)), "a1@15 a2@16")
		if err := w.stop(); err != nil {
			t.Error(err)
		}
	})
}
