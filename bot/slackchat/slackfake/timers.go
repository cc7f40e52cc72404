package slackfake

import (
	"sync"
	"time"
)

// timers runs functions later and lets none of them outlive Close.
type timers struct {
	mu     sync.Mutex
	set    map[*time.Timer]struct{}
	wg     sync.WaitGroup
	closed bool
}

// after runs f in d, unless stop is called first or everything is closed.
func (t *timers) after(d time.Duration, f func()) (stop func()) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.closed {
		return func() {}
	}
	t.wg.Add(1)
	var timer *time.Timer
	timer = time.AfterFunc(d, func() {
		defer t.wg.Done()
		t.mu.Lock() // also waits until timer is set
		delete(t.set, timer)
		closed := t.closed
		t.mu.Unlock()
		if !closed {
			f()
		}
	})
	t.set[timer] = struct{}{}
	return func() {
		t.mu.Lock()
		defer t.mu.Unlock()
		t.stop(timer)
	}
}

func (t *timers) stop(timer *time.Timer) {
	if timer.Stop() {
		delete(t.set, timer)
		t.wg.Done()
	}
}

// close stops what has not begun and waits for what has.
func (t *timers) close() {
	t.mu.Lock()
	t.closed = true
	for timer := range t.set {
		t.stop(timer)
	}
	t.mu.Unlock()
	t.wg.Wait()
}

// notice wakes those who wait for something to change.
type notice struct {
	mu      sync.Mutex
	ch      chan struct{}
	waiting bool
}

// next is closed at the next change.
func (n *notice) next() <-chan struct{} {
	n.mu.Lock()
	defer n.mu.Unlock()
	if n.ch == nil {
		n.ch = make(chan struct{})
	}
	n.waiting = true
	return n.ch
}

func (n *notice) changed() {
	n.mu.Lock()
	defer n.mu.Unlock()
	if n.waiting {
		close(n.ch)
		n.ch, n.waiting = make(chan struct{}), false
	}
}
