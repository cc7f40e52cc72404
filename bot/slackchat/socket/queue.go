package socket

import "sync"

// queue hands what the readers bring to one taker, in order. It takes at most
// most bytes, so that a receiver that has come to a halt does not eat the memory.
type queue struct {
	most int

	mu     sync.Mutex
	items  []item
	bytes  int
	closed bool
	some   chan struct{} // holds one when items or closed have changed
}

// item is a delivery on its way to the receiver.
type item struct {
	frame frame
	from  *conn
}

// perItem is counted for each item besides its payload.
const perItem = 512

func (i item) size() int { return perItem + len(i.frame.Delivery.Payload) }

func newQueue(most int) *queue { return &queue{most: most, some: make(chan struct{}, 1)} }

// push says whether the item was taken; an empty queue takes any.
func (q *queue) push(i item) bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.closed || len(q.items) > 0 && q.bytes+i.size() > q.most {
		return false
	}
	q.items = append(q.items, i)
	q.bytes += i.size()
	notify(q.some)
	return true
}

// pop waits for an item; there is none when the queue is closed and empty.
func (q *queue) pop() (item, bool) {
	for {
		q.mu.Lock()
		if len(q.items) > 0 {
			i := q.items[0]
			q.items[0] = item{}
			q.items = q.items[1:]
			q.bytes -= i.size()
			q.mu.Unlock()
			return i, true
		}
		closed := q.closed
		q.mu.Unlock()
		if closed {
			return item{}, false
		}
		<-q.some
	}
}

// close makes the queue take nothing more; what it has is still given out.
func (q *queue) close() {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.closed = true
	notify(q.some)
}

// tally counts the deliveries under way.
type tally struct {
	mu   sync.Mutex
	n    int
	zero chan struct{} // closed when n is 0 again; nil while nobody asks
}

func (t *tally) add() {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.n++
}

func (t *tally) done() {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.n--; t.n == 0 && t.zero != nil {
		close(t.zero)
		t.zero = nil
	}
}

// idle gives a channel that is closed as soon as nothing is under way.
func (t *tally) idle() <-chan struct{} {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.n == 0 {
		none := make(chan struct{})
		close(none)
		return none
	}
	if t.zero == nil {
		t.zero = make(chan struct{})
	}
	return t.zero
}
