package store

import (
	"context"
	"fmt"
	"path/filepath"
	"time"
)

// read makes a call that writes nothing.
func read[R any](ctx context.Context, r *Remote, method string, args any) (result R, err error) {
	err = r.call(ctx, method, args, &result, ErrUnavailable)
	return result, err
}

// write makes a call of which it matters whether it was carried out.
func write[R any](ctx context.Context, r *Remote, method string, args any) (result R, err error) {
	err = r.call(ctx, method, args, &result, ErrUncertain)
	return result, err
}

// Apply implements Store.
func (r *Remote) Apply(ctx context.Context, c Change) (Receipt, error) {
	// What can't be stored is refused here already, so that it need not be
	// put into a frame.
	if _, err := prepare(c); err != nil {
		return Receipt{}, err
	}
	return write[Receipt](ctx, r, "apply", c)
}

// Case implements Store.
func (r *Remote) Case(ctx context.Context, id CaseID) (Case, error) {
	return read[Case](ctx, r, "case", id)
}

// Cases implements Store.
func (r *Remote) Cases(ctx context.Context, q Query, after Cursor) (Page, error) {
	return read[Page](ctx, r, "cases", casesArgs{q, after})
}

// Conversation implements Store.
func (r *Remote) Conversation(ctx context.Context, conversation string) (CaseID, error) {
	return read[CaseID](ctx, r, "conversation", conversation)
}

// LastOpen implements Store.
func (r *Remote) LastOpen(ctx context.Context, actor string) (CaseID, error) {
	return read[CaseID](ctx, r, "last_open", actor)
}

// Site implements Store.
func (r *Remote) Site(ctx context.Context, ref SiteRef) (Site, []Device, error) {
	result, err := read[siteResult](ctx, r, "site", ref)
	return result.Site, result.Devices, err
}

// Sites implements Store.
func (r *Remote) Sites(ctx context.Context, after SiteRef, limit int) ([]Site, error) {
	return read[[]Site](ctx, r, "sites", sitesArgs{after, limit})
}

// Weeks implements Store.
func (r *Remote) Weeks(ctx context.Context, from, to string) ([]WeekCount, error) {
	return read[[]WeekCount](ctx, r, "weeks", weeksArgs{from, to})
}

// Lease implements Store.
func (r *Remote) Lease(ctx context.Context, now time.Time, lease time.Duration, n int) ([]Leased, error) {
	return write[[]Leased](ctx, r, "lease", leaseArgs{now, lease, n})
}

// Sent implements Store.
func (r *Remote) Sent(ctx context.Context, id uint64) error {
	_, err := write[done](ctx, r, "sent", id)
	return err
}

// Retry implements Store.
func (r *Remote) Retry(ctx context.Context, id uint64, due time.Time) error {
	_, err := write[done](ctx, r, "retry", retryArgs{id, due})
	return err
}

// EraseText implements Store.
func (r *Remote) EraseText(ctx context.Context, id CaseID) error {
	_, err := write[done](ctx, r, "erase", id)
	return err
}

// Backup implements Keeper: the process that holds the file writes the copy.
func (r *Remote) Backup(ctx context.Context, path string) error {
	path, err := filepath.Abs(path) // the other process is in another folder
	if err != nil {
		return fmt.Errorf("back up to %s: %w", path, err)
	}
	_, err = read[done](ctx, r, "backup", path)
	return err
}

// Verify implements Keeper.
func (r *Remote) Verify(ctx context.Context) ([]string, error) {
	return read[[]string](ctx, r, "verify", done{})
}

// Stats implements Keeper.
func (r *Remote) Stats(ctx context.Context) (Stats, error) {
	return read[Stats](ctx, r, "stats", done{})
}
