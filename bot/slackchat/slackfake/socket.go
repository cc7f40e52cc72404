package slackfake

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"sync"
	"time"

	"github.com/gorilla/websocket"
)

const (
	mostSockets  = 10
	longestFrame = 20480 // bytes of a frame of the client
	writeWithin  = 10 * time.Second
)

// conn is one socket. Frames wait in out, so that nobody who puts one there
// waits for the network.
type conn struct {
	ws   *websocket.Conn
	wake chan struct{}
	gone chan struct{} // closed when the reader ends

	mu  sync.Mutex
	out []frame
}

// frame is an envelope, a frame as it is, or the end of the connection.
type frame struct {
	env *envelope
	raw []byte
	end bool
}

func (c *conn) push(f frame) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.out = append(c.out, f)
	select {
	case c.wake <- struct{}{}:
	default:
	}
}

func (c *conn) take() []frame {
	c.mu.Lock()
	defer c.mu.Unlock()
	out := c.out
	c.out = nil
	return out
}

// socket is the address of apps.connections.open. The ticket in it is good once.
func (s *Server) socket(w http.ResponseWriter, r *http.Request) {
	s.connecting()
	q := &s.queue
	ticket := r.URL.Query().Get("ticket")
	q.mu.Lock()
	good, refusing := q.tickets[ticket], q.refusing
	if !refusing {
		delete(q.tickets, ticket)
	}
	q.mu.Unlock()
	if refusing {
		http.Error(w, "unavailable", http.StatusServiceUnavailable)
		return
	}
	if !good {
		s.violate("a socket was dialled with a ticket that is used or unknown")
		http.Error(w, "no such ticket", http.StatusForbidden)
		return
	}
	up := websocket.Upgrader{CheckOrigin: func(*http.Request) bool { return true }}
	ws, err := up.Upgrade(w, r, nil)
	if err != nil {
		s.violate("a socket was dialled wrongly: %v", err)
		return
	}
	c := &conn{ws: ws, wake: make(chan struct{}, 1), gone: make(chan struct{})}
	q.mu.Lock()
	q.all[c] = true
	q.mu.Unlock()
	if !s.enter() {
		_ = ws.Close()
		return
	}
	go func() {
		defer s.wg.Done()
		s.write(c)
	}()
	s.greet(c)
	s.read(c)
	close(c.gone)
	s.drop(c)
}

// greet says hello and lets the connection have envelopes, unless it is one too
// many or a test wants a storm.
func (s *Server) greet(c *conn) {
	q := &s.queue
	q.mu.Lock()
	defer q.mu.Unlock()
	n := len(q.conns) + 1
	hello, _ := json.Marshal(map[string]any{ // of strings and numbers
		"type": "hello", "num_connections": n, "connection_info": map[string]any{"app_id": s.o.AppID},
		"debug_info": map[string]any{"host": "applink-1", "build_number": 1, "approximate_connection_time": 18060},
	})
	c.push(frame{raw: hello})
	if q.storm > 0 || n > mostSockets {
		q.storm = max(0, q.storm-1)
		s.dismiss(c, "too_many_websockets")
		return
	}
	q.conns = append(q.conns, c)
	waiting := q.pending
	q.pending = nil
	for _, e := range waiting {
		s.place(e)
	}
	s.notice.changed()
}

// dismiss sends a disconnect frame and, unless it is a mere warning, ends the
// connection after a while. The caller has the queue locked.
func (s *Server) dismiss(c *conn, reason string) {
	raw, _ := json.Marshal(map[string]any{ // of strings
		"type": "disconnect", "reason": reason, "debug_info": map[string]any{"host": "applink-1"},
	})
	c.push(frame{raw: raw})
	if reason != "warning" {
		s.timers.after(s.o.CloseDelay, func() { c.push(frame{end: true}) })
	}
}

// write writes frames and pings until the connection is gone.
func (s *Server) write(c *conn) {
	defer c.ws.Close()
	pings := time.NewTicker(s.o.PingEvery)
	defer pings.Stop()
	for {
		select {
		case <-c.gone:
			return
		case <-s.ctx.Done():
			return
		case <-pings.C:
			if c.ws.WriteControl(websocket.PingMessage, []byte("Ping from applink-1"), time.Now().Add(writeWithin)) != nil {
				return
			}
		case <-c.wake:
			if !s.flush(c) {
				return
			}
		}
	}
}

// flush writes what waits; it is false at the end of the connection.
func (s *Server) flush(c *conn) bool {
	frames := c.take()
	for i, f := range frames {
		if f.end {
			bye := websocket.FormatCloseMessage(websocket.CloseNormalClosure, "")
			_ = c.ws.WriteControl(websocket.CloseMessage, bye, time.Now().Add(writeWithin))
			s.putBack(frames[i:])
			return false
		}
		raw := f.raw
		if f.env != nil {
			if !s.writing(f.env) {
				continue
			}
			raw = f.env.frame()
		}
		_ = c.ws.SetWriteDeadline(time.Now().Add(writeWithin))
		if c.ws.WriteMessage(websocket.TextMessage, raw) != nil {
			s.putBack(frames[i+1:])
			return false
		}
	}
	return true
}

// frame is an envelope as it goes over the socket.
func (e *envelope) frame() []byte {
	retry := ""
	if e.of.kind == "events_api" {
		retry = fmt.Sprintf(`,"retry_attempt":%d,"retry_reason":%q`, e.retry, e.reason)
	}
	// None of these needs escaping; the payload is JSON already.
	return fmt.Appendf(nil, `{"envelope_id":%q,"type":%q,"accepts_response_payload":%v,"payload":%s%s}`, e.id, e.of.kind, e.of.accepts, e.of.payload, retry)
}

// putBack gives envelopes that were not written to other connections.
func (s *Server) putBack(frames []frame) {
	s.queue.mu.Lock()
	defer s.queue.mu.Unlock()
	for _, f := range frames {
		if f.env != nil {
			s.place(f.env)
		}
	}
}

// drop forgets a connection.
func (s *Server) drop(c *conn) {
	q := &s.queue
	q.mu.Lock()
	q.conns = slices.DeleteFunc(q.conns, func(o *conn) bool { return o == c })
	delete(q.all, c)
	q.mu.Unlock()
	s.putBack(c.take())
	s.notice.changed()
}

// read takes acknowledgements until the connection ends. The limit makes a
// frame that is too long end it with 1009, as Slack's servers do.
func (s *Server) read(c *conn) {
	c.ws.SetReadLimit(longestFrame)
	for {
		kind, raw, err := c.ws.ReadMessage()
		if errors.Is(err, websocket.ErrReadLimit) {
			s.violate("a frame of more than %d bytes", longestFrame)
		}
		if err != nil {
			return
		}
		if kind != websocket.TextMessage {
			s.violate("a binary frame")
			continue
		}
		var ack struct {
			EnvelopeID string          `json:"envelope_id"`
			Payload    json.RawMessage `json:"payload"`
		}
		if err := json.Unmarshal(raw, &ack); err != nil || ack.EnvelopeID == "" {
			s.violate("a frame that acknowledges nothing")
			continue
		}
		s.acknowledge(ack.EnvelopeID, ack.Payload)
	}
}

// Connections counts the sockets that get envelopes.
func (s *Server) Connections() int {
	s.queue.mu.Lock()
	defer s.queue.mu.Unlock()
	return len(s.queue.conns)
}
