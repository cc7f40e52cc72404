package outbox

import (
	"context"
	"sync"
	"time"
)

// settleTime is how long the store has, at a stop, to be told what is left.
const settleTime = 5 * time.Second

// settlement is what the store has to be told about an entry: that it was
// sent, or when it is due.
type settlement struct {
	id   uint64
	sent bool
	due  time.Time
}

// settle tells the store, and lets go of the entry. Where that fails it is
// remembered, and the entry is not sent again.
func (r *run) settle(ctx context.Context, s settlement) error {
	var err error
	if s.sent {
		err = r.Store.Sent(ctx, s.id)
	} else {
		err = r.Store.Retry(ctx, s.id, s.due)
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if e := r.held[s.id]; e != nil {
		r.drop(e)
	}
	if err != nil {
		r.unsettled[s.id] = s
		return err
	}
	delete(r.unsettled, s.id)
	if s.sent {
		r.marked[s.id] = struct{}{}
	}
	return nil
}

// atOnce is how many entries the store is told about side by side.
const atOnce = 1000

// settleAll tells the store about many entries side by side, so that they share
// its commits.
func (r *run) settleAll(ctx context.Context, all []settlement) {
	var mu sync.Mutex
	var failed int
	var last error
	each(atOnce, all, func(s settlement) {
		if err := r.settle(ctx, s); err != nil {
			mu.Lock()
			defer mu.Unlock()
			failed, last = failed+1, err
		}
	})
	if failed > 0 {
		r.Log.Warn("outbox: the store does not take what became of entries", "entries", failed, "err", last)
	}
}

// each calls f for all items, n at a time.
func each[T any](n int, items []T, f func(T)) {
	var wg sync.WaitGroup
	queue := make(chan T)
	for range min(n, len(items)) {
		wg.Go(func() {
			for item := range queue {
				f(item)
			}
		})
	}
	for _, item := range items {
		queue <- item
	}
	close(queue)
	wg.Wait()
}

// settleSoon tells the store what was posted, a while after the first of it,
// until the worker stops.
func (r *run) settleSoon(ctx context.Context) {
	for {
		select {
		case <-r.stopping:
			return // release tells what is left
		case <-r.settling:
		}
		if !r.pause(r.Settle, nil) {
			return
		}
		r.settleAgain(ctx)
	}
}

// settleAgain tells the store what it was not told yet, or could not be told.
func (r *run) settleAgain(ctx context.Context) {
	r.mu.Lock()
	var all []settlement
	for _, s := range r.unsettled {
		all = append(all, s)
	}
	r.mu.Unlock()
	r.settleAll(ctx, all)
}

// release gives what was not sent back to the store, due when it was, so that
// the next start sends it at once and in the same order.
func (r *run) release(ctx context.Context) {
	ctx, cancel := context.WithTimeout(ctx, settleTime)
	defer cancel()
	r.settleAgain(ctx)
	r.mu.Lock()
	var left []settlement
	for _, e := range r.held {
		left = append(left, settlement{id: e.ID, due: e.Due})
	}
	r.mu.Unlock()
	r.settleAll(ctx, left)
	r.Log.Info("outbox: stopped", "left", len(left))
}
