package webhook_test

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"io"
	"net"
	"net/http"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"ferrule/bot/slackchat"
	"ferrule/bot/slackchat/webhook"
)

// pipes is a listener without a network, so that time can be invented.
type pipes struct {
	conns  chan net.Conn
	closed chan struct{}
}

func listen() *pipes { return &pipes{make(chan net.Conn), make(chan struct{})} }

func (p *pipes) Accept() (net.Conn, error) {
	select {
	case c := <-p.conns:
		return c, nil
	case <-p.closed:
		return nil, net.ErrClosed
	}
}

func (p *pipes) Close() error   { close(p.closed); return nil }
func (p *pipes) Addr() net.Addr { return &net.IPAddr{} }

// dial gives Slack's end of a connection.
func (p *pipes) dial(t *testing.T) net.Conn {
	t.Helper()
	here, there := net.Pipe()
	select {
	case p.conns <- there:
	case <-p.closed:
		t.Fatal("nobody listens")
	}
	t.Cleanup(func() { _ = here.Close() })
	return here
}

// wire is a request as bytes.
func wire(t *testing.T, r *http.Request) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := r.Write(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestRequestsUnderWayAreAnsweredBeforeTheEnd(t *testing.T) {
	for _, c := range []struct {
		name  string
		takes time.Duration
		clean bool
	}{{"in time", 2 * time.Second, true}, {"not in time", time.Minute, false}} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				ctx, stop := context.WithCancel(t.Context())
				defer stop()
				receive := func(_ context.Context, _ slackchat.Delivery, done func([]byte, error)) {
					stop() // while the request is being answered
					time.AfterFunc(c.takes, func() { done([]byte(`{"text":"taken"}`), nil) })
				}
				h := webhook.Handler(webhook.Options{Secret: secret, Receive: receive, Now: func() time.Time { return noon }, Deadline: time.Hour})
				l := listen()
				ended := make(chan error, 1)
				go func() { ended <- webhook.Serve(ctx, l, h, 3*time.Second) }()
				conn := l.dial(t)
				go func() { _, _ = conn.Write(wire(t, signed(noon, jsonType, event))) }()
				answer, err := http.ReadResponse(bufio.NewReader(conn), nil)
				if c.clean != (err == nil && answer.StatusCode == 200) {
					t.Errorf("answered %v, %v", answer, err)
				}
				err = <-ended
				if c.clean != (err == nil) || !c.clean && !errors.Is(err, context.DeadlineExceeded) {
					t.Errorf("ended with %v", err)
				}
				time.Sleep(time.Hour) // the late done, the handler's deadline
			})
		})
	}
}

func TestSlowClientsAreCutOff(t *testing.T) {
	whole := string(wire(t, signed(noon, jsonType, event)))
	head, _, _ := strings.Cut(whole, "\r\n\r\n")
	for _, c := range []struct {
		name, sends string
		within      time.Duration
	}{
		{"nothing is sent", "", 3 * time.Second},
		{"half of the headers", head[:len(head)/2], 3 * time.Second},
		{"the headers and half of the body", whole[:len(whole)-len(event)/2], 5 * time.Second},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				ctx, stop := context.WithCancel(t.Context())
				in := inbox{}
				l := listen()
				ended := make(chan error, 1)
				go func() { ended <- webhook.Serve(ctx, l, handler(in.receive), time.Second) }()
				conn := l.dial(t)
				start := time.Now()
				if _, err := conn.Write([]byte(c.sends)); err != nil {
					t.Fatal(err)
				}
				answer, _ := io.ReadAll(conn) // ends when the server closes
				if took := time.Since(start); took > c.within+time.Second {
					t.Errorf("closed after %s", took)
				}
				if strings.Contains(string(answer), " 200 ") || len(in.got) > 0 {
					t.Errorf("answered %q, delivered %v", answer, in.got)
				}
				stop()
				if err := <-ended; err != nil {
					t.Error(err)
				}
			})
		})
	}
}

// Who does not read the answer does not keep a connection for ever, and what
// was delivered stays delivered.
func TestASlowReaderIsCutOff(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, stop := context.WithCancel(t.Context())
		in := inbox{answer: bytes.Repeat([]byte(" "), 1<<16)}
		l := listen()
		ended := make(chan error, 1)
		go func() { ended <- webhook.Serve(ctx, l, handler(in.receive), time.Second) }()
		conn := l.dial(t)
		if _, err := conn.Write(wire(t, signed(noon, jsonType, event))); err != nil {
			t.Fatal(err)
		}
		time.Sleep(20 * time.Second) // and reads nothing
		answer, _ := io.ReadAll(conn)
		if len(answer) > 1<<15 || len(in.got) != 1 {
			t.Errorf("read %d bytes, delivered %d", len(answer), len(in.got))
		}
		stop()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
}

func TestAListenerThatFailsEndsServe(t *testing.T) {
	l := listen()
	_ = l.Close()
	err := webhook.Serve(t.Context(), &once{l}, handler((&inbox{}).receive), time.Second)
	if !errors.Is(err, net.ErrClosed) {
		t.Errorf("ended with %v", err)
	}
}

// once may be closed twice.
type once struct{ *pipes }

func (once) Close() error { return nil }
