package slackfake

import (
	"encoding/json"
	"fmt"
	"slices"
	"sync"
	"time"
)

// delivery is something that the bot has to get, once or more.
type delivery struct {
	id, kind, typ, channel, ts string
	body                       map[string]any
	payload                    json.RawMessage
	accepts                    bool // an answer in the acknowledgement
	again                      bool // is tried again without an acknowledgement
	onAck                      func(answer json.RawMessage)

	// Guarded by the queue.
	created, acked time.Time
	taken          bool // an acknowledgement is being acted on
	attempts       []*envelope
	answer         json.RawMessage
	failed         string
}

// envelope is one try to deliver something.
type envelope struct {
	id     string
	of     *delivery
	retry  int
	reason string
	extra  bool // a repetition that a test asked for; it is not retried

	written, acked time.Time
	late           bool
	stop           func() // of the deadline
}

// queue is what waits for the bot or for its acknowledgement, and the sockets.
// Its mutex is never held while a socket is written.
type queue struct {
	mu         sync.Mutex
	conns      []*conn // those that get envelopes
	all        map[*conn]bool
	next       int
	pending    []*envelope
	envelopes  map[string]*envelope
	deliveries []*delivery
	left       int // neither acknowledged nor given up
	byID       map[string]*delivery
	held       []*delivery
	tickets    map[string]bool
	target     string // of HTTP mode

	holding, losing, refusing bool
	dropAcks, repeat, storm   int
	slots                     chan struct{} // bounds requests under way
}

const mostRequests = 64

func (q *queue) init() {
	q.all = map[*conn]bool{}
	q.envelopes, q.byID, q.tickets = map[string]*envelope{}, map[string]*delivery{}, map[string]bool{}
	q.slots = make(chan struct{}, mostRequests)
}

// deliver puts something on its way.
func (s *Server) deliver(d *delivery) {
	payload, err := json.Marshal(d.body)
	if err != nil { // bodies are made of what JSON can hold
		s.violate("the stand-in can't write %s: %v", d.typ, err)
		return
	}
	d.payload, d.body = payload, nil
	q := &s.queue
	q.mu.Lock()
	if d.kind == "events_api" && q.losing {
		q.mu.Unlock()
		return
	}
	d.created = time.Now()
	q.keep(d)
	if d.kind == "events_api" && q.holding {
		q.held = append(q.held, d)
		q.mu.Unlock()
		return
	}
	repeat := q.repeat
	q.mu.Unlock()
	s.begin(d, repeat)
}

// keep is called with the queue locked.
func (q *queue) keep(d *delivery) {
	q.deliveries = append(q.deliveries, d)
	q.byID[d.id] = d
	q.left++
}

// begin makes the first try, and those beyond it that a test asked for.
func (s *Server) begin(d *delivery, repeat int) {
	if !d.again { // nobody waits longer for a form or a command
		s.timers.after(s.o.AckDeadline, func() { s.giveUp(d, "operation_timeout") })
	}
	s.send(&envelope{of: d})
	for range repeat - 1 {
		if d.kind == "events_api" {
			s.send(&envelope{of: d, extra: true})
		}
	}
}

// send gives an envelope to one of the connections, or keeps it until there is
// one.
func (s *Server) send(e *envelope) {
	e.id = s.uuid()
	q := &s.queue
	q.mu.Lock()
	q.envelopes[e.id] = e
	e.of.attempts = append(e.of.attempts, e)
	target := q.target
	if target == "" {
		s.place(e)
	}
	q.mu.Unlock()
	if target != "" {
		s.startRequest(target, e)
	}
}

// place is called with the queue locked.
func (s *Server) place(e *envelope) {
	q := &s.queue
	if len(q.conns) == 0 {
		q.pending = append(q.pending, e)
		return
	}
	q.next++
	q.conns[q.next%len(q.conns)].push(frame{env: e})
}

// writing is called just before an envelope is written; it starts the deadline.
// It is false where nobody waits for it any more.
func (s *Server) writing(e *envelope) bool {
	q := &s.queue
	q.mu.Lock()
	defer q.mu.Unlock()
	if e.of.failed != "" {
		return false
	}
	e.written = time.Now()
	e.stop = s.timers.after(s.o.AckDeadline, func() { s.missed(e, "timeout") })
	return true
}

// missed is called when an envelope was not acknowledged in time.
func (s *Server) missed(e *envelope, reason string) {
	q := &s.queue
	q.mu.Lock()
	d := e.of
	e.late = true
	over := e.extra || d.taken || !d.again || d.failed != ""
	last := e.retry >= len(s.o.RetryAfter)
	q.mu.Unlock()
	switch {
	case over:
	case last:
		s.giveUp(d, "not acknowledged")
	default:
		again := &envelope{of: d, retry: e.retry + 1, reason: reason}
		s.timers.after(s.o.RetryAfter[e.retry], func() { s.send(again) })
	}
	s.notice.changed()
}

func (s *Server) giveUp(d *delivery, why string) {
	q := &s.queue
	q.mu.Lock()
	over := d.taken || d.failed != ""
	if !over {
		d.failed = why
		q.left--
	}
	q.mu.Unlock()
	s.notice.changed()
}

// acknowledge takes an acknowledgement from a socket.
func (s *Server) acknowledge(id string, answer json.RawMessage) {
	q := &s.queue
	q.mu.Lock()
	e := q.envelopes[id]
	wrong := ""
	switch {
	case e == nil:
		wrong = fmt.Sprintf("acknowledgement of an unknown envelope %q", id)
	case e.written.IsZero():
		wrong = fmt.Sprintf("acknowledgement of an envelope that was not sent %q", id)
	case !e.acked.IsZero():
		wrong = "second acknowledgement of one envelope of " + e.of.typ
	case !isEmpty(answer) && !e.of.accepts:
		wrong = "payload in the acknowledgement of " + e.of.typ + ", which accepts none"
	}
	if e == nil || e.written.IsZero() || !e.acked.IsZero() {
		q.mu.Unlock()
		s.violate("%s", wrong)
		return
	}
	e.acked = time.Now()
	lost := q.dropAcks > 0
	if lost {
		q.dropAcks--
	}
	q.mu.Unlock()
	if wrong != "" {
		s.violate("%s", wrong)
	}
	if !lost {
		s.settle(e, answer)
	}
}

// settle marks a delivery as done, unless the acknowledgement came too late.
func (s *Server) settle(e *envelope, answer json.RawMessage) {
	q := &s.queue
	q.mu.Lock()
	d := e.of
	stop := e.stop
	first := !e.late && !d.taken && d.failed == ""
	d.taken = d.taken || first
	q.mu.Unlock()
	if stop != nil {
		stop()
	}
	if !first {
		return
	}
	if d.onAck != nil {
		d.onAck(answer)
	}
	q.mu.Lock() // only now: whoever sees it acknowledged sees what came of it
	d.acked, d.answer = e.acked, answer
	q.left--
	q.mu.Unlock()
	s.notice.changed()
}

// isEmpty says whether an acknowledgement carries nothing. Slack's own client
// for Node always sends an empty object.
func isEmpty(answer json.RawMessage) bool {
	return len(answer) == 0 || slices.Contains([]string{"null", "{}", `""`}, string(answer))
}

// Delivery is something that was sent to the bot, as a test sees it.
type Delivery struct {
	ID          string // event_id; of what is no event, an ID of the stand-in's own
	Kind        string // events_api, slash_commands, interactive
	Type        string // message, app_mention, block_actions, the command ...
	Channel, TS string
	Created     time.Time
	Attempts    []Attempt
	Acked       time.Time       // zero while it is not acknowledged
	Answer      json.RawMessage // what the acknowledgement carried
	Failed      string          // why it is not tried any more
	Payload     json.RawMessage
}

// Attempt is one try of a delivery.
type Attempt struct {
	Retry   int
	Reason  string
	Written time.Time // zero while it waits for a connection
	Acked   time.Time
	Late    bool // the deadline passed first
}

func (d *delivery) public() Delivery {
	out := Delivery{
		ID: d.id, Kind: d.kind, Type: d.typ, Channel: d.channel, TS: d.ts, Created: d.created,
		Acked: d.acked, Answer: d.answer, Failed: d.failed, Payload: d.payload,
	}
	for _, e := range d.attempts {
		out.Attempts = append(out.Attempts, Attempt{e.retry, e.reason, e.written, e.acked, e.late})
	}
	return out
}

// Deliveries are all that was made for the bot, in the order of making.
func (s *Server) Deliveries() []Delivery {
	s.queue.mu.Lock()
	defer s.queue.mu.Unlock()
	out := make([]Delivery, 0, len(s.queue.deliveries))
	for _, d := range s.queue.deliveries {
		out = append(out, d.public())
	}
	return out
}

// Delivery gives one by its ID.
func (s *Server) Delivery(id string) (Delivery, bool) {
	s.queue.mu.Lock()
	defer s.queue.mu.Unlock()
	d := s.queue.byID[id]
	if d == nil {
		return Delivery{}, false
	}
	return d.public(), true
}

// Undelivered counts what is neither acknowledged nor given up.
func (s *Server) Undelivered() int {
	s.queue.mu.Lock()
	defer s.queue.mu.Unlock()
	return s.queue.left
}
