package store

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"sync"
	"time"
)

// How long a client waits for a process that should answer at once: for the
// first answer of a connection, and for the end of a call that it cancelled.
const (
	helloWait  = 2 * time.Second
	cancelWait = 2 * time.Second
)

// Remote is a Store that another process holds and serves on a unix socket.
type Remote struct {
	path string

	mu     sync.Mutex
	closed bool
	idle   []*link
	busy   map[*link]bool
}

var _ Store = (*Remote)(nil)

// link is a connection on which one call at a time is made.
type link struct {
	net.Conn
	in *bufio.Reader
}

// Dial reaches a store that is served at path, a unix socket. It fails when
// nobody answers there.
func Dial(path string) (*Remote, error) {
	r := &Remote{path: path, busy: map[*link]bool{}}
	l, err := r.take(context.Background())
	if err != nil {
		return nil, err
	}
	r.give(l)
	return r, nil
}

// take returns a connection that is free, or a new one.
func (r *Remote) take(ctx context.Context) (*link, error) {
	r.mu.Lock()
	if r.closed {
		r.mu.Unlock()
		return nil, unavailable("use the store", errClosed)
	}
	if n := len(r.idle); n > 0 {
		l := r.idle[n-1]
		r.idle = r.idle[:n-1]
		r.busy[l] = true
		r.mu.Unlock()
		return l, nil
	}
	r.mu.Unlock()
	l, err := r.connect(ctx)
	if err != nil {
		return nil, err
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.closed {
		_ = l.Close()
		return nil, unavailable("use the store", errClosed)
	}
	r.busy[l] = true
	return l, nil
}

// connect makes a connection and sees to it that a store of our kind is at
// its other end.
func (r *Remote) connect(ctx context.Context) (*link, error) {
	waiting, cancel := context.WithTimeout(ctx, helloWait)
	defer cancel()
	conn, err := dialSocket(waiting, r.path)
	if err == nil {
		l := &link{Conn: conn, in: bufio.NewReader(conn)}
		if err = l.hello(waiting); err == nil {
			return l, nil
		}
		_ = conn.Close()
	}
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	return nil, unavailable("reach the process that holds the store", err)
}

func (l *link) hello(ctx context.Context) error {
	deadline, _ := ctx.Deadline()
	if err := l.SetDeadline(deadline); err != nil {
		return err
	}
	args, err := json.Marshal(helloArgs{Protocol: protocol})
	if err != nil {
		return err
	}
	if err := writeFrame(l, request{Method: "hello", Args: args}); err != nil {
		return err
	}
	var a response
	if err := readFrame(l.in, &a); err != nil {
		return err
	}
	if a.Error != nil {
		return a.Error
	}
	return l.SetDeadline(time.Time{})
}

// give keeps a connection for the next call.
func (r *Remote) give(l *link) {
	r.mu.Lock()
	defer r.mu.Unlock()
	delete(r.busy, l)
	if r.closed {
		_ = l.Close()
		return
	}
	r.idle = append(r.idle, l)
}

// lose closes a connection on which something went wrong, and with it those
// that wait, which most likely have the same trouble.
func (r *Remote) lose(l *link) {
	r.mu.Lock()
	defer r.mu.Unlock()
	delete(r.busy, l)
	_ = l.Close()
	for _, other := range r.idle {
		_ = other.Close()
	}
	r.idle = nil
}

// call makes one call. fate is what a lost connection means for it: nothing
// was written by a call that only reads.
func (r *Remote) call(ctx context.Context, method string, args, result any, fate error) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	raw, err := json.Marshal(args)
	if err != nil {
		return invalidf("%s: %v", method, err)
	}
	q := request{Method: method, Args: raw}
	l, err := r.take(ctx)
	if err != nil {
		return err
	}
	a, err := l.exchange(ctx, q)
	if err != nil {
		r.lose(l)
		return lost(ctx, method, err, fate)
	}
	r.give(l)
	if a.Error != nil {
		return a.Error
	}
	if err := json.Unmarshal(a.Result, result); err != nil {
		return unavailable("decode the answer to "+method, err)
	}
	return nil
}

// lost describes a call whose answer did not come.
func lost(ctx context.Context, method string, err, fate error) error {
	if errors.Is(err, ErrInvalid) {
		return err // the request did not leave
	}
	err = fmt.Errorf("%w: %s: the process that holds the store does not answer: %w", fate, method, err)
	if ctx.Err() != nil {
		err = fmt.Errorf("%w: %w", err, ctx.Err())
	}
	return err
}

// exchange sends a request and waits for the response. When ctx ends first,
// it says so to the other side and waits a little longer, since only that
// side knows whether it was in time.
func (l *link) exchange(ctx context.Context, q request) (a response, err error) {
	var sending sync.Mutex
	ended := make(chan struct{})
	sending.Lock()
	stop := context.AfterFunc(ctx, func() {
		defer close(ended)
		_ = l.SetDeadline(time.Now().Add(cancelWait))
		sending.Lock() // after the request
		defer sending.Unlock()
		_ = writeFrame(l, request{Cancel: true})
	})
	err = writeFrame(l, q)
	sending.Unlock()
	if err == nil {
		err = readFrame(l.in, &a)
	}
	if !stop() {
		<-ended
		err = errors.Join(err, l.SetDeadline(time.Time{}))
	}
	return a, err
}

// Close ends the connections; the store itself stays open where it is held.
func (r *Remote) Close() error {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.closed = true
	for _, l := range r.idle {
		_ = l.Close()
	}
	for l := range r.busy {
		_ = l.Close()
	}
	r.idle = nil
	return nil
}
