package socket

import (
	"context"
	"sync"
	"time"
)

// mostQueued is how many bytes of deliveries may wait for the receiver.
const mostQueued = 32 << 20

// switchboard stands between the connections and the receiver.
type switchboard struct {
	Options
	receiving context.Context // of the receiver: ends after the grace period
	giveUp    context.CancelFunc
	queue     *queue
	underway  tally
	catchUp   chan struct{} // holds one when Ready is to be called
	routines  sync.WaitGroup

	mu sync.Mutex
	// conns are those that are not at their end yet: true for those that are up.
	conns map[*conn]bool
}

// newSwitchboard starts what hands deliveries on; ctx is the one of Run.
func newSwitchboard(ctx context.Context, o Options) *switchboard {
	b := &switchboard{
		Options: o, queue: newQueue(mostQueued),
		catchUp: make(chan struct{}, 1), conns: map[*conn]bool{},
	}
	b.receiving, b.giveUp = context.WithCancel(context.WithoutCancel(ctx))
	b.routines.Go(b.deliver)
	if b.Ready != nil {
		b.routines.Go(func() {
			for {
				select {
				case <-b.catchUp:
					b.Ready(ctx)
				case <-ctx.Done():
					return
				}
			}
		})
	}
	return b
}

// start begins to read from and write to a connection.
func (b *switchboard) start(c *conn) {
	b.mu.Lock()
	b.conns[c] = false
	b.mu.Unlock()
	b.routines.Go(c.read)
	b.routines.Go(c.write)
}

// join counts a connection as up. When none was, or when missed says that
// something may have been lost meanwhile, Ready is called.
func (b *switchboard) join(c *conn, missed bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if _, there := b.conns[c]; !there {
		return // it has ended meanwhile
	}
	others := false
	for _, up := range b.conns {
		others = others || up
	}
	b.conns[c] = true
	if !others || missed {
		notify(b.catchUp)
	}
}

func (b *switchboard) leave(c *conn) {
	b.mu.Lock()
	defer b.mu.Unlock()
	delete(b.conns, c)
}

// take is called by the readers: it hands a delivery on, and acknowledges at
// once what will never be one.
func (b *switchboard) take(c *conn, f frame) {
	if !f.deliverable() {
		b.Log.Warn("a frame that can't be used", "type", short(f.Type), "broken", f.Broken, "acknowledged", f.Envelope != "")
		b.acknowledge(c, f, nil)
		return
	}
	b.underway.add()
	c.underway.add()
	if !b.queue.push(item{f, c}) {
		// Without an acknowledgement it is delivered again.
		b.Log.Warn("a delivery was left for later: too many wait, or the bot is stopping", "type", f.Type, "attempt", f.Delivery.Attempt)
		b.over(c)
	}
}

func (b *switchboard) over(c *conn) {
	c.underway.done()
	b.underway.done()
}

// deliver gives deliveries to the receiver, in order, until the queue is
// closed and empty.
func (b *switchboard) deliver() {
	for {
		i, more := b.queue.pop()
		if !more {
			return
		}
		if b.receiving.Err() != nil {
			b.over(i.from)
			continue
		}
		var once sync.Once
		b.Receive(b.receiving, i.frame.Delivery, func(answer []byte, err error) {
			once.Do(func() {
				defer b.over(i.from)
				if err != nil {
					b.Log.Warn("a delivery was not taken", "type", i.frame.Type, "attempt", i.frame.Delivery.Attempt, "err", err)
					return
				}
				b.acknowledge(i.from, i.frame, answer)
			})
		})
	}
}

// acknowledge sends an acknowledgement over the connection that brought the
// envelope, or over another one if that has ended.
func (b *switchboard) acknowledge(c *conn, f frame, answer []byte) {
	if f.Envelope == "" {
		return
	}
	data, problem := ack(f, answer)
	if problem != "" {
		b.Log.Error("acknowledging without the answer", "type", short(f.Type), "bytes", len(answer), "problem", problem)
	}
	if data != nil && !c.send(data) {
		b.pass(data, c)
	}
}

// pass sends an acknowledgement over any connection that is up but the one
// that could not send it. If none can, it is dropped: the delivery comes again.
func (b *switchboard) pass(data []byte, not *conn) {
	b.mu.Lock()
	var others []*conn
	for c, up := range b.conns {
		if up && c != not {
			others = append(others, c)
		}
	}
	b.mu.Unlock()
	for _, c := range others {
		if c.send(data) {
			return
		}
	}
	b.Log.Info("an acknowledgement was dropped: no connection is up")
}

// retire ends a connection that has been replaced, when its deliveries are
// done or have had their grace period.
func (b *switchboard) retire(c *conn) {
	b.routines.Go(func() {
		b.await(&c.underway, c.gone)
		c.finish()
	})
}

// stop takes no more deliveries, gives those under way their grace period,
// closes all connections and waits for every goroutine.
func (b *switchboard) stop() {
	b.queue.close()
	b.await(&b.underway, nil)
	b.giveUp()
	b.mu.Lock()
	var all []*conn
	for c := range b.conns {
		all = append(all, c)
	}
	b.mu.Unlock()
	for _, c := range all {
		c.finish()
	}
	b.routines.Wait()
}

// await waits until nothing is under way, for the grace period, or for stop.
func (b *switchboard) await(t *tally, stop <-chan struct{}) {
	timer := time.NewTimer(b.Grace)
	defer timer.Stop()
	select {
	case <-t.idle():
	case <-stop:
	case <-timer.C:
	}
}

// short keeps a word from outside from filling a log.
func short(word string) string {
	if runes := []rune(word); len(runes) > 40 {
		return string(runes[:40])
	}
	return word
}
