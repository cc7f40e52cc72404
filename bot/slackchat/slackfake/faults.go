package slackfake

import (
	"fmt"
	"slices"
	"strconv"
	"sync"
	"time"
)

// Fault is what goes wrong with a call of the Web API.
type Fault struct {
	Times  int           // how many calls; one if 0
	Delay  time.Duration // before anything is done
	Status int           // an HTTP status in place of an answer, such as 500 or 429
	// RetryAfter is the header of that name, in whole seconds, for a status
	// of 429; 1 s if it is 0, and no header at all with NoRetryAfter.
	RetryAfter   time.Duration
	NoRetryAfter bool
	Error        string // an answer of ok: false with this word
	// Lost is a call that is carried out, and whose answer is lost: the
	// connection is cut.
	Lost bool
}

// faults are those that wait for a call, by method.
type faults struct {
	mu   sync.Mutex
	next map[string][]*Fault
	seen map[string]int // calls
}

func (f *faults) init() {
	f.next, f.seen = map[string][]*Fault{}, map[string]int{}
}

// take gives the fault of a call, or nil.
func (f *faults) take(method string) *Fault {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.seen[method]++
	for _, key := range []string{method, "*"} {
		list := f.next[key]
		if len(list) == 0 {
			continue
		}
		one := *list[0]
		if list[0].Times--; list[0].Times <= 0 {
			f.next[key] = list[1:]
		}
		return &one
	}
	return nil
}

// Fail makes the next calls of a method go wrong; "*" stands for any method, and
// "response_url" and "upload" for posts to those addresses. Several faults come
// one after the other.
func (s *Server) Fail(method string, f Fault) {
	f.Times = max(f.Times, 1)
	s.fault.mu.Lock()
	defer s.fault.mu.Unlock()
	s.fault.next[method] = append(s.fault.next[method], &f)
}

// Calls counts the calls of a method, those that went wrong included.
func (s *Server) Calls(method string) int {
	s.fault.mu.Lock()
	defer s.fault.mu.Unlock()
	return s.fault.seen[method]
}

// retryAfter gives the header for a wait.
func retryAfter(d time.Duration) string {
	return strconv.Itoa(max(1, int((d+time.Second-1)/time.Second)))
}

// Disconnect tells all connections to go: with the reason warning they stay for
// now; with refresh_requested, too_many_websockets or link_disabled they get no
// more envelopes and are ended after Options.CloseDelay.
func (s *Server) Disconnect(reason string) { s.disconnect(reason, mostSockets) }

// DisconnectOldest tells only the oldest connection to go.
func (s *Server) DisconnectOldest(reason string) { s.disconnect(reason, 1) }

func (s *Server) disconnect(reason string, n int) {
	q := &s.queue
	q.mu.Lock()
	defer q.mu.Unlock()
	n = min(n, len(q.conns))
	for _, c := range q.conns[:n] {
		s.dismiss(c, reason)
	}
	if reason != "warning" {
		q.conns = slices.Clone(q.conns[n:])
	}
	s.notice.changed()
}

// DisconnectAtHello makes a storm: each of the next n connections is told to go
// right after its hello.
func (s *Server) DisconnectAtHello(n int) { s.set(func(q *queue) { q.storm = n }) }

// Cut cuts the TCP connections of all sockets without a word.
func (s *Server) Cut() {
	var all []*conn
	s.set(func(q *queue) {
		for c := range q.all {
			all = append(all, c)
		}
		q.conns = nil
	})
	for _, c := range all {
		_ = c.ws.NetConn().Close()
	}
}

// RefuseConnections makes apps.connections.open and new sockets fail with the
// status 503, until it is called with false.
func (s *Server) RefuseConnections(on bool) { s.set(func(q *queue) { q.refusing = on }) }

// DropAcks loses the next n acknowledgements: they are read, and the delivery
// comes again as if there had been none.
func (s *Server) DropAcks(n int) { s.set(func(q *queue) { q.dropAcks = n }) }

// Repeat delivers each event from now on n times with one event_id, although it
// is acknowledged.
func (s *Server) Repeat(n int) { s.set(func(q *queue) { q.repeat = n }) }

// LoseEvents makes events that happen from now on reach nobody, until it is
// called with false. The messages are there: history shows them.
func (s *Server) LoseEvents(on bool) { s.set(func(q *queue) { q.losing = on }) }

// HoldEvents keeps events back until ReleaseEvents.
func (s *Server) HoldEvents() { s.set(func(q *queue) { q.holding = true }) }

// ReleaseEvents sends what was kept back, in the order of the given numbers
// (from 0, as they happened), then the others.
func (s *Server) ReleaseEvents(order ...int) error {
	q := &s.queue
	q.mu.Lock()
	held, repeat := q.held, q.repeat
	q.held, q.holding = nil, false
	q.mu.Unlock()
	sent := map[int]bool{}
	for _, i := range order {
		if i < 0 || i >= len(held) || sent[i] {
			return fmt.Errorf("releasing %d held events: there is no number %d left", len(held), i)
		}
		sent[i] = true
		s.begin(held[i], repeat)
	}
	for i, d := range held {
		if !sent[i] {
			s.begin(d, repeat)
		}
	}
	return nil
}

// Revoke takes both tokens back: every call answers token_revoked.
func (s *Server) Revoke() {
	s.work.mu.Lock()
	defer s.work.mu.Unlock()
	s.work.revoked = true
}

// Uninstall takes the app out of the workspace: it gets app_uninstalled and
// tokens_revoked, and the tokens are taken back.
func (s *Server) Uninstall() {
	s.emit(event{body: map[string]any{"type": "app_uninstalled", "event_ts": s.stamps.stamp(s.o.Now())}})
	s.emit(event{body: map[string]any{
		"type": "tokens_revoked", "tokens": map[string]any{"oauth": []string{}, "bot": []string{s.o.BotUser}},
		"event_ts": s.stamps.stamp(s.o.Now()),
	}})
	s.Revoke()
}

// SendRaw writes a frame as it is on one connection: for envelopes that a client
// may not know, and for garbage.
func (s *Server) SendRaw(raw []byte) error {
	q := &s.queue
	q.mu.Lock()
	defer q.mu.Unlock()
	if len(q.conns) == 0 {
		return fmt.Errorf("sending a raw frame: no connection")
	}
	if e := rawEnvelope(raw); e != nil {
		e.of.attempts, e.of.created, e.written = []*envelope{e}, time.Now(), time.Now()
		q.envelopes[e.id] = e
		q.keep(e.of)
		s.timers.after(s.o.AckDeadline, func() { s.giveUp(e.of, "not acknowledged") })
	}
	q.next++
	q.conns[q.next%len(q.conns)].push(frame{raw: slices.Clone(raw)})
	return nil
}

func (s *Server) set(f func(q *queue)) {
	s.queue.mu.Lock()
	f(&s.queue)
	s.queue.mu.Unlock()
	s.notice.changed()
}
