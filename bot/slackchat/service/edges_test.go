package service_test

import (
	"fmt"
	"strings"
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

// Who is not on the list can't write into a case by editing either.
func TestEditByStranger(t *testing.T) {
	t.Parallel()
	f := newFirm(t, false, slackfake.Options{})
	f.more = func(o *service.Options) { o.People = slackchat.People{Technicians: []string{ada}} }
	f.start()
	root := f.opened(faults, ada, " weak signal 83 %")
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

// The words of a deleted direct message that went on with a case of a channel go.
func TestDirectDeletion(t *testing.T) {
	t.Parallel()
	f := newFirm(t, false, slackfake.Options{})
	f.start()
	f.opened(faults, ada, " weak signal 83 % on the wireless keypad")
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

// So do those of a message of the first of two cases of a thread.
func TestDeletionOfTheCaseBefore(t *testing.T) {
	t.Parallel()
	f := newFirm(t, false, slackfake.Options{})
	f.start()
	root := f.opened(faults, ada, " weak signal 83 % on the wireless keypad")
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

// A typo mended after the case was closed opens none, and one of the case before
// is not read into the present one.
func TestEditAfterClosing(t *testing.T) {
	t.Parallel()
	f := newFirm(t, false, slackfake.Options{})
	f.start()
	root := f.opened(faults, ada, " wireless keypad won't enrol, gen 1 hub")
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
	root := f.opened(faults, ada, " weak signal 83 % on the wireless keypad")
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

// A failure of usergroups.users.list keeps nobody out, and loses nothing.
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

// While a group is looked up others are acknowledged.
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

// One who may not work with it can't call it into a thread of others.
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

// A button of another case book's case 1 is not taken for this one's.
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
	f.opened(other, ben, complaint)
	f.press(faults, old, cleo, "done")
	f.wait("an answer", func() bool { return len(f.answers(faults, root)) > 1 })
	if c := f.cases()[0]; c.Version != 1 {
		t.Errorf("a button below %s in #faults changed case %d of %s: %s", root, c.ID, c.Conversation, f.answers(faults, root)[1].Text)
	}
}

// Somebody who may not work with it sees no faults of the firm.
func TestHomeOfAStranger(t *testing.T) {
	t.Parallel()
	f := newFirm(t, false, slackfake.Options{})
	f.more = func(o *service.Options) { o.People = slackchat.People{Technicians: []string{ada}} }
	f.start()
	root := f.opened(faults, ada, " wireless keypad won't enrol, gen 1 hub")
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

// What is no number is no minutes.
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

// A slash command is acknowledged before its question is posted.
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

// The words of a message that is deleted before its event arrives are not kept.
func TestDeletedBeforeItArrives(t *testing.T) {
	t.Parallel()
	f := newFirm(t, false, slackfake.Options{Order: slackfake.MentionFirst})
	f.start()
	root := f.opened(faults, ada, " weak signal 83 % on the wireless keypad")
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

// A photo that has to be looked up is linked although Slack fails once.
func TestPhotoIsLinked(t *testing.T) {
	t.Parallel()
	f := newFirm(t, false, slackfake.Options{})
	f.start()
	root := f.opened(faults, ada, " weak signal 83 %")
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
