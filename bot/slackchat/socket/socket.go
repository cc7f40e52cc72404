// Package socket holds the bot's Socket Mode connections to Slack: it opens
// them, keeps them up, takes deliveries from them and acknowledges these.
//
// Each connection is kept by a line, which opens the next one when the present
// one ends or is to be replaced, and never tries more often than its back-off
// allows, whatever goes wrong. The switchboard knows all connections; it hands
// deliveries to the receiver one after the other, and finds a connection for an
// acknowledgement. A conn is one websocket with a goroutine that reads and one
// that writes; the reader waits for nobody, so that pings are always answered.
//
// The frames are read here instead of by the library's own Socket Mode client:
// that one reconnects without pause when it is sent away after each hello
// (TestTheLibraryDoesNotHoldAStormBack), drops the reason for which a
// connection ends, and acknowledges nothing that it can't decode.
package socket

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"net"
	"net/http"
	"sync"
	"time"

	"github.com/gorilla/websocket"

	"ferrule/bot/slackchat"
)

// Options are what Run needs. Open and Receive have to be given; each of the
// others has a default.
type Options struct {
	// Open asks Slack for the address of a new connection
	// (apps.connections.open). The address is a secret: it is good once.
	Open func(ctx context.Context) (address string, err error)
	// Receive gets the deliveries, one call at a time. Its context outlives
	// the one of Run by the grace period.
	Receive slackchat.Receiver
	// Ready is called, one call at a time, after the hello of a connection
	// that comes up where messages may have been missed: none was up, or one
	// had ended without a word. It has to return when its context ends.
	Ready func(ctx context.Context)

	Connections int     // 1 or 2; 2 unless said otherwise
	BackOff     BackOff // between attempts to connect, for each connection
	// Steady is how long a connection has to hold before the back-off begins
	// anew (a minute).
	Steady time.Duration
	// Attempt is the most that an attempt takes, from Open to hello (30 s).
	Attempt time.Duration
	// Quiet is for how long a connection may bring nothing, not even a ping,
	// before it is taken for dead (30 s). Own pings are sent three times as often.
	Quiet time.Duration
	// Grace is the time that deliveries under way get when Run is stopped, and
	// when a connection is replaced (5 s).
	Grace time.Duration

	Jitter func() float64 // at least 0, below 1; random unless given
	Dialer *websocket.Dialer
	Log    *slog.Logger // silent unless given
}

// Run keeps the connections up until ctx ends, and then gives nil, or until
// Slack answers what no waiting mends: then the error holds a *slackchat.Fatal.
// When it returns, the connections are closed.
func Run(ctx context.Context, o Options) error {
	o, err := o.complete()
	if err != nil {
		return err
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	fatal := make(chan error, o.Connections)
	board := newSwitchboard(ctx, o)
	gate := make(chan struct{}, 1)
	var lines sync.WaitGroup
	for n := range o.Connections {
		l := &line{Options: o, board: board, gate: gate, pause: backOff{BackOff: o.BackOff, jitter: o.Jitter}}
		l.Log = o.Log.With("connection", n+1)
		lines.Go(func() {
			if err := l.keep(ctx); err != nil {
				fatal <- fmt.Errorf("socket mode: %w", err)
				cancel()
			}
		})
	}
	lines.Wait() // each ends with ctx, or ends it
	board.stop()
	select {
	case err := <-fatal:
		return err
	default:
		return nil
	}
}

func (o Options) complete() (Options, error) {
	if o.Open == nil || o.Receive == nil {
		return o, errors.New("socket mode: Open and Receive have to be given")
	}
	if o.Connections == 0 {
		o.Connections = 2
	}
	if o.Connections < 1 || o.Connections > 2 {
		return o, fmt.Errorf("socket mode: %d connections; it must be 1 or 2", o.Connections)
	}
	o.BackOff.First = orElse(o.BackOff.First, time.Second)
	o.BackOff.Most = max(orElse(o.BackOff.Most, time.Minute), o.BackOff.First)
	o.Steady = orElse(o.Steady, time.Minute)
	o.Attempt = orElse(o.Attempt, 30*time.Second)
	o.Quiet = orElse(o.Quiet, 30*time.Second)
	o.Grace = orElse(o.Grace, 5*time.Second)
	if o.Jitter == nil {
		o.Jitter = rand.Float64
	}
	if o.Dialer == nil {
		o.Dialer = dialer()
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	return o, nil
}

func orElse(d, otherwise time.Duration) time.Duration {
	if d <= 0 {
		return otherwise
	}
	return d
}

func dialer() *websocket.Dialer {
	alive := &net.Dialer{Timeout: 10 * time.Second, KeepAliveConfig: net.KeepAliveConfig{
		Enable: true, Idle: 15 * time.Second, Interval: 5 * time.Second, Count: 3,
	}}
	return &websocket.Dialer{
		NetDialContext:   alive.DialContext,
		Proxy:            http.ProxyFromEnvironment,
		HandshakeTimeout: 15 * time.Second,
	}
}
