package store

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"sync"
)

// Serve answers calls on a listener until ctx ends, and returns when the last
// call is answered. It closes the listener, not the store. See Bolt.Listen
// for a listener that only the owner of the file can reach.
func Serve(ctx context.Context, ln net.Listener, s Store) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var open sync.WaitGroup
	defer open.Wait()
	defer cancel()
	stop := context.AfterFunc(ctx, func() { _ = ln.Close() })
	defer stop()
	for {
		conn, err := ln.Accept()
		switch {
		case ctx.Err() != nil:
			if conn != nil {
				_ = conn.Close()
			}
			return nil
		case err != nil:
			return errors.Join(fmt.Errorf("serve the store: %w", err), ln.Close())
		}
		open.Go(func() { serveConn(ctx, conn, s) })
	}
}

// serveConn answers the calls of one connection, one after the other.
func serveConn(ctx context.Context, conn net.Conn, s Store) {
	ctx, cancel := context.WithCancel(ctx)
	// Closing the connection ends the reader, which the deferred calls wait
	// for in this order: cancel, close, wait.
	var reader sync.WaitGroup
	defer reader.Wait()
	defer conn.Close()
	defer cancel()
	requests := make(chan request)
	reader.Go(func() { readRequests(ctx, cancel, conn, requests) })
	for {
		select {
		case <-ctx.Done():
			return
		case r := <-requests:
			if r.Cancel {
				continue // of a call that was answered meanwhile
			}
			if !answerCall(ctx, conn, s, r, requests) {
				return
			}
		}
	}
}

// readRequests hands requests on until the client is gone, which cancels
// what is being done for it.
func readRequests(ctx context.Context, cancel context.CancelFunc, conn net.Conn, requests chan<- request) {
	defer cancel()
	in := bufio.NewReader(conn)
	for {
		var r request
		if err := readFrame(in, &r); err != nil {
			return
		}
		select {
		case requests <- r:
		case <-ctx.Done():
			return
		}
	}
}

// answerCall carries out one call, watching for its cancellation. It reports
// false when the connection is of no more use.
func answerCall(ctx context.Context, conn net.Conn, s Store, r request, requests <-chan request) bool {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	answer := make(chan response, 1)
	go func() { answer <- call(ctx, s, r) }()
	for {
		select {
		case a := <-answer:
			return reply(conn, a) == nil
		case next := <-requests:
			if !next.Cancel {
				cancel() // a second call before the first is answered
				<-answer
				return false
			}
			cancel()
		case <-ctx.Done():
			// The client or the server ends. The call is given its end, so
			// that nothing works on the store when Serve has returned.
			return reply(conn, <-answer) == nil
		}
	}
}

// call carries out one call.
func call(ctx context.Context, s Store, r request) response {
	h, ok := handlers[r.Method]
	if !ok {
		return response{Error: toWire(invalidf("unknown call %q", r.Method))}
	}
	result, err := h(ctx, s, r.Args)
	if err != nil {
		return response{Error: toWire(err)}
	}
	b, err := json.Marshal(result)
	if err != nil {
		return response{Error: toWire(fmt.Errorf("encode the answer to %q: %w", r.Method, err))}
	}
	return response{Result: b}
}

// reply writes an answer; one that is too long becomes an error.
func reply(w io.Writer, a response) error {
	err := writeFrame(w, a)
	if errors.Is(err, ErrInvalid) {
		return writeFrame(w, response{Error: toWire(err)})
	}
	return err
}
