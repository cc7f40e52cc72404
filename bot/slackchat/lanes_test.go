package slackchat

import (
	"context"
	"fmt"
	"log/slog"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"ferrule/bot"
)

// Jobs of a lane are done one after the other, the earliest of those that wait
// first; lanes don't wait for each other.
func TestLanes(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := newLanes(t.Context(), slog.New(slog.DiscardHandler), 8)
		var mu sync.Mutex
		done := map[string][]string{}
		busy := map[string]int{}
		begun := time.Now()
		add := func(lane, stamp string) {
			l.add(lane, job{stamp: stamp, run: func(context.Context, circumstances) *held {
				mu.Lock()
				if busy[lane]++; busy[lane] > 1 {
					t.Errorf("two jobs of %s at once", lane)
				}
				mu.Unlock()
				time.Sleep(time.Second)
				mu.Lock()
				defer mu.Unlock()
				busy[lane]--
				done[lane] = append(done[lane], stamp)
				return nil
			}})
		}
		for _, lane := range []string{"a", "b", "c"} {
			add(lane, "2")
			synctest.Wait()
			add(lane, "5")
			add(lane, "3")
			add(lane, "4")
		}
		l.wait()
		for lane, got := range done {
			if !slices.Equal(got, []string{"2", "3", "4", "5"}) {
				t.Errorf("lane %s: %v", lane, got)
			}
		}
		if took := time.Since(begun); len(done) != 3 || took != 4*time.Second {
			t.Errorf("%d lanes in %v", len(done), took)
		}
	})
}

// Only so many run at once, and a job learns how many wait.
func TestLanesAtOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := newLanes(t.Context(), slog.New(slog.DiscardHandler), 2)
		var mu sync.Mutex
		running, most, waiting := 0, 0, 0
		for i := range 10 {
			l.add(fmt.Sprint(i), job{run: func(_ context.Context, c circumstances) *held {
				mu.Lock()
				running++
				most, waiting = max(most, running), max(waiting, c.waiting)
				mu.Unlock()
				time.Sleep(time.Second)
				mu.Lock()
				running--
				mu.Unlock()
				return nil
			}})
		}
		l.wait()
		if most != 2 || waiting < 5 {
			t.Errorf("%d at once, %d waiting", most, waiting)
		}
	})
}

// A reply is held back while another message follows, and not while the same one
// comes in its other form; a button between two messages makes them no heap.
func TestHeldInALane(t *testing.T) {
	for name, c := range map[string]struct{ press, want string }{
		"a heap":           {"9", "[1: false [] 2: true [] 2: true [2] 3: false [2 2]]"},
		"a button between": {"25", "[1: false [] 2: false [] 2: false [] 3: false []]"},
	} {
		synctest.Test(t, func(t *testing.T) {
			l := newLanes(t.Context(), slog.New(slog.DiscardHandler), 1)
			var log []string
			say := func(stamp string) job {
				return job{stamp: stamp, text: true, run: func(_ context.Context, c circumstances) *held {
					time.Sleep(time.Second)
					log = append(log, fmt.Sprint(stamp, ": ", c.followed, " ", c.held.news()))
					if c.followed {
						return &held{reply: bot.Reply{New: append(slices.Clone(c.held.news()), stamp)}}
					}
					return nil
				}}
			}
			l.add("a", say("1"))
			synctest.Wait()
			for _, j := range []job{say("2"), say("2"), say("3"), {stamp: c.press, run: func(context.Context, circumstances) *held { return nil }}} {
				l.add("a", j)
			}
			l.wait()
			if got := fmt.Sprint(log); got != c.want {
				t.Errorf("%s: %s; want %s", name, got, c.want)
			}
		})
	}
}

// A job that panics is acknowledged, and the next is done all the same.
func TestPanicInALane(t *testing.T) {
	l := newLanes(t.Context(), slog.New(slog.DiscardHandler), 1)
	acknowledged, next := false, false
	l.add("a", job{stamp: "1", done: func(_ []byte, err error) { acknowledged = err == nil }, run: func(context.Context, circumstances) *held { panic("x") }})
	l.add("a", job{stamp: "2", run: func(context.Context, circumstances) *held { next = true; return nil }})
	l.wait()
	if !acknowledged || !next {
		t.Errorf("acknowledged %v, the next done %v", acknowledged, next)
	}
}
