package store

import (
	"context"
	"errors"
	"fmt"
	"time"
)

// OpenPath opens a store whether or not another process holds it: it takes the
// file, or, when that is locked, goes through the socket of the process that
// holds it. That process may just be starting, or be a command that ends at
// once, so both are tried for a while (Options.HolderWait).
//
// A caller that wants to serve the file to others needs a *Bolt:
//
//	if b, ok := s.(*store.Bolt); ok {
//		ln, err := b.Listen()
//		...
//		go store.Serve(ctx, ln, b)
//	}
func OpenPath(ctx context.Context, path string, opts Options) (Store, error) {
	wait := opts.HolderWait
	if wait <= 0 {
		wait = 2 * time.Second
	}
	waiting, cancel := context.WithTimeout(ctx, wait)
	defer cancel()
	for {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		b, err := OpenBolt(path, opts)
		if err == nil {
			return b, nil
		}
		if !errors.Is(err, ErrLocked) {
			return nil, err
		}
		r, dialErr := Dial(SocketPath(path))
		if dialErr == nil {
			return r, nil
		}
		select {
		case <-waiting.Done():
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			return nil, heldBy(path, dialErr)
		case <-time.After(20 * time.Millisecond):
		}
	}
}

// heldBy says what to do about a file that somebody holds who does not answer.
func heldBy(path string, dialErr error) error {
	return fmt.Errorf("%w: %w: %s is in use, and nobody answers at %s (%w); "+
		"'fuser %s' or 'lsof %s' shows which process holds it: end that one, or wait until it is done",
		ErrUnavailable, ErrLocked, path, SocketPath(path), dialErr, path, path)
}
