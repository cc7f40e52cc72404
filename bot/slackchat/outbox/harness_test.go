package outbox_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"ferrule/bot/slackchat/outbox"
	"ferrule/store"
)

// answer is what the channel does with one post: whether the message is in it
// afterwards, how long the call takes, and what the caller is told.
type answer struct {
	in    bool
	takes time.Duration
	err   error
}

var taken = answer{in: true}

// message is one that arrived in a channel.
type message struct {
	id      uint64
	channel string
	body    string
	at      time.Time
}

// channels stands in for Slack. It remembers what arrived and looks it up
// truthfully.
type channels struct {
	answer func(e store.Leased, try int) answer // nil: everything is taken
	look   func(e store.Leased, try int) error  // nil: looking always works

	mu       sync.Mutex
	messages []message
	tries    map[uint64][]time.Time
	looks    map[uint64][]time.Time
	now, top int // calls under way, and the most at once
	busy     map[string]bool
	overlaps int // two posts of one channel at once
	dead     bool
}

func newChannels() *channels {
	return &channels{tries: map[uint64][]time.Time{}, looks: map[uint64][]time.Time{}, busy: map[string]bool{}}
}

func (c *channels) begin(e store.Leased, calls map[uint64][]time.Time) (try int, dead bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.dead {
		return 0, true
	}
	calls[e.ID] = append(calls[e.ID], time.Now())
	c.now++
	c.top = max(c.top, c.now)
	if c.busy[e.Channel] {
		c.overlaps++
	}
	c.busy[e.Channel] = true
	return len(calls[e.ID]), false
}

func (c *channels) end(e store.Leased, arrived bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now--
	c.busy[e.Channel] = false
	if arrived && !c.dead {
		c.messages = append(c.messages, message{e.ID, e.Channel, string(e.Body), time.Now()})
	}
}

// Post implements outbox.Sender.
func (c *channels) Post(ctx context.Context, e store.Leased) error {
	try, dead := c.begin(e, c.tries)
	if dead {
		<-ctx.Done()
		return ctx.Err()
	}
	a := taken
	if c.answer != nil {
		a = c.answer(e, try)
	}
	// No timer of no time: many at once in a bubble upset the race detector
	// (https://github.com/golang/go/issues/78156).
	if a.takes > 0 {
		select {
		case <-time.After(a.takes):
		case <-ctx.Done():
			a = answer{err: ctx.Err()}
		}
	}
	c.end(e, a.in)
	return a.err
}

// Posted implements outbox.Sender.
func (c *channels) Posted(_ context.Context, e store.Leased) (bool, error) {
	try, dead := c.begin(e, c.looks)
	if dead {
		return false, errors.New("dead")
	}
	defer c.end(e, false)
	if c.look != nil {
		if err := c.look(e, try); err != nil {
			return false, err
		}
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, m := range c.messages {
		if m.id == e.ID {
			return true, nil
		}
	}
	return false, nil
}

// arrived lists what is in a channel: bodies and the seconds since a time.
func (c *channels) arrived(channel string, since time.Time) string {
	c.mu.Lock()
	defer c.mu.Unlock()
	var b strings.Builder
	for _, m := range c.messages {
		if m.channel == channel {
			fmt.Fprintf(&b, "%s@%g ", m.body, m.at.Sub(since).Seconds())
		}
	}
	return strings.TrimSpace(b.String())
}

// counts tells how many messages arrived, how often entries were looked for,
// and how many calls were under way at most.
func (c *channels) counts() (messages, looks, top int) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, l := range c.looks {
		looks += len(l)
	}
	return len(c.messages), looks, c.top
}

// tried tells when an entry was posted, looked when it was looked for.
func (c *channels) tried(id uint64) []time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return slices.Clone(c.tries[id])
}

func (c *channels) looked(id uint64) []time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return slices.Clone(c.looks[id])
}

// watched is a store that can be made to fail, and counts.
type watched struct {
	store.Store
	mu    sync.Mutex
	fail  func(operation string) error // nil: never
	calls map[string]int
}

func (w *watched) call(operation string) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.calls == nil {
		w.calls = map[string]int{}
	}
	w.calls[operation]++
	if w.fail != nil {
		return w.fail(operation)
	}
	return nil
}

// count tells how often an operation was called.
func (w *watched) count(operation string) int {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.calls[operation]
}

// failing makes the store fail, or work again.
func (w *watched) failing(fail func(operation string) error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.fail = fail
}

func (w *watched) Lease(ctx context.Context, now time.Time, lease time.Duration, n int) ([]store.Leased, error) {
	if err := w.call("lease"); err != nil {
		return nil, err
	}
	return w.Store.Lease(ctx, now, lease, n)
}

func (w *watched) Sent(ctx context.Context, id uint64) error {
	if err := w.call("sent"); err != nil {
		return err
	}
	return w.Store.Sent(ctx, id)
}

func (w *watched) Retry(ctx context.Context, id uint64, due time.Time) error {
	if err := w.call("retry"); err != nil {
		return err
	}
	return w.Store.Retry(ctx, id, due)
}

// out is an entry whose body is its name.
func out(channel, body string) store.Outgoing {
	return store.Outgoing{Channel: channel, Body: []byte(body)}
}

func put(t testing.TB, s store.Store, entries ...store.Outgoing) {
	t.Helper()
	if _, err := s.Apply(t.Context(), store.Change{Outbox: entries}); err != nil {
		t.Fatal(err)
	}
}

// left lists what is in the outbox, due at whatever time.
func left(t testing.TB, s store.Store) string {
	t.Helper()
	var names []string
	for {
		leased, err := s.Lease(t.Context(), time.Now().AddDate(1, 0, 0), time.Hour, 1000)
		if err != nil {
			t.Fatal(err)
		}
		if len(leased) == 0 {
			return strings.Join(names, " ")
		}
		for _, e := range leased {
			names = append(names, string(e.Body))
		}
	}
}

// toSlack routes what is in a channel whose name begins with C.
func toSlack(e store.Leased) (string, bool) { return e.Channel, strings.HasPrefix(e.Channel, "C") }

// running is a worker that runs.
type running struct {
	*outbox.Worker
	cancel context.CancelFunc
	done   chan struct{}
	err    error // once done
}

func start(t testing.TB, s outbox.Store, c outbox.Sender, change ...func(*outbox.Options)) *running {
	t.Helper()
	o := outbox.Options{Store: s, Sender: c, Route: toSlack}
	for _, f := range change {
		f(&o)
	}
	ctx, cancel := context.WithCancel(t.Context())
	r := &running{Worker: outbox.New(o), cancel: cancel, done: make(chan struct{})}
	go func() {
		defer close(r.done)
		r.err = r.Run(ctx)
	}()
	return r
}

// stop ends the worker and says what Run returned.
func (r *running) stop() error {
	r.cancel()
	<-r.done
	return r.err
}

// sleep lets time pass in a bubble, and then everything happen that is due.
func sleep(d time.Duration) {
	time.Sleep(d)
	synctest.Wait()
}
