package store

import (
	"context"
	"fmt"
	"os"
	"runtime"
	"runtime/debug"
	"sync/atomic"

	"go.etcd.io/bbolt"
)

// maxGroup is how many changes share a commit at most.
const maxGroup = 256

// operation is something that writes. Its methods run on the writer's
// goroutine, within the transaction of a group, and may run again with
// another transaction when a neighbour has to be left out; the last run
// counts.
type operation interface {
	// check looks at the preconditions, given what the group has already
	// planned, and plans. It writes nothing.
	check(*group) error
	// write puts the planned change in place.
	write(*group) error
}

// job is an operation on its way to the writer.
type job struct {
	op   operation
	turn atomic.Int32 // waiting, then taken by the writer or given up by the caller
	done chan error
}

const (
	turnWaiting int32 = iota
	turnTaken
	turnGivenUp
)

// group is what one transaction commits.
type group struct {
	tx    *bbolt.Tx
	names *lookup
	dirty bool // something was written

	// What the changes checked so far will do.
	versions   map[CaseID]uint64
	deliveries map[string]Receipt
	lastCase   uint64
}

func (b *Bolt) newGroup(tx *bbolt.Tx) *group {
	return &group{
		tx:         tx,
		names:      b.names.begin(tx),
		versions:   map[CaseID]uint64{},
		deliveries: map[string]Receipt{},
		lastCase:   tx.Bucket(bucketRows).Sequence(),
	}
}

// put writes one entry.
func (g *group) put(bucket, key, value []byte) error {
	g.dirty = true
	if err := g.tx.Bucket(bucket).Put(key, value); err != nil {
		return fmt.Errorf("write to %s: %w", bucket, err)
	}
	return nil
}

// drop removes one entry.
func (g *group) drop(bucket, key []byte) error {
	g.dirty = true
	if err := g.tx.Bucket(bucket).Delete(key); err != nil {
		return fmt.Errorf("delete from %s: %w", bucket, err)
	}
	return nil
}

// do queues an operation and waits for its commit. When ctx ends first, the
// operation is given up if the writer has not taken it yet; otherwise its
// end, which is near, is waited for. So a context's error always means that
// nothing was written.
func (b *Bolt) do(ctx context.Context, op operation) error {
	j := &job{op: op, done: make(chan error, 1)}
	if err := b.enqueue(ctx, j); err != nil {
		return err
	}
	select {
	case err := <-j.done:
		return err
	case <-ctx.Done():
		if j.turn.CompareAndSwap(turnWaiting, turnGivenUp) {
			return ctx.Err()
		}
		return <-j.done
	}
}

func (b *Bolt) enqueue(ctx context.Context, j *job) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if b.opts.ReadOnly {
		return unavailable("write to "+b.path, os.ErrPermission)
	}
	b.mu.RLock()
	defer b.mu.RUnlock()
	if b.closed {
		return unavailable("write", errClosed)
	}
	if err := b.usable(); err != nil {
		return err
	}
	select {
	case b.queue <- j:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// write is the writer: it commits whatever is queued, together. While one
// commit waits for the disk the next group gathers, so the more there is to
// do, the more share a commit; nobody waits for a group to fill.
func (b *Bolt) write() {
	defer close(b.written)
	debug.SetPanicOnFault(true) // a page that can't be read is an error, not the end
	for first := range b.queue {
		runtime.Gosched() // lets those whom the last commit woke queue up, too
		jobs := b.gather(first)
		if len(jobs) > 0 {
			b.commitGroup(jobs)
		}
	}
}

// gather takes what is queued and not given up.
func (b *Bolt) gather(first *job) []*job {
	var jobs []*job
	take := func(j *job) {
		if j.turn.CompareAndSwap(turnWaiting, turnTaken) {
			jobs = append(jobs, j)
		}
	}
	take(first)
	for len(jobs) < maxGroup {
		select {
		case j, ok := <-b.queue:
			if !ok {
				return jobs
			}
			take(j)
		default:
			return jobs
		}
	}
	return jobs
}

// commitGroup commits the jobs whose preconditions hold, and answers all.
// When writing one of them fails, nothing is committed, and the rest is tried
// again without it.
func (b *Bolt) commitGroup(jobs []*job) {
	for len(jobs) > 0 {
		results := make([]error, len(jobs))
		bad, err := b.tryGroup(jobs, results)
		if bad < 0 {
			answer(jobs, results, err)
			return
		}
		jobs[bad].done <- err
		jobs = append(jobs[:bad:bad], jobs[bad+1:]...)
	}
}

// answer hands out the results; an error of the whole group counts for those
// that would have been committed.
func answer(jobs []*job, results []error, groupErr error) {
	for i, j := range jobs {
		if results[i] == nil {
			results[i] = groupErr
		}
		j.done <- results[i]
	}
}

// tryGroup runs one transaction. It returns the job that could not be
// written, or -1 and the error of the commit.
func (b *Bolt) tryGroup(jobs []*job, results []error) (bad int, err error) {
	bad = -1
	defer b.stopOnDamage(&err)
	if err := b.ready(); err != nil {
		return -1, err
	}
	tx, err := b.db.Begin(true)
	if err != nil {
		return -1, unavailable("begin a transaction", err)
	}
	defer rollback(tx)
	g := b.newGroup(tx)
	if bad, err := b.runGroup(g, jobs, results); err != nil {
		return bad, err
	}
	if !g.dirty {
		return -1, nil
	}
	if err := b.commitTx(tx); err != nil {
		// Pages may or may not have reached the disk, and after a failed
		// fsync a repeated one can succeed without them. Only opening the
		// file again tells what is in it.
		b.fail(err)
		return -1, fmt.Errorf("%w: commit: %w", ErrUncertain, err)
	}
	b.names.keep(g.names)
	return -1, nil
}

// commitTx commits; a panic over a damaged page counts as a failure.
func (b *Bolt) commitTx(tx *bbolt.Tx) (err error) {
	defer b.stopOnDamage(&err)
	return b.commit(tx)
}

// rollback ends a transaction that was not committed; after a commit it does
// nothing. What is damaged may not even roll back, and was reported before.
func rollback(tx *bbolt.Tx) {
	defer func() { _ = recover() }()
	_ = tx.Rollback()
}

// ready refuses to write to a file that is no longer the one at the path:
// what would be acknowledged then could never be found again.
func (b *Bolt) ready() error {
	if err := b.usable(); err != nil {
		return err
	}
	info, err := os.Stat(b.path)
	switch {
	case err != nil:
		return unavailable("look after the file", err)
	case !os.SameFile(info, b.info):
		return unavailable("look after the file", fmt.Errorf("%s was replaced while it was open", b.path))
	}
	return nil
}

// runGroup checks all jobs before it writes anything, then writes those that
// passed.
func (b *Bolt) runGroup(g *group, jobs []*job, results []error) (bad int, err error) {
	for i, j := range jobs {
		results[i] = j.op.check(g)
	}
	for i, j := range jobs {
		if results[i] != nil {
			continue
		}
		if err := j.op.write(g); err != nil {
			return i, err
		}
	}
	return -1, nil
}
