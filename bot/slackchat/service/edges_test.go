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

func (f *firm) words() []string {
	var said []string
	for _, c := range f.cases() {
		for _, e := range c.Events {
			if e.Message != nil && !e.Message.Deleted {
				said = append(said, fmt.Sprintf("%d:%s", c.ID, e.Message.Text))
			}
		}
	}
	return said
}

// Who is not on the list writes into a case by editing.
func TestEditByStranger(t *testing.T) {
	t.Parallel()
	f := newFirm(t, false, slackfake.Options{})
	f.more = func(o *service.Options) { o.People = slackchat.People{Technicians: []string{ada}} }
	f.start()
	root := f.say(faults, ada, f.fake.Mention()+" weak signal 83 %", "")
	f.answered(faults, root, 1)
	m := f.say(faults, cleo, "lunch", root)
	f.settled()
	if err := f.fake.Edit(faults, m, "gen 2 hub"); err != nil {
		t.Fatal(err)
	}
	time.Sleep(500 * time.Millisecond)
	f.settled()
	if n := len(f.answers(faults, root)); n != 1 || f.cases()[0].Version != 1 {
		t.Errorf("cleo wrote into the case by an edit: %d answers, version %d, %q", n, f.cases()[0].Version, f.words())
	}
}

// Words of a deleted direct message that went on with a case of a channel.
func TestDirectDeletion(t *testing.T) {
	t.Parallel()
	f := newFirm(t, false, slackfake.Options{})
	f.start()
	root := f.say(faults, ada, f.fake.Mention()+" weak signal 83 % on the wireless keypad", "")
	f.answered(faults, root, 1)
	m := f.say(direct, ada, "gen 1 hub", "")
	f.answered(direct, "", 1)
	f.settled()
	if err := f.fake.Delete(direct, m); err != nil {
		t.Fatal(err)
	}
	time.Sleep(500 * time.Millisecond)
	f.settled()
	if got := strings.Join(f.words(), "|"); strings.Contains(got, "gen 1 hub") {
		t.Errorf("the words of a deleted message are left: %s", got)
	}
}

// The same for a message of the first of two cases of a thread.
func TestDeletionOfTheCaseBefore(t *testing.T) {
	t.Parallel()
	f := newFirm(t, false, slackfake.Options{})
	f.start()
	root := f.say(faults, ada, f.fake.Mention()+" weak signal 83 % on the wireless keypad", "")
	f.answered(faults, root, 1)
	f.say(faults, ada, "new case: tamper on zone 4", root)
	f.answered(faults, root, 2)
	f.settled()
	if len(f.cases()) != 2 {
		t.Skipf("%d cases", len(f.cases()))
	}
	if err := f.fake.Delete(faults, root); err != nil {
		t.Fatal(err)
	}
	time.Sleep(500 * time.Millisecond)
	f.settled()
	if got := strings.Join(f.words(), "|"); strings.Contains(got, "83 %") {
		t.Errorf("the words of a deleted message are left: %s", got)
	}
}

// A typo mended after the case was closed opens a case; one of the case
// before is read into the present one.
func TestEditAfterClosing(t *testing.T) {
	t.Parallel()
	f := newFirm(t, false, slackfake.Options{})
	f.start()
	root := f.say(faults, ada, f.fake.Mention()+" wireless keypad won't enrol, gen 1 hub", "")
	f.answered(faults, root, 1)
	f.say(faults, ada, "close: hub too old, 20 min, measured", root)
	f.answered(faults, root, 2)
	f.settled()
	if c := f.cases(); len(c) != 1 || c[0].State != store.Closed {
		t.Fatalf("not closed: %s", f.answers(faults, root)[1].Text)
	}
	if err := f.fake.Edit(faults, root, f.fake.Mention()+" wireless keypad will not enrol, gen 1 hub"); err != nil {
		t.Fatal(err)
	}
	time.Sleep(700 * time.Millisecond)
	f.settled()
	if n := len(f.cases()); n != 1 {
		t.Errorf("an edit opened a case: %d cases; %q", n, f.words())
	}
}

func TestEditOfTheCaseBefore(t *testing.T) {
	t.Parallel()
	f := newFirm(t, false, slackfake.Options{})
	f.start()
	root := f.say(faults, ada, f.fake.Mention()+" weak signal 83 % on the wireless keypad", "")
	f.answered(faults, root, 1)
	f.say(faults, ada, "new case: tamper on zone 4", root)
	f.answered(faults, root, 2)
	f.settled()
	if err := f.fake.Edit(faults, root, f.fake.Mention()+" weak signal 38 % on the wireless keypad"); err != nil {
		t.Fatal(err)
	}
	time.Sleep(700 * time.Millisecond)
	f.settled()
	for _, w := range f.words() {
		if w == "2:weak signal 38 % on the wireless keypad" {
			t.Errorf("an edit of case 1 was read into case 2: %q", f.words())
		}
	}
}

// One failure of usergroups.users.list keeps everybody out for five minutes,
// and what they say is acknowledged and gone.
func TestGroupLookupFails(t *testing.T) {
	t.Parallel()
	f := newFirm(t, false, slackfake.Options{})
	f.fake.AddGroup("S0TECHS", ada)
	f.more = func(o *service.Options) { o.People = slackchat.People{Technicians: []string{"S0TECHS"}} }
	f.fake.Fail("usergroups.users.list", slackfake.Fault{Times: 1, Status: 500})
	f.start()
	f.say(faults, ada, f.fake.Mention()+complaint, "")
	time.Sleep(time.Second)
	f.say(faults, ada, f.fake.Mention()+complaint, "")
	time.Sleep(time.Second)
	f.settled()
	if n := len(f.cases()); n != 2 {
		t.Errorf("%d cases of 2; to ada: %+v", n, f.fake.Ephemerals(faults))
	}
}

// While the group is looked up nothing is acknowledged, not even others.
func TestGroupLookupHangs(t *testing.T) {
	t.Parallel()
	f := newFirm(t, false, slackfake.Options{AckDeadline: 3 * time.Second})
	f.fake.AddGroup("S0TECHS", ada)
	f.more = func(o *service.Options) { o.People = slackchat.People{Technicians: []string{ben, "S0TECHS"}} }
	f.fake.Fail("usergroups.users.list", slackfake.Fault{Times: 1, Delay: 4 * time.Second})
	f.start()
	f.say(faults, ada, f.fake.Mention()+complaint, "")
	time.Sleep(50 * time.Millisecond)
	f.say(faults, ben, f.fake.Mention()+complaint, "")
	time.Sleep(5 * time.Second)
	for _, d := range f.fake.Deliveries() {
		if len(d.Attempts) > 1 {
			t.Errorf("%s %s was not acknowledged in time", d.Type, d.TS)
		}
	}
}

// A message that comes in before the catch-up begins moves the mark past
// what was missed.
func TestCatchUpMark(t *testing.T) {
	t.Parallel()
	var shift atomic.Int64
	now := func() time.Time { return time.Now().Add(time.Duration(shift.Load())) }
	f := newFirm(t, false, slackfake.Options{Now: now})
	f.more = func(o *service.Options) { o.Now = now }
	f.start()
	root := f.say(faults, ada, f.fake.Mention()+" weak signal 83 %", "")
	f.answered(faults, root, 1)
	f.settled()
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

// What was said in a thread that was opened while nobody listened.
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

// One failure of the catch-up is final.
func TestCatchUpFailsOnce(t *testing.T) {
	t.Parallel()
	f := newFirm(t, false, slackfake.Options{})
	f.more = func(o *service.Options) { o.Connections = 1 }
	f.start()
	root := f.say(faults, ada, f.fake.Mention()+" weak signal 83 %", "")
	f.answered(faults, root, 1)
	f.settled()
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

// In the HTTP mode nobody is answered while the catch-up goes on.
func TestHTTPServesDuringCatchUp(t *testing.T) {
	t.Parallel()
	f := newFirm(t, true, slackfake.Options{})
	f.start()
	root := f.say(faults, ada, f.fake.Mention()+" weak signal 83 %", "")
	f.answered(faults, root, 1)
	f.settled()
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

// One who may not work with it calls it, and from then on it butts in.
func TestCalledByStranger(t *testing.T) {
	t.Parallel()
	f := newFirm(t, false, slackfake.Options{})
	f.more = func(o *service.Options) { o.People = slackchat.People{Technicians: []string{ada, ben}} }
	f.start()
	thread := f.say(faults, ada, "lunch?", "")
	f.say(faults, cleo, f.fake.Mention()+" what do you say?", thread)
	f.wait("a hint", func() bool { return len(f.fake.Ephemerals(faults)) == 1 })
	f.say(faults, ben, "pizza", thread)
	f.say(faults, ada, "fine, at noon", thread)
	time.Sleep(time.Second)
	f.settled()
	if got := f.answers(faults, thread); len(got) > 0 {
		t.Errorf("answered chatter in a thread without a case: %q", texts(got))
	}
}

func TestCalledOnceButtsIn(t *testing.T) {
	t.Parallel()
	f := newFirm(t, false, slackfake.Options{})
	f.start()
	thread := f.say(faults, ada, "lunch?", "")
	f.say(faults, cleo, f.fake.Mention()+" hello", thread)
	f.answered(faults, thread, 1)
	f.say(faults, ben, "pizza", thread)
	f.say(faults, ada, "fine, at noon", thread)
	time.Sleep(time.Second)
	f.settled()
	if got := f.answers(faults, thread); len(got) > 1 {
		t.Errorf("answered chatter in a thread without a case: %q", texts(got))
	}
}

// A button of another case book's case 1 is taken for this one's.
func TestButtonOfAnotherCaseBook(t *testing.T) {
	t.Parallel()
	f := newFirm(t, false, slackfake.Options{})
	f.start()
	root := f.say(faults, ada, f.fake.Mention()+complaint, "")
	old := f.answered(faults, root, 1)
	f.settled()
	if err := f.leave(); err != nil {
		t.Fatal(err)
	}
	_ = f.store.Close()
	f.path += ".new"
	f.openStore()
	f.start()
	second := f.say(other, ben, f.fake.Mention()+complaint, "")
	f.answered(other, second, 1)
	f.settled()
	f.press(faults, old, cleo, "done")
	f.wait("an answer", func() bool { return len(f.answers(faults, root)) > 1 })
	if c := f.cases()[0]; c.Version != 1 {
		t.Errorf("a button below %s in #faults changed case %d of %s: %s", root, c.ID, c.Conversation, f.answers(faults, root)[1].Text)
	}
}

// An entry in doubt is posted again where the case book can't be read for a
// moment.
func TestDoubtForgotten(t *testing.T) {
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

// The home page of somebody who may not work with it.
func TestHomeOfAStranger(t *testing.T) {
	t.Parallel()
	f := newFirm(t, false, slackfake.Options{})
	f.more = func(o *service.Options) { o.People = slackchat.People{Technicians: []string{ada}} }
	f.start()
	root := f.say(faults, ada, f.fake.Mention()+" wireless keypad won't enrol, gen 1 hub", "")
	f.answered(faults, root, 1)
	f.say(faults, ada, "close: hub too old, 20 min, measured", root)
	f.answered(faults, root, 2)
	f.fake.AddDirect("D0CLEO", cleo)
	if _, err := f.fake.OpenHome(cleo); err != nil {
		t.Fatal(err)
	}
	f.wait("a home page", func() bool { _, ok := f.fake.Home(cleo); return ok })
	if v, _ := f.fake.Home(cleo); strings.Contains(string(v.Blocks), "older generation") {
		t.Errorf("cleo sees what was mended: %s", v.Blocks)
	}
}

// NaN minutes.
func TestNaNMinutes(t *testing.T) {
	t.Parallel()
	f := newFirm(t, false, slackfake.Options{})
	f.start()
	root := f.say(faults, ada, f.fake.Mention()+" wireless keypad won't enrol, gen 1 hub", "")
	first := f.answered(faults, root, 1)
	f.press(faults, first, ada, "Close the case")
	form := f.form(ada)
	if _, err := f.fake.Submit(ada, form.ID, map[string]string{"cause": "hub_generation_unsupported", "minutes": "NaN", "confirmed": "measurement"}); err != nil {
		t.Fatal(err)
	}
	time.Sleep(time.Second)
	if v := f.fake.Views(ada); len(v) == 0 || v[0].Errors["minutes"] == "" {
		t.Errorf("NaN was taken; %q %q", f.words(), texts(f.answers(faults, root)))
	}
}

// The catch-up answers what was said in a thread before the bot was called.
func TestCatchUpAnswersOldChatter(t *testing.T) {
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

// The case book's fate is uncertain after a commit of the outbox.
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

// A slash command waits for chat.postMessage before it is acknowledged.
func TestSlashIsAcknowledgedInTime(t *testing.T) {
	t.Parallel()
	both(t, func(t *testing.T, http bool) {
		f := newFirm(t, http, slackfake.Options{})
		f.start()
		f.fake.Fail("chat.postMessage", slackfake.Fault{Times: 1, Delay: 4 * time.Second})
		if _, err := f.fake.Slash(faults, ben, "/ferrule", "tamper on zone 4"); err != nil {
			t.Fatal(err)
		}
		time.Sleep(10 * time.Second)
		for _, d := range f.fake.Deliveries() {
			if d.Acked.IsZero() || len(d.Attempts) > 1 {
				t.Errorf("not acknowledged in time: %+v", d)
			}
		}
		if n := len(f.answers(faults, "")); n != 1 {
			t.Errorf("%d questions in the channel: %q", n, texts(f.answers(faults, "")))
		}
	})
}

// A message is deleted before its event arrives; its words are kept.
func TestDeletedBeforeItArrives(t *testing.T) {
	t.Parallel()
	f := newFirm(t, false, slackfake.Options{Order: slackfake.MentionFirst})
	f.start()
	root := f.say(faults, ada, f.fake.Mention()+" weak signal 83 % on the wireless keypad", "")
	f.answered(faults, root, 1)
	f.settled()
	f.fake.HoldEvents()
	m := f.say(faults, ada, "gen 2 hub, the owner is Smith", root)
	if err := f.fake.Delete(faults, m); err != nil {
		t.Fatal(err)
	}
	if err := f.fake.ReleaseEvents(1, 0); err != nil {
		t.Fatal(err)
	}
	time.Sleep(time.Second)
	f.settled()
	if got := strings.Join(f.words(), "|"); strings.Contains(got, "Smith") {
		t.Errorf("the words of a deleted message are kept: %s", got)
	}
}

// Who was told once that they may not is told again at every start.
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

// A photo that has to be looked up is dropped when Slack fails once.
func TestPhotoIsDropped(t *testing.T) {
	t.Parallel()
	f := newFirm(t, false, slackfake.Options{})
	f.start()
	root := f.say(faults, ada, f.fake.Mention()+" weak signal 83 %", "")
	f.answered(faults, root, 1)
	f.fake.Fail("files.info", slackfake.Fault{Times: 1, Status: 429, RetryAfter: time.Second})
	if _, err := f.fake.Share(faults, ada, []slackfake.File{{Name: "keypad.jpg", CheckInfo: true}}, "", root); err != nil {
		t.Fatal(err)
	}
	time.Sleep(3 * time.Second)
	f.settled()
	linked := false
	for _, e := range f.cases()[0].Events {
		linked = linked || e.Note != nil && e.Note.Topic == "file"
	}
	if !linked {
		t.Error("the photo was acknowledged and is not linked")
	}
}
