package slackchat

import (
	"slices"
	"strings"
	"sync"
	"time"
)

// parked keeps messages of threads without a case for a while. Slack may
// deliver a reply before the message that it replies to: when that one opens a
// case, those that were written after it belong to it.
type parked struct {
	mu      sync.Mutex
	threads map[string][]parkedMessage
	count   int
	expired time.Time // when old ones were dropped last
}

type parkedMessage struct {
	message
	until time.Time
}

const (
	parkedFor  = 10 * time.Minute // Slack's last repetition comes after some five
	mostParked = 2000
)

func (p *parked) put(thread string, m message, now time.Time) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.count >= mostParked || now.Sub(p.expired) > time.Minute {
		p.expire(now)
		p.expired = now
	}
	if p.count >= mostParked {
		return
	}
	if p.threads == nil {
		p.threads = map[string][]parkedMessage{}
	}
	p.threads[thread] = append(p.threads[thread], parkedMessage{m, now.Add(parkedFor)})
	p.count++
}

func (p *parked) expire(now time.Time) {
	for thread := range p.threads {
		p.keep(thread, func(m parkedMessage) bool { return now.Before(m.until) })
	}
}

func (p *parked) keep(thread string, good func(parkedMessage) bool) {
	before := len(p.threads[thread])
	if before == 0 {
		return
	}
	left := slices.DeleteFunc(p.threads[thread], func(m parkedMessage) bool { return !good(m) })
	p.count -= before - len(left)
	if p.threads[thread] = left; len(left) == 0 {
		delete(p.threads, thread)
	}
}

// edit changes the text of a message that is parked.
func (p *parked) edit(thread, stamp, text string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for i := range p.threads[thread] {
		if m := &p.threads[thread][i]; m.Stamp == stamp {
			m.Text = text
		}
	}
}

func (p *parked) drop(thread, stamp string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.keep(thread, func(m parkedMessage) bool { return m.Stamp != stamp })
}

// take gives the messages of a thread that were written after a stamp, in order.
func (p *parked) take(thread, stamp string, now time.Time) []message {
	p.mu.Lock()
	defer p.mu.Unlock()
	var out []message
	for _, m := range p.threads[thread] {
		if m.Stamp > stamp && now.Before(m.until) {
			out = append(out, m.message)
		}
	}
	p.keep(thread, func(parkedMessage) bool { return false })
	slices.SortFunc(out, func(a, b message) int { return strings.Compare(a.Stamp, b.Stamp) })
	return out
}

// unpark has the messages answered that were delivered before the one that
// opened their case.
func (a *App) unpark(c conversation, stamp string) {
	for _, m := range a.parked.take(c.String(), stamp, a.Now()) {
		a.said(c.channel, m, func([]byte, error) {})
	}
}
