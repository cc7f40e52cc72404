package socket

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"time"

	"github.com/slack-go/slack"

	"ferrule/bot/slackchat"
)

// line keeps one connection up.
type line struct {
	Options
	board *switchboard
	// gate lets one line at a time connect, so that connections are replaced
	// one after the other. It stays shut while Slack limits the rate.
	gate   chan struct{}
	pause  backOff
	now    *conn // the present connection, if there was one
	missed bool  // a connection ended without a word, and none came up since
}

// keep connects again and again until ctx ends, or until there is an error
// that no waiting mends.
func (l *line) keep(ctx context.Context) error {
	for {
		next, err := l.connect(ctx)
		if fatal := slackchat.AsFatal(err); fatal != nil {
			return fatal
		}
		if ctx.Err() != nil {
			return nil
		}
		if err == nil {
			steady, fatal := l.use(ctx, next)
			if fatal != nil || ctx.Err() != nil {
				return fatal
			}
			if steady {
				l.pause.reset()
				continue
			}
		}
		d := l.pause.next()
		l.Log.Warn("connecting again later", "in", d, "err", err)
		if !wait(ctx, d) {
			return nil
		}
	}
}

// use puts a new connection into the place of the present one and stays with
// it until it has to be replaced. It says whether that one held for long.
func (l *line) use(ctx context.Context, c *conn) (steady bool, fatal error) {
	up := time.Now()
	l.board.join(c, l.missed)
	if l.now != nil {
		l.board.retire(l.now)
	}
	l.now, l.missed = c, false
	l.Log.Info("connected")
	select {
	case <-ctx.Done():
		return false, nil
	case <-c.replace:
	case <-c.gone:
	}
	held := time.Since(up)
	if isClosed(c.replace) {
		l.Log.Info("Slack asks for another connection", "reason", short(c.reason), "held", held)
		return held >= l.Steady, slackchat.FatalCode(c.reason)
	}
	l.missed = c.wordless()
	l.Log.Warn("a connection ended", "held", held, "err", c.err)
	return held >= l.Steady, nil
}

// connect makes one attempt.
func (l *line) connect(ctx context.Context) (*conn, error) {
	select {
	case l.gate <- struct{}{}:
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	defer func() { <-l.gate }()
	c, err := l.attempt(ctx)
	if limited := (*slack.RateLimitedError)(nil); errors.As(err, &limited) {
		l.Log.Warn("Slack limits the rate of new connections", "for", limited.RetryAfter)
		wait(ctx, limited.RetryAfter)
	}
	return c, err
}

// attempt gives a connection that has said hello.
func (l *line) attempt(ctx context.Context) (*conn, error) {
	ctx, cancel := context.WithTimeout(ctx, l.Attempt)
	defer cancel()
	address, err := l.Open(ctx)
	if err != nil {
		return nil, fmt.Errorf("asking for a connection: %w", err)
	}
	// The address holds a ticket: an error of the parser would repeat it.
	if _, err := url.Parse(address); err != nil {
		return nil, errors.New("asking for a connection: the address can't be read")
	}
	ws, response, err := l.Dialer.DialContext(ctx, address, nil)
	if err != nil {
		if response != nil {
			return nil, fmt.Errorf("connecting: %w (%s)", err, response.Status)
		}
		return nil, fmt.Errorf("connecting: %w", err)
	}
	c := newConn(ws, l.board)
	l.board.start(c)
	select {
	case <-c.hello:
	case <-c.replace:
	case <-c.gone:
	case <-ctx.Done():
	}
	if isClosed(c.hello) {
		return c, nil
	}
	c.finish()
	return nil, l.unwelcome(c)
}

// unwelcome says why a connection did not come to its hello.
func (l *line) unwelcome(c *conn) error {
	switch {
	case isClosed(c.replace):
		if fatal := slackchat.FatalCode(c.reason); fatal != nil {
			return fatal
		}
		return fmt.Errorf("connecting: sent away before the hello (%s)", short(c.reason))
	case isClosed(c.gone):
		return fmt.Errorf("connecting: closed before the hello: %w", c.err)
	}
	return errors.New("connecting: no hello in time")
}
