// Package outbox sends what waits in the store's outbox to Slack.
//
// Each channel of Slack has a lane of its own: its entries go out one after
// the other, in the order in which they were put in (by the store's ID), a
// second apart, since that is what Slack allows. The first of an idle channel
// goes at once. While one entry waits, because Slack said so or because a try
// failed, those behind it wait as well; other channels go on.
//
// # At least once, and in practice once
//
// Slack knows no key by which it would refuse a message that it has already.
// An entry is taken out of the store after it was posted, so a process that
// dies in between leaves an entry that was posted; a connection that breaks
// leaves one of which nobody knows. Both are in doubt, and Sender.Posted is
// asked before they are posted again. An entry that was handed out before
// (Leased.Attempts) is in doubt, too, even where a stop gave it back untried:
// the store does not know better.
//
// Tries go on for as long as it takes, so an entry whose every try fails without
// an answer holds up its channel; the log names it.
//
// # Leases
//
// What is posted is taken out of the store a second later, together with what
// else was posted meanwhile: a commit for each would hold up those that store
// messages.
//
// The worker keeps what it leased until it is sent. When the lease of such an
// entry ends, the store hands it out again: that is how leases are prolonged,
// many at a time. Such an entry is known by its ID and not queued again. Due
// times of entries for Slack are never changed, so that an order that was right
// when a process died is right for the next one: Run begins by leasing what
// comes due within a lease, which is all that the dead process held, puts back
// what is really due later, and sends the rest in order of its IDs.
//
// There is one worker for a store.
package outbox

import (
	"context"
	"log/slog"
	"sync"
	"time"

	"ferrule/store"
)

// Store is what the worker needs of a store.Store.
type Store interface {
	Lease(ctx context.Context, now time.Time, lease time.Duration, n int) ([]store.Leased, error)
	Sent(ctx context.Context, id uint64) error
	Retry(ctx context.Context, id uint64, due time.Time) error
}

// Sender posts to Slack. It is called from many goroutines, but never for two
// entries of a channel at once. Its errors are those of slack-go, of the
// network, or slackchat.ErrNeverSent; what is none of them counts as a try that
// may have gone through. It returns when its context ends.
type Sender interface {
	// Post posts one entry, which may be several messages: it keeps the
	// distance between those itself.
	Post(ctx context.Context, e store.Leased) error
	// Posted looks whether an entry is in its channel already.
	Posted(ctx context.Context, e store.Leased) (bool, error)
}

// Options say what is sent, and how. Store, Sender and Route have to be set.
type Options struct {
	Store  Store
	Sender Sender
	// Route tells the Slack channel of an entry, and false for what is not
	// for Slack, such as a reminder of a conversation in a terminal. That is
	// put back for an hour, and dropped after a week of it.
	Route func(store.Leased) (channel string, ok bool)
	// Refused hears of the entries that Slack will never take, after they
	// were taken out. It is called from many goroutines and returns soon.
	Refused func(store.Leased, error)

	Every time.Duration // between two posts of a channel; 0 means a second
	Lease time.Duration // how long the store keeps an entry for this worker; 0 means two minutes
	Poll  time.Duration // how often the store is asked without a kick; 0 means two seconds
	Grace time.Duration // what is under way has this long to end after a stop; 0 means five seconds
	// Settle is how long what was posted waits to be taken out of the store
	// together with other entries; 0 means a second.
	Settle time.Duration
	AtOnce int              // posts under way over all channels; 0 means 64
	Now    func() time.Time // for times in the store; nil means time.Now
	Log    *slog.Logger     // nil means none
}

// Worker sends what waits.
type Worker struct {
	options Options
	kicks   chan struct{}

	mu      sync.Mutex
	running *run           // that has taken over what was left; nil before and after
	early   []store.Leased // taken before
}

// New makes a worker, which does nothing before Run.
func New(o Options) *Worker {
	fill(&o.Every, time.Second)
	fill(&o.Lease, 2*time.Minute)
	fill(&o.Poll, 2*time.Second)
	fill(&o.Grace, 5*time.Second)
	fill(&o.Settle, time.Second)
	fill(&o.AtOnce, 64)
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	return &Worker{options: o, kicks: make(chan struct{}, 1)}
}

func fill[T int | time.Duration](option *T, usual T) {
	if *option <= 0 {
		*option = usual
	}
}

// Kick says that something was put into the outbox. It never blocks, and many
// kicks are one.
func (w *Worker) Kick() {
	select {
	case w.kicks <- struct{}{}:
	default:
	}
}

// Take has an entry sent that the caller was handed when it put it in
// (store.Outgoing.Held). It does not wait for that. What is taken before Run
// goes after what another process left.
func (w *Worker) Take(e store.Leased) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.running == nil {
		w.early = append(w.early, e)
		return
	}
	w.running.take(w.running.work, []store.Leased{e})
}

// begin lets entries in that are taken, those first that were early: what was
// left by another process goes before them.
func (w *Worker) begin(r *run) {
	w.mu.Lock()
	defer w.mu.Unlock()
	r.take(r.work, w.early)
	w.running, w.early = r, nil
}

// end lets no more entries in.
func (w *Worker) end() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.running = nil
}

// Run sends until ctx ends, and then returns nil; or until Slack gives an
// answer that no trying again mends, and then returns the *slackchat.Fatal. In
// both cases nothing that was not sent is taken out of the outbox.
func (w *Worker) Run(ctx context.Context) error {
	if ctx.Err() != nil {
		return nil
	}
	work, giveUp := context.WithCancel(context.WithoutCancel(ctx))
	defer giveUp()
	r := newRun(w.options, w.kicks, giveUp)
	r.work = work
	defer context.AfterFunc(ctx, func() { r.halt(nil) })()

	if r.takeOver(work) {
		w.begin(r)
		r.lanes.Go(func() { r.settleSoon(work) })
		r.feed(work)
		w.end()
	}
	r.lanes.Wait()
	r.grace.Stop()
	r.release(context.WithoutCancel(ctx))
	return r.fatal
}
