package store

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"go.etcd.io/bbolt"
)

func openTest(t *testing.T) *Bolt {
	t.Helper()
	b, err := OpenBolt(filepath.Join(t.TempDir(), "cases.db"), Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = b.Close() })
	return b
}

// again opens a store that stopped serving.
func again(t *testing.T, b *Bolt) *Bolt {
	t.Helper()
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	b, err := OpenBolt(b.path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = b.Close() })
	return b
}

func opening(conversation string) Change {
	return Change{Delivery: "chat:" + conversation, Events: []Event{
		{Kind: KindOpened, At: day, Actor: "ada", Opened: &Opened{Conversation: conversation}}}}
}

func applying1(t *testing.T, c Change) *applying {
	t.Helper()
	p, err := prepare(c)
	if err != nil {
		t.Fatal(err)
	}
	return &applying{prepared: p}
}

// spy is an operation that tells when it is called, and fails as told.
type spy struct {
	name            string
	log             *[]string
	checkErr, write error
	panics          bool
}

func (s spy) check(*group) error {
	*s.log = append(*s.log, "check "+s.name)
	return s.checkErr
}

func (s spy) writeNow(g *group) error {
	*s.log = append(*s.log, "write "+s.name)
	if s.panics {
		panic("page 7: bad")
	}
	if err := g.put(bucketSites, []byte(s.name), []byte(`{}`)); err != nil {
		return err
	}
	return s.write
}

// spyOperation gives spy the method name of an operation.
type spyOperation struct{ spy }

func (s spyOperation) write(g *group) error { return s.writeNow(g) }

// commitOnce runs a group on the test's goroutine, past the queue.
func commitOnce(b *Bolt, ops ...operation) []error {
	var jobs []*job
	for _, op := range ops {
		jobs = append(jobs, &job{op: op, done: make(chan error, 1)})
	}
	b.commitGroup(jobs)
	var errs []error
	for _, j := range jobs {
		errs = append(errs, <-j.done)
	}
	return errs
}

func TestAGroupIsCheckedBeforeItIsWritten(t *testing.T) {
	b := openTest(t)
	var log []string
	no, broken := errors.New("no"), errors.New("broken")
	errs := commitOnce(b,
		spyOperation{spy{name: "a", log: &log}},
		spyOperation{spy{name: "b", log: &log, checkErr: no}},
		spyOperation{spy{name: "c", log: &log, write: broken}},
		spyOperation{spy{name: "d", log: &log}},
	)
	if diff := cmp.Diff([]string{
		"check a", "check b", "check c", "check d", "write a", "write c", // c fails: all again without it
		"check a", "check b", "check d", "write a", "write d",
	}, log); diff != "" {
		t.Errorf("calls (-want +got):\n%s", diff)
	}
	if errs[0] != nil || errs[1] != no || errs[2] != broken || errs[3] != nil {
		t.Errorf("results: %v", errs)
	}
	for name, want := range map[SiteRef]bool{"a": true, "b": false, "c": false, "d": true} {
		if _, _, err := b.Site(t.Context(), name); (err == nil) != want {
			t.Errorf("site %s: %v", name, err)
		}
	}
}

func TestChangesOfOneGroupSeeEachOther(t *testing.T) {
	b := openTest(t)
	first, same, other := applying1(t, opening("1")), applying1(t, opening("1")), applying1(t, opening("2"))
	follow := applying1(t, Change{Case: 1, Expected: 1, Events: []Event{{Kind: KindUndo, Undo: &Undo{Message: "m"}}}})
	stale := applying1(t, Change{Case: 1, Expected: 1})
	errs := commitOnce(b, first, same, other, follow, stale)
	if errs[0] != nil || errs[1] != nil || errs[2] != nil || errs[3] != nil || !errors.Is(errs[4], ErrConflict) {
		t.Fatalf("results: %v", errs)
	}
	for _, tt := range []struct {
		got  *applying
		want Receipt
	}{{first, Receipt{Case: 1, Version: 1}}, {same, Receipt{Case: 1, Version: 1, Repeated: true}}, {other, Receipt{Case: 2, Version: 1}}, {follow, Receipt{Case: 1, Version: 2}}} {
		if diff := cmp.Diff(tt.want, tt.got.receipt); diff != "" {
			t.Errorf("receipt (-want +got):\n%s", diff)
		}
	}
	// A change whose neighbour fails while it is written keeps its number.
	broken := spyOperation{spy{name: "x", log: new([]string), write: errors.New("broken")}}
	third := applying1(t, opening("3"))
	if errs := commitOnce(b, third, broken); errs[0] != nil || errs[1] == nil || third.receipt.Case != 3 {
		t.Errorf("beside a failure: %v, %+v", errs, third.receipt)
	}
	wantSound(t, b)
}

func TestDamageStopsTheStore(t *testing.T) {
	b := openTest(t)
	errs := commitOnce(b, applying1(t, opening("1")), spyOperation{spy{name: "x", log: new([]string), panics: true}})
	for i, err := range errs {
		if !errors.Is(err, ErrUnavailable) {
			t.Errorf("job %d: %v", i, err)
		}
	}
	if _, err := b.Case(t.Context(), 1); !errors.Is(err, ErrUnavailable) {
		t.Errorf("case after damage: %v", err)
	}
	b = again(t, b)
	if _, err := b.Case(t.Context(), 1); !errors.Is(err, ErrNotFound) {
		t.Errorf("something was committed: %v", err)
	}
}

// A commit that fails may have reached the disk or not; in both cases the
// store stops, and the repeated delivery is applied exactly once.
func TestFailedCommitStopsTheStore(t *testing.T) {
	for name, commit := range map[string]func(*bbolt.Tx) error{
		"stored all the same": func(tx *bbolt.Tx) error { return errors.Join(tx.Commit(), errors.New("sync: input/output error")) },
		"not stored":          func(tx *bbolt.Tx) error { return errors.Join(tx.Rollback(), errors.New("no space left")) },
		"panic":               func(*bbolt.Tx) error { panic("page 3: bad") },
	} {
		t.Run(name, func(t *testing.T) {
			b := openTest(t)
			if _, err := b.Apply(t.Context(), opening("1")); err != nil {
				t.Fatal(err)
			}
			b.commit = commit
			if _, err := b.Apply(t.Context(), opening("2")); !errors.Is(err, ErrUncertain) {
				t.Errorf("apply: %v", err)
			}
			wantStopped(t, b)
			b = again(t, b)
			if r, err := b.Apply(t.Context(), opening("2")); err != nil || r.Case != 2 || r.Version != 1 {
				t.Errorf("delivered again: %+v, %v", r, err)
			}
			wantSound(t, b)
			if s, err := b.Stats(t.Context()); err != nil || s.Cases != 2 || s.Changes != 2 || s.OpenCases != 2 {
				t.Errorf("stats: %+v, %v", s, err)
			}
		})
	}
}

func wantStopped(t *testing.T, b *Bolt) {
	t.Helper()
	_, applyErr := b.Apply(t.Context(), opening("3"))
	_, caseErr := b.Case(t.Context(), 1)
	_, listErr := b.Cases(t.Context(), Query{}, "")
	_, leaseErr := b.Lease(t.Context(), day, time.Hour, 1)
	for what, err := range map[string]error{
		"apply": applyErr, "case": caseErr, "cases": listErr, "lease": leaseErr, "sent": b.Sent(t.Context(), 1),
		"backup": b.Backup(t.Context(), filepath.Join(t.TempDir(), "backup.db")),
	} {
		if !errors.Is(err, ErrUnavailable) || errors.Is(err, ErrUncertain) {
			t.Errorf("%s after a failed commit: %v", what, err)
		}
	}
}

// A change that was given up while it waited is not applied; one that the
// writer has taken is waited for.
func TestGivingUp(t *testing.T) {
	b := openTest(t)
	var once sync.Once
	hold, held := make(chan struct{}), make(chan struct{})
	b.commit = func(tx *bbolt.Tx) error {
		once.Do(func() { close(held); <-hold })
		return tx.Commit()
	}
	ctx, cancel := context.WithCancel(t.Context())
	type result struct {
		r   Receipt
		err error
	}
	results := make(chan result, 2)
	apply := func(c Change) {
		r, err := b.Apply(ctx, c)
		results <- result{r, err}
	}
	go apply(opening("taken"))
	<-held
	go apply(opening("waiting"))
	for len(b.queue) == 0 {
		time.Sleep(time.Millisecond)
	}
	cancel()
	if waiting := <-results; !errors.Is(waiting.err, context.Canceled) {
		t.Errorf("waiting: %+v", waiting)
	}
	close(hold)
	if taken := <-results; taken.err != nil || taken.r.Case != 1 {
		t.Errorf("taken: %+v", taken)
	}
	b = again(t, b)
	if s, err := b.Stats(t.Context()); err != nil || s.Cases != 1 {
		t.Errorf("stats: %+v, %v", s, err)
	}
}

// Close commits what was queued before it.
func TestCloseCommitsTheQueue(t *testing.T) {
	b := openTest(t)
	var wg sync.WaitGroup
	var applied sync.Map
	for i := range 40 {
		wg.Go(func() {
			r, err := b.Apply(t.Context(), opening(string(rune('A'+i))))
			switch {
			case err == nil:
				applied.Store(r.Case, true)
			case !errors.Is(err, ErrUnavailable):
				t.Error(err)
			}
		})
	}
	time.Sleep(time.Millisecond)
	reopened := again(t, b) // a variable of its own: those who apply read the other
	wg.Wait()
	applied.Range(func(id, _ any) bool {
		if _, err := reopened.Case(t.Context(), id.(CaseID)); err != nil {
			t.Errorf("acknowledged: %v", err)
		}
		return true
	})
}

// A file that is cut short while it is open fails what needs the lost pages;
// it does not end the program.
func TestCutShortWhileOpen(t *testing.T) {
	for _, pages := range []int64{1, 2, 4, 8} {
		b := openTest(t)
		for n := range 200 {
			if _, err := b.Apply(t.Context(), opening(fmt.Sprint("c", n))); err != nil {
				t.Fatal(err)
			}
		}
		if err := os.Truncate(b.path, pages*4096); err != nil {
			t.Fatal(err)
		}
		_, caseErr := b.Case(t.Context(), 1)
		_, listErr := b.Cases(t.Context(), Query{}, "")
		_, applyErr := b.Apply(t.Context(), opening("x"))
		for what, err := range map[string]error{"case": caseErr, "cases": listErr, "apply": applyErr} {
			if !errors.Is(err, ErrUnavailable) && !errors.Is(err, ErrUncertain) {
				t.Errorf("%s with %d pages: %v", what, pages, err)
			}
		}
	}
}
