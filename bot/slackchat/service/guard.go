package service

import (
	"context"
	"errors"
	"time"

	"ferrule/store"
)

// guard is a store that tells when it stops serving: after a commit of which
// nobody knows whether it reached the disk, only opening it again helps.
type guard struct {
	store.Store
	broken chan error
}

func (g *guard) look(err error) error {
	if errors.Is(err, store.ErrUncertain) {
		select {
		case g.broken <- err:
		default: // it was told before
		}
	}
	return err
}

func (g *guard) Apply(ctx context.Context, c store.Change) (store.Receipt, error) {
	r, err := g.Store.Apply(ctx, c)
	return r, g.look(err)
}

func (g *guard) Lease(ctx context.Context, now time.Time, lease time.Duration, n int) ([]store.Leased, error) {
	leased, err := g.Store.Lease(ctx, now, lease, n)
	return leased, g.look(err)
}

func (g *guard) Sent(ctx context.Context, id uint64) error { return g.look(g.Store.Sent(ctx, id)) }

func (g *guard) Retry(ctx context.Context, id uint64, due time.Time) error {
	return g.look(g.Store.Retry(ctx, id, due))
}
