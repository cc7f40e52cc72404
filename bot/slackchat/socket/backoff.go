package socket

import (
	"context"
	"time"
)

// BackOff says how long to wait between attempts to connect: First after the
// first, twice as long after each further one, at most Most (a second and a
// minute unless said otherwise). Up to half of each wait is left off at random,
// so that many who were sent away together don't come back together.
type BackOff struct{ First, Most time.Duration }

// backOff is a BackOff under way.
type backOff struct {
	BackOff
	jitter func() float64
	last   time.Duration // 0 before the first step
}

func (b *backOff) reset() { b.last = 0 }

// next gives the time to wait before the next attempt.
func (b *backOff) next() time.Duration {
	switch {
	case b.last == 0:
		b.last = b.First
	case b.last > b.Most/2:
		b.last = b.Most
	default:
		b.last *= 2
	}
	half := b.last / 2
	return b.last - time.Duration(float64(half)*b.jitter())
}

// wait waits for d, or until ctx ends; it says whether it waited to the end.
func wait(ctx context.Context, d time.Duration) bool {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-timer.C:
		return true
	case <-ctx.Done():
		return false
	}
}
