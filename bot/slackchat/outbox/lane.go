package outbox

import (
	"cmp"
	"context"
	"slices"
	"time"

	"ferrule/store"
)

// lane sends the entries of one channel, one after the other. It ends when
// there is nothing to send and the next entry would not have to wait.
type lane struct {
	channel string
	queue   []*entry      // by ID, without the one that is being sent; guarded by run.mu
	wake    chan struct{} // something was queued
	free    time.Time     // when the next post may begin; the lane's own
}

// enqueue puts an entry into its lane, and starts the lane where there is none.
func (r *run) enqueue(ctx context.Context, channel string, leased store.Leased) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.known(leased.ID) {
		return
	}
	e := &entry{Leased: leased, doubt: leased.Attempts > 1}
	r.hold(e)
	l := r.lane[channel]
	if l == nil {
		l = &lane{channel: channel, wake: make(chan struct{}, 1)}
		r.lane[channel] = l
		r.lanes.Go(func() { r.serve(ctx, l) })
	}
	at, _ := slices.BinarySearchFunc(l.queue, e.ID, func(e *entry, id uint64) int { return cmp.Compare(e.ID, id) })
	l.queue = slices.Insert(l.queue, at, e)
	select {
	case l.wake <- struct{}{}:
	default:
	}
}

// serve sends what comes into a lane until the lane or the worker ends.
func (r *run) serve(ctx context.Context, l *lane) {
	for !r.stopped() {
		e, ended := r.next(l)
		switch {
		case ended:
			return
		case e == nil:
			r.pause(time.Until(l.free), l.wake)
		default:
			r.deliver(ctx, l, e)
		}
	}
}

// next takes the first entry of a lane, if there is one. The lane has ended
// when there is none and it need not be remembered when one was posted last.
func (r *run) next(l *lane) (e *entry, ended bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	for len(l.queue) > 0 {
		e, l.queue[0] = l.queue[0], nil
		l.queue = l.queue[1:]
		if r.held[e.ID] == e { // else it was replaced
			return e, false
		}
	}
	if time.Now().Before(l.free) {
		return nil, false
	}
	delete(r.lane, l.channel)
	return nil, true
}

// deliver sends one entry, however long that takes. It returns when the entry
// is sent, refused or replaced, and when the worker stops.
func (r *run) deliver(ctx context.Context, l *lane, e *entry) {
	var failures backoff
	var wait time.Duration
	for r.pause(max(wait, time.Until(l.free)), nil) && r.holds(e) {
		o := r.attempt(ctx, l, e)
		switch o.verdict {
		case posted:
			r.takeOut(e)
			return
		case refused:
			r.Log.Error("outbox: refused", "entry", e.ID, "channel", l.channel, "code", code(o.err))
			r.takeOut(e)
			if r.Refused != nil {
				r.Refused(e.Leased, o.err)
			}
			return
		case fatal:
			r.Log.Error("outbox: can't go on", "entry", e.ID, "channel", l.channel, "code", code(o.err))
			r.halt(o.err)
			return
		}
		if wait = o.wait; wait <= 0 {
			wait = failures.next()
		}
		if o.err != nil {
			r.Log.Warn("outbox: tries again", "entry", e.ID, "channel", l.channel, "code", code(o.err), "doubt", e.doubt, "wait", wait)
		}
	}
}

func (r *run) holds(e *entry) bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.held[e.ID] == e
}

// takeOut lets go of an entry that was posted or refused; the store is told soon.
func (r *run) takeOut(e *entry) {
	r.mu.Lock()
	r.drop(e)
	r.unsettled[e.ID] = settlement{id: e.ID, sent: true}
	r.mu.Unlock()
	select {
	case r.settling <- struct{}{}:
	default:
	}
}

// attempt tries to post an entry; first it looks where the entry is in doubt.
func (r *run) attempt(ctx context.Context, l *lane, e *entry) outcome {
	select {
	case r.slots <- struct{}{}:
		defer func() { <-r.slots }()
	case <-r.stopping:
	}
	if e.doubt {
		if o := r.look(ctx, e); o.verdict == posted || e.doubt {
			return o
		}
	}
	if r.stopped() {
		return outcome{verdict: unsent}
	}
	l.free = time.Now().Add(r.Every)
	o := judge(r.Sender.Post(ctx, e.Leased))
	if now := time.Now(); now.After(l.free) { // the last of several messages may be from just now
		l.free = now.Add(r.Every)
	}
	e.doubt = o.verdict == doubtful
	return o
}

// look finds out whether an entry in doubt was posted, and takes the doubt away
// where it was not. Looking is limited over all channels together, so that what
// Slack says to one holds for all.
func (r *run) look(ctx context.Context, e *entry) outcome {
	r.mu.Lock()
	wait := time.Until(r.lookFrom)
	r.mu.Unlock()
	if wait > 0 || r.stopped() {
		return outcome{verdict: unsent, wait: wait}
	}
	there, err := r.Sender.Posted(ctx, e.Leased)
	o := judge(err)
	switch {
	case there:
		return outcome{verdict: posted}
	case o.verdict == posted: // the answer came, and it was no
		e.doubt = false
		return outcome{verdict: unsent}
	case o.verdict == refused:
		// A message may be allowed where looking is not. Better twice than
		// not at all.
		r.Log.Warn("outbox: can't look, posts all the same", "entry", e.ID, "code", code(err))
		e.doubt = false
	case o.wait > 0:
		r.mu.Lock()
		r.lookFrom = time.Now().Add(o.wait)
		r.mu.Unlock()
	}
	return o
}
