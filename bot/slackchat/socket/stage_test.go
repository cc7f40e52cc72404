package socket

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/gorilla/websocket"

	"ferrule/bot/slackchat"
)

// What the log and the errors may never hold.
const (
	ticket = "ticket-0123456789"
	typed  = "the hub in the attic is silent"
)

// stage is a server on a network in memory, so that a test runs on the virtual
// clock of its bubble, which also fails it for a goroutine that is left.
type stage struct {
	t      *testing.T
	start  time.Time
	links  chan net.Conn
	script func(p *peer) // what the server does with a connection
	served sync.WaitGroup

	mu    sync.Mutex
	opens []time.Duration // since the start
	up    int             // connections that are open at the server
	most  int
	log   bytes.Buffer
}

func newStage(t *testing.T, script func(p *peer)) *stage {
	s := &stage{t: t, start: time.Now(), links: make(chan net.Conn), script: script}
	server := &http.Server{Handler: http.HandlerFunc(s.serve)}
	s.served.Go(func() { _ = server.Serve(s) })
	t.Cleanup(func() {
		_ = server.Close()
		s.served.Wait()
		s.mu.Lock()
		defer s.mu.Unlock()
		for _, secret := range []string{ticket, typed} {
			if strings.Contains(s.log.String(), secret) {
				t.Errorf("the log holds %q:\n%s", secret, s.log.String())
			}
		}
		if t.Failed() {
			t.Logf("the log:\n%s", s.log.String())
		}
	})
	return s
}

// The stage is the server's listener.
func (s *stage) Accept() (net.Conn, error) {
	if c, ok := <-s.links; ok {
		return c, nil
	}
	return nil, net.ErrClosed
}
func (s *stage) Close() error   { close(s.links); return nil }
func (s *stage) Addr() net.Addr { return &net.UnixAddr{Name: "memory", Net: "unix"} }

func (s *stage) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.log.Write(p)
}

// link connects to the server.
func (s *stage) link(ctx context.Context, _, _ string) (net.Conn, error) {
	here, there := net.Pipe()
	select {
	case s.links <- there:
		return here, nil
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

func (s *stage) open(context.Context) (string, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.opens = append(s.opens, time.Since(s.start))
	return fmt.Sprintf("ws://slack.example/link?%s&n=%d", ticket, len(s.opens)), nil
}

func (s *stage) opened() []time.Duration {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]time.Duration(nil), s.opens...)
}

func (s *stage) serve(w http.ResponseWriter, r *http.Request) {
	s.served.Add(1)
	defer s.served.Done()
	p := &peer{s: s, w: w, r: r}
	_, _ = fmt.Sscanf(r.URL.Query().Get("n"), "%d", &p.n)
	s.script(p)
	if p.ws != nil {
		_ = p.ws.Close()
		<-p.read
		s.count(-1)
	}
}

// connections gives how many are open at the server, and were at most.
func (s *stage) connections() (now, most int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.up, s.most
}

func (s *stage) count(d int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.up += d
	s.most = max(s.most, s.up)
}

// options are one connection, no jitter, and what the receiver gives.
func (s *stage) options(receive slackchat.Receiver) Options {
	return Options{
		Open: s.open, Receive: receive, Connections: 1,
		Jitter: func() float64 { return 0 },
		Dialer: &websocket.Dialer{NetDialContext: s.link},
		Log:    slog.New(slog.NewTextHandler(s, &slog.HandlerOptions{Level: slog.LevelDebug})),
	}
}

// run starts Run; stop ends it and gives what it gave.
func (s *stage) run(o Options) (stop func() error) {
	ctx, cancel := context.WithCancel(s.t.Context())
	ended := make(chan error, 1)
	go func() { ended <- Run(ctx, o) }()
	stopped := false
	stop = func() error {
		if stopped {
			return nil
		}
		stopped = true
		cancel()
		return <-ended
	}
	s.t.Cleanup(func() {
		if err := stop(); err != nil {
			s.t.Errorf("Run gave %v", err)
		}
	})
	return stop
}

// result waits for a Run that ends by itself.
func (s *stage) result(o Options) error {
	ctx, cancel := context.WithTimeout(s.t.Context(), 24*time.Hour)
	defer cancel()
	err := Run(ctx, o)
	if ctx.Err() != nil {
		s.t.Error("Run did not end by itself")
	}
	if err != nil && (strings.Contains(err.Error(), ticket) || strings.Contains(err.Error(), typed)) {
		s.t.Errorf("the error holds a secret: %v", err)
	}
	return err
}

// peer is the server's side of one connection.
type peer struct {
	s *stage
	n int // the first is 1
	w http.ResponseWriter
	r *http.Request

	ws    *websocket.Conn
	read  chan struct{} // closed when reading has ended
	mu    sync.Mutex
	got   []string
	pong  time.Time // the last one
	close error     // with what reading ended
}

// accept takes the websocket and begins to read.
func (p *peer) accept() { p.acceptAs(func(*websocket.Conn) {}) }

// mute answers no pings.
func mute(ws *websocket.Conn) { ws.SetPingHandler(func(string) error { return nil }) }

// acceptAs lets the websocket be changed before the first frame is read.
func (p *peer) acceptAs(change func(*websocket.Conn)) {
	up := websocket.Upgrader{}
	ws, err := up.Upgrade(p.w, p.r, nil)
	if err != nil {
		p.s.t.Errorf("upgrading: %v", err)
		return
	}
	ws.SetPongHandler(func(string) error {
		p.mu.Lock()
		defer p.mu.Unlock()
		p.pong = time.Now()
		return nil
	})
	change(ws)
	p.ws, p.read = ws, make(chan struct{})
	p.s.count(1)
	go func() {
		defer close(p.read)
		for {
			_, data, err := ws.ReadMessage()
			p.mu.Lock()
			if err != nil {
				p.close = err
				p.mu.Unlock()
				return
			}
			p.got = append(p.got, string(data))
			p.mu.Unlock()
		}
	}()
}

func (p *peer) hello() {
	p.accept()
	p.greet()
}

func (p *peer) greet() {
	p.send(`{"type":"hello","num_connections":1,"debug_info":{"host":"applink-1"},"connection_info":{"app_id":"A1"}}`)
}

func (p *peer) send(text string) { p.sendKind(websocket.TextMessage, []byte(text)) }

func (p *peer) sendKind(kind int, data []byte) {
	if err := p.ws.WriteMessage(kind, data); err != nil {
		p.s.t.Logf("the server could not write: %v", err)
	}
}

func (p *peer) disconnect(reason string) {
	p.send(fmt.Sprintf(`{"type":"disconnect","reason":%q,"debug_info":{"host":"applink-1"}}`, reason))
}

func (p *peer) event(id string) { p.send(event(id)) }

// cut ends the connection without a close frame.
func (p *peer) cut() { _ = p.ws.NetConn().Close() }

// stay waits until the other side has gone.
func (p *peer) stay() { <-p.read }

func (p *peer) acks() []string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return append([]string(nil), p.got...)
}

// closedNormally says whether the other side ended with a proper close frame.
func (p *peer) closedNormally() bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	said := (*websocket.CloseError)(nil)
	return errors.As(p.close, &said) && said.Code == websocket.CloseNormalClosure
}

func event(id string) string {
	return fmt.Sprintf(`{"envelope_id":%q,"payload":{"event_id":%q,"event":{"type":"message","text":%q}},"type":"events_api","accepts_response_payload":false,"retry_attempt":0,"retry_reason":""}`, id, "Ev"+id, typed)
}

// bubble runs a test on a virtual clock.
func bubble(t *testing.T, name string, f func(t *testing.T)) {
	t.Helper()
	t.Run(name, func(t *testing.T) { synctest.Test(t, f) })
}

// takeAll is a receiver that takes everything at once.
func takeAll(_ context.Context, _ slackchat.Delivery, done func([]byte, error)) { done(nil, nil) }

// people gives the script of a server whose peers the test talks to itself,
// in the order in which they connect; each has said hello.
func people() (script func(p *peer), next func() *peer) {
	arrived := make(chan *peer)
	script = func(p *peer) {
		p.hello()
		arrived <- p
		p.stay()
	}
	return script, func() *peer { return <-arrived }
}

// pass lets the virtual time pass, and then everything come to rest.
func pass(d time.Duration) {
	time.Sleep(d)
	synctest.Wait()
}
