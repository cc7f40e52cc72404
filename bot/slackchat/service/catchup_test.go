package service_test

import (
	"context"
	"fmt"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"ferrule/bot/slackchat"
	"ferrule/bot/slackchat/service"
	"ferrule/bot/slackchat/slackfake"
	"ferrule/store"
)

// A message that comes in before the catch-up begins does not move the mark past
// what was missed.
func TestCatchUpMark(t *testing.T) {
	t.Parallel()
	var shift atomic.Int64
	now := func() time.Time { return time.Now().Add(time.Duration(shift.Load())) }
	f := newFirm(t, false, slackfake.Options{Now: now})
	f.more = func(o *service.Options) { o.Now = now }
	f.start()
	f.opened(faults, ada, " weak signal 83 %")
	if err := f.leave(); err != nil {
		t.Fatal(err)
	}
	shift.Store(int64(10 * time.Minute))
	f.fake.LoseEvents(true)
	missed := f.say(faults, ben, f.fake.Mention()+complaint, "") // ten minutes after the outage began
	f.fake.LoseEvents(false)
	shift.Store(int64(20 * time.Minute))
	slow := &slowCases{Store: f.store, ready: make(chan struct{})} // the case book is large, or Slack quick
	fresh := ""
	go func() {
		time.Sleep(300 * time.Millisecond)
		fresh = f.say(faults, cleo, f.fake.Mention()+complaint, "")
		time.Sleep(500 * time.Millisecond)
		close(slow.ready)
	}()
	f.startOn(slow)
	f.wait("the fresh one", func() bool { return len(f.cases()) >= 2 })
	time.Sleep(2 * time.Second)
	if len(f.answers(faults, missed)) != 1 {
		t.Errorf("what was missed ten minutes ago is not answered, since %s came in first; %q", fresh, f.words())
	}
}

// slowCases answers Cases late.
type slowCases struct {
	store.Store
	ready chan struct{}
}

func (s *slowCases) Cases(ctx context.Context, q store.Query, after store.Cursor) (store.Page, error) {
	if q.Limit == 500 {
		<-s.ready
	}
	return s.Store.Cases(ctx, q, after)
}

// What was said in a thread that was opened while nobody listened is read.
func TestCatchUpThreadOpenedMeanwhile(t *testing.T) {
	t.Parallel()
	f := newFirm(t, false, slackfake.Options{})
	f.start()
	f.answered(faults, f.say(faults, ada, f.fake.Mention()+" weak signal 83 %", ""), 1)
	f.settled()
	f.fake.RefuseConnections(true)
	f.fake.Cut()
	f.fake.LoseEvents(true)
	second := f.say(faults, ben, f.fake.Mention()+" wireless keypad won't enrol", "")
	f.say(faults, ben, "gen 1 hub", second)
	f.fake.LoseEvents(false)
	f.fake.RefuseConnections(false)
	f.wait("the mention", func() bool { return len(f.cases()) == 2 })
	time.Sleep(2 * time.Second)
	f.settled()
	if got := strings.Join(f.words(), "|"); !strings.Contains(got, "2:gen 1 hub") {
		t.Errorf("the reply in the thread was missed: %s", got)
	}
}

// A catch-up that fails is tried again.
func TestCatchUpFailsOnce(t *testing.T) {
	t.Parallel()
	f := newFirm(t, false, slackfake.Options{})
	f.more = func(o *service.Options) { o.Connections = 1 }
	f.start()
	root := f.opened(faults, ada, " weak signal 83 %")
	f.fake.RefuseConnections(true)
	f.fake.Cut()
	f.fake.LoseEvents(true)
	f.say(faults, ada, "gen 2 hub", root)
	f.fake.LoseEvents(false)
	f.fake.Fail("conversations.replies", slackfake.Fault{Times: 1, Status: 500})
	f.fake.RefuseConnections(false)
	for end := time.Now().Add(10 * time.Second); !strings.Contains(f.log.String(), "missed messages") && time.Now().Before(end); {
		time.Sleep(50 * time.Millisecond)
	}
	time.Sleep(5 * time.Second)
	if n := len(f.answers(faults, root)); n != 2 {
		t.Errorf("%d answers", n)
	}
}

// In the HTTP mode requests are answered while the catch-up goes on.
func TestHTTPServesDuringCatchUp(t *testing.T) {
	t.Parallel()
	f := newFirm(t, true, slackfake.Options{})
	f.start()
	f.opened(faults, ada, " weak signal 83 %")
	if err := f.leave(); err != nil {
		t.Fatal(err)
	}
	f.fake.Fail("conversations.history", slackfake.Fault{Times: 1, Status: 429, RetryAfter: 8 * time.Second})
	begun := time.Now()
	f.start() // returns when url_verification is answered
	if d := time.Since(begun); d > 3*time.Second {
		t.Errorf("the first request was answered after %s", d)
	}
}

// An entry in doubt is not posted again where the case book can't be read for a
// moment.
func TestDoubtIsKept(t *testing.T) {
	t.Parallel()
	f := newFirm(t, false, slackfake.Options{})
	f.start()
	f.fake.Fail("conversations.replies", slackfake.Fault{Times: 1000, Status: 500}) // so that it stays in doubt
	f.fake.Fail("chat.postMessage", slackfake.Fault{Times: 1, Lost: true})
	root := f.say(faults, ada, f.fake.Mention()+complaint, "")
	f.wait("a post", func() bool { return f.fake.Calls("chat.postMessage") == 1 })
	f.wait("the case", func() bool { return len(f.cases()) == 1 })
	if err := f.leave(); err != nil {
		t.Fatal(err)
	}
	f.fake.Fail("conversations.replies", slackfake.Fault{})
	once := &failsOnce{Store: f.store}
	f.startOn(once)
	time.Sleep(4 * time.Second)
	if got := f.answers(faults, root); len(got) != 1 {
		t.Errorf("posted %d times (reads refused: %d)", len(got), once.refused.Load())
	}
}

// failsOnce can't read the first stored reply that it is asked for.
type failsOnce struct {
	store.Store
	refused atomic.Int64
}

func (s *failsOnce) Apply(ctx context.Context, c store.Change) (store.Receipt, error) {
	if c.Delivery != "" && len(c.Events) == 0 && len(c.Outbox) == 0 && s.refused.Add(1) == 1 {
		return store.Receipt{}, fmt.Errorf("%w: %w", store.ErrUnavailable, errStalled)
	}
	return s.Store.Apply(ctx, c)
}

// What was said in a thread before the bot was called is not caught up on.
func TestOldChatterIsNotCaughtUpOn(t *testing.T) {
	t.Parallel()
	f := newFirm(t, false, slackfake.Options{})
	f.start()
	thread := f.say(faults, ada, "who is at lantern-12?", "")
	f.say(faults, ben, "me, the other site had 12 % signal", thread)
	f.settled()
	f.say(faults, ada, f.fake.Mention()+" wireless keypad won't enrol", thread)
	f.answered(faults, thread, 1)
	f.settled()
	f.fake.Cut()
	time.Sleep(2 * time.Second)
	f.settled()
	if got := f.answers(faults, thread); len(got) != 1 {
		t.Errorf("%d answers; read: %q\n%s", len(got), f.words(), strings.Join(texts(got), "\n--\n"))
	}
}

// A commit of the outbox whose fate is not known ends the process.
func TestUncertainInTheOutbox(t *testing.T) {
	t.Parallel()
	f := newFirm(t, false, slackfake.Options{})
	broken := &brokenBySent{Store: f.store}
	f.startOn(broken)
	root := f.say(faults, ada, f.fake.Mention()+complaint, "")
	f.answered(faults, root, 1)
	for end := time.Now().Add(10 * time.Second); !broken.broken.Load() && time.Now().Before(end); {
		time.Sleep(50 * time.Millisecond)
	}
	f.say(faults, ben, f.fake.Mention()+complaint, "")
	select {
	case err := <-f.ended:
		f.ended <- err
	case <-time.After(8 * time.Second):
		t.Error("the bot goes on with a case book that serves nothing any more, and stores nothing for ever")
	}
}

// brokenBySent is what store.Bolt does after a failed fsync: ErrUncertain once,
// ErrUnavailable from then on.
type brokenBySent struct {
	store.Store
	broken atomic.Bool
}

func (s *brokenBySent) Sent(ctx context.Context, id uint64) error {
	if s.broken.CompareAndSwap(false, true) {
		return fmt.Errorf("%w: commit: %w", store.ErrUncertain, errStalled)
	}
	return fmt.Errorf("%w: %w", store.ErrUnavailable, errStalled)
}

func (s *brokenBySent) Apply(ctx context.Context, c store.Change) (store.Receipt, error) {
	if s.broken.Load() {
		return store.Receipt{}, fmt.Errorf("%w: %w", store.ErrUnavailable, errStalled)
	}
	return s.Store.Apply(ctx, c)
}

// Who was told once that they may not is not told again at every start.
func TestLateHintAgain(t *testing.T) {
	t.Parallel()
	f := newFirm(t, false, slackfake.Options{})
	f.more = func(o *service.Options) { o.People = slackchat.People{Technicians: []string{ada}} }
	f.start()
	f.answered(faults, f.say(faults, ada, f.fake.Mention()+" weak signal 83 %", ""), 1)
	f.say(faults, cleo, f.fake.Mention()+complaint, "")
	f.wait("a hint", func() bool { return len(f.fake.Ephemerals(faults)) == 1 })
	for range 2 {
		f.settled()
		if err := f.leave(); err != nil {
			t.Fatal(err)
		}
		f.start()
		time.Sleep(time.Second)
	}
	if n := len(f.fake.Ephemerals(faults)); n != 1 {
		t.Errorf("%d hints for one message", n)
	}
}
