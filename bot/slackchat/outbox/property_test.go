package outbox_test

import (
	"errors"
	"fmt"
	"net"
	"testing"
	"testing/synctest"
	"time"

	"github.com/slack-go/slack"
	"pgregory.net/rapid"

	"ferrule/bot/slackchat/outbox"
	"ferrule/store"
)

// misfortunes are what can become of a post.
var misfortunes = []answer{
	taken,
	{in: true, takes: 300 * time.Millisecond},
	{in: true, takes: 7 * time.Second}, // longer than a stop waits
	{in: true, err: errors.New("the connection broke after it had arrived")},
	{in: false, err: errors.New("the connection broke before it had arrived")},
	{in: true, err: slack.SlackErrorResponse{Err: "internal_error"}},
	{err: &slack.RateLimitedError{RetryAfter: 3 * time.Second}},
	{err: &slack.RateLimitedError{RetryAfter: 5 * time.Minute}}, // longer than a lease
	{err: slack.StatusCodeError{Code: 429}},
	{err: &net.OpError{Op: "dial", Err: errors.New("refused")}},
}

// step is one thing that happens to a worker, its store or its channels.
type step struct {
	What    string
	Entries []planned     // of a put
	Wait    time.Duration // of a wait
	Which   string        // operation that fails
}

// planned is an entry before it is put in.
type planned struct {
	Channel, Key string
	In           time.Duration // when it is due; 0 is at once
}

var steps = rapid.Custom(func(t *rapid.T) step {
	s := step{What: rapid.SampledFrom([]string{"put", "put", "put", "wait", "wait", "stop", "kill", "store fails", "store works"}).Draw(t, "what")}
	switch s.What {
	case "put":
		s.Entries = rapid.SliceOfN(entries, 1, 5).Draw(t, "entries")
	case "wait":
		s.Wait = rapid.SampledFrom([]time.Duration{100 * time.Millisecond, time.Second, 5 * time.Second, 200 * time.Second}).Draw(t, "wait")
	case "store fails":
		s.Which = rapid.SampledFrom([]string{"lease", "sent", "retry", "all"}).Draw(t, "which")
	}
	return s
})

var entries = rapid.Custom(func(t *rapid.T) planned {
	return planned{
		Channel: rapid.SampledFrom([]string{"CA", "CB", "CC"}).Draw(t, "channel"),
		Key:     rapid.SampledFrom([]string{"", "", "", "k", "l"}).Draw(t, "key"),
		In:      time.Second * time.Duration(rapid.SampledFrom([]int{0, 0, 0, 1, 30, 600}).Draw(t, "due in")),
	}
})

// history is what happened.
type history struct {
	t       *testing.T
	s       *watched
	c       *channels
	w       *running
	entries map[uint64]store.Outgoing
	gone    map[uint64]bool // replaced by another of its key
	faults  []string
}

func (h *history) faultf(format string, args ...any) {
	h.faults = append(h.faults, fmt.Sprintf(format, args...))
}

// put puts entries in. The store numbers them in order.
func (h *history) put(plan []planned) {
	var all []store.Outgoing
	for _, p := range plan {
		id := uint64(len(h.entries) + 1)
		o := out(p.Channel, fmt.Sprint(id))
		o.Key = p.Key
		if p.In > 0 {
			o.Due = time.Now().Add(p.In)
		}
		for other, before := range h.entries {
			if o.Key != "" && before.Key == o.Key {
				h.gone[other] = true
			}
		}
		h.entries[id] = o
		all = append(all, o)
	}
	put(h.t, h.s, all...)
}

// happen makes one thing happen.
func (h *history) happen(s step) {
	switch s.What {
	case "put":
		h.put(s.Entries)
		h.w.Kick()
	case "wait":
		time.Sleep(s.Wait)
	case "stop":
		h.stop()
		time.Sleep(time.Millisecond)
		h.w = start(h.t, h.s, h.c, seldom)
	case "kill":
		kill(h.w, h.s, h.c)
		time.Sleep(time.Millisecond)
		h.w = start(h.t, h.s, h.c, seldom)
	case "store fails":
		h.s.failing(func(operation string) error {
			if s.Which == "all" || s.Which == operation {
				return store.ErrUnavailable
			}
			return nil
		})
	case "store works":
		h.s.failing(nil)
	}
}

func (h *history) stop() {
	if err := h.w.stop(); err != nil {
		h.faultf("stopped with %v", err)
	}
}

// check holds what arrived against what was put in.
func (h *history) check() {
	arrived := map[uint64]int{}
	newest := map[string]uint64{}
	for _, m := range h.c.messages {
		o := h.entries[m.id]
		arrived[m.id]++
		if m.channel != o.Channel || m.body != string(o.Body) || m.at.Before(o.Due) {
			h.faultf("entry %d, due %v in %s, arrived as %v", m.id, o.Due, o.Channel, m)
		}
		if !o.Due.IsZero() {
			continue
		}
		if m.id < newest[m.channel] {
			h.faultf("entry %d arrived after %d in %s", m.id, newest[m.channel], m.channel)
		}
		newest[m.channel] = m.id
	}
	for id := range h.entries {
		if n := arrived[id]; n > 1 || n == 0 && !h.gone[id] {
			h.faultf("entry %d arrived %d times; replaced: %v", id, n, h.gone[id])
		}
	}
	if h.c.overlaps > 0 {
		h.faultf("%d calls overlapped in a channel", h.c.overlaps)
	}
	if l := left(h.t, h.s); l != "" {
		h.faultf("left: %s", l)
	}
}

// seldom polls spare time: a test lasts half a day of its clock.
func seldom(o *outbox.Options) { o.Poll = 30 * time.Second }

// live lets steps happen, then all be well for half a day, and gives the faults.
func live(t *testing.T, plan []step, fate []int) (faults []string) {
	synctest.Test(t, func(t *testing.T) {
		h := &history{t: t, s: &watched{Store: store.NewMemory()}, c: newChannels(), entries: map[uint64]store.Outgoing{}, gone: map[uint64]bool{}}
		h.c.answer = func(e store.Leased, try int) answer {
			if try > 5 {
				return taken
			}
			return misfortunes[fate[(int(e.ID)*7+try)%len(fate)]]
		}
		h.c.look = func(e store.Leased, try int) error {
			if try > 3 {
				return nil
			}
			return misfortunes[fate[(int(e.ID)*5+try)%len(fate)]].err
		}
		h.w = start(t, h.s, h.c, seldom)
		for _, s := range plan {
			h.happen(s)
		}
		h.s.failing(nil)
		sleep(12 * time.Hour)
		h.stop()
		h.check()
		faults = h.faults
	})
	return faults
}

// Whatever happens, in the end every entry has arrived exactly once and, where
// it was due at once, in the order of its channel.
func TestEachArrivesOnceAndInOrder(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		plan := rapid.SliceOfN(steps, 1, 25).Draw(rt, "steps")
		fate := rapid.SliceOfN(rapid.IntRange(0, len(misfortunes)-1), 1, 12).Draw(rt, "fate")
		for _, fault := range live(t, plan, fate) {
			rt.Error(fault)
		}
	})
}
