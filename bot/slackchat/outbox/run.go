package outbox

import (
	"cmp"
	"context"
	"slices"
	"sync"
	"time"

	"ferrule/store"
)

// batch is how many entries are leased at once.
const batch = 500

// Entries that are not for Slack are put aside for an hour at a time, so that
// how often they were handed out tells for how long: the store has no other
// mark of it.
const (
	aside     = time.Hour
	asideMost = 7 * 24
)

// run is what one Run works with. One goroutine feeds the lanes from the
// store; each lane has one that sends.
type run struct {
	Options
	kicks  <-chan struct{}
	giveUp context.CancelFunc // ends the posts that are under way
	slots  chan struct{}      // one for each post that is under way
	lanes  sync.WaitGroup
	work   context.Context // of everything that is under way; it outlives the stop by the grace

	stopping chan struct{} // closed: no new post begins
	halted   sync.Once
	fatal    error       // why, once stopping is closed; nil when it was asked for
	grace    *time.Timer // set once stopping is closed

	mu        sync.Mutex
	lane      map[string]*lane // by channel; those with something to do
	held      map[uint64]*entry
	keys      map[string]*entry     // the held entry of a key
	unsettled map[uint64]settlement // what the store could not be told yet
	marked    map[uint64]struct{}   // taken out since the last lease began
	lookFrom  time.Time             // Slack wants no looking before

	settling chan struct{} // something was posted that the store does not know of
}

// entry is a leased entry that this worker holds.
type entry struct {
	store.Leased
	doubt bool // a try may have gone through: look before posting
}

func newRun(o Options, kicks <-chan struct{}, giveUp context.CancelFunc) *run {
	return &run{
		Options: o, kicks: kicks, giveUp: giveUp,
		slots:     make(chan struct{}, o.AtOnce),
		stopping:  make(chan struct{}),
		lane:      map[string]*lane{},
		held:      map[uint64]*entry{},
		keys:      map[string]*entry{},
		unsettled: map[uint64]settlement{},
		marked:    map[uint64]struct{}{},
		settling:  make(chan struct{}, 1),
	}
}

// halt begins the stop. The first cause counts.
func (r *run) halt(cause error) {
	r.halted.Do(func() {
		r.fatal = cause
		r.grace = time.AfterFunc(r.Grace, r.giveUp)
		close(r.stopping)
	})
}

func (r *run) stopped() bool {
	select {
	case <-r.stopping:
		return true
	default:
		return false
	}
}

// pause waits, or less where something wakes it. It returns false when the
// worker stops.
func (r *run) pause(d time.Duration, wake <-chan struct{}) bool {
	if d > 0 {
		t := time.NewTimer(d)
		defer t.Stop()
		select {
		case <-r.stopping:
		case <-wake:
		case <-t.C:
		}
	}
	return !r.stopped()
}

// takeOver takes what a process that died had leased, together with what is
// due, so that the order of a channel begins with the oldest. It returns false
// when the worker stops.
func (r *run) takeOver(ctx context.Context) bool {
	var failures backoff
	var all []store.Leased
	now := r.Now()
	ahead := now.Add(r.Lease) // the leases of the dead end before
	for {
		// These leases end with the time that is looked at, no later, so that
		// they are within reach of the next start.
		leased, err := r.Store.Lease(ctx, ahead, 1, batch)
		if err != nil {
			wait := failures.next()
			r.Log.Warn("outbox: can't begin", "err", err, "wait", wait)
			if !r.pause(wait, nil) {
				return false
			}
			continue
		}
		if len(leased) == 0 {
			break
		}
		all = append(all, leased...)
	}
	var back []settlement
	all = slices.DeleteFunc(all, func(e store.Leased) bool {
		later := e.Due.After(now)
		if later {
			back = append(back, settlement{id: e.ID, due: e.Due})
		}
		return later
	})
	r.settleAll(ctx, back)
	r.take(ctx, all)
	return !r.stopped()
}

// feed hands what comes due to the lanes until the worker stops.
func (r *run) feed(ctx context.Context) {
	var failures backoff
	wait, wake := r.Poll, r.kicks
	for r.pause(wait, wake) {
		wait, wake = r.Poll, r.kicks
		r.settleAgain(ctx)
		if err := r.lease(ctx); err != nil {
			wait, wake = failures.next(), nil // a kick does not mend the store
			r.Log.Warn("outbox: can't lease", "err", err, "wait", wait)
			continue
		}
		failures = 0
	}
}

// lease takes all that is due.
func (r *run) lease(ctx context.Context) error {
	for !r.stopped() {
		r.mu.Lock()
		clear(r.marked)
		r.mu.Unlock()
		leased, err := r.Store.Lease(ctx, r.Now(), r.Lease, batch)
		if err != nil {
			return err
		}
		if len(leased) == 0 { // a short answer may only mean long entries
			return nil
		}
		r.take(ctx, leased)
	}
	return nil
}

// take puts leased entries into the lanes of their channels.
func (r *run) take(ctx context.Context, leased []store.Leased) {
	slices.SortFunc(leased, func(a, b store.Leased) int { return cmp.Compare(a.ID, b.ID) })
	var others []settlement
	for _, e := range leased {
		channel, ok := r.Route(e)
		switch {
		case ok:
			r.enqueue(ctx, channel, e)
		case e.Attempts > asideMost:
			r.Log.Info("outbox: dropped, nobody came for it", "entry", e.ID)
			others = append(others, settlement{id: e.ID, sent: true})
		default:
			others = append(others, settlement{id: e.ID, due: r.Now().Add(aside)})
		}
	}
	r.settleAll(ctx, others)
}

// known tells whether an entry that the store handed out is in hand already,
// or was taken out while the store was handing it out. mu is held.
func (r *run) known(id uint64) bool {
	_, marked := r.marked[id]
	_, unsettled := r.unsettled[id]
	return marked || unsettled || r.held[id] != nil
}

// hold takes an entry into hand. One with the same key that is in hand was
// replaced by it and has left the store. mu is held.
func (r *run) hold(e *entry) {
	if e.Outgoing.Key != "" {
		if old := r.keys[e.Outgoing.Key]; old != nil {
			r.drop(old)
		}
		r.keys[e.Outgoing.Key] = e
	}
	r.held[e.ID] = e
}

// drop lets go of an entry. mu is held.
func (r *run) drop(e *entry) {
	delete(r.held, e.ID)
	if r.keys[e.Outgoing.Key] == e {
		delete(r.keys, e.Outgoing.Key)
	}
}
