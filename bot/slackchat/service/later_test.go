package service_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"ferrule/bot/slackchat/service"
	"ferrule/bot/slackchat/slackfake"
	"ferrule/knowledge"
	"ferrule/store"
)

// shifted is a clock that can be set forward.
type shifted struct{ by atomic.Int64 }

func (s *shifted) now() time.Time { return time.Now().Add(time.Duration(s.by.Load())) }

// A reminder that falls due is said in its thread, once, and not when it does
// not hold any more.
func TestReminder(t *testing.T) {
	var clock shifted
	f := newFirm(t, false, slackfake.Options{})
	f.more = func(o *service.Options) { o.Now = clock.now }
	f.start()
	root := f.opened(faults, ada, " weak signal 83 %")
	f.say(faults, ada, "on test for 2 h", root)
	f.answered(faults, root, 2)
	off := f.say(faults, ben, f.fake.Mention()+" tamper on zone 4", "") // a reminder waits: it is not quiet
	f.answered(faults, off, 1)
	f.say(faults, ben, "on test for 2 h", off)
	f.answered(faults, off, 2)
	f.say(faults, ben, "off test, signal read back by the centre", off)
	f.answered(faults, off, 3)
	clock.by.Store(int64(110 * time.Minute))
	if m := f.answered(faults, root, 3); !strings.Contains(m.Text, "on test") {
		t.Errorf("reminder: %s", m.Text)
	}
	f.settled()
	f.answered(faults, root, 3)
	f.answered(faults, off, 3)
	f.clean()
}

// The review of a week is posted on Monday, once, whatever happens to the
// process.
func TestWeeklyReview(t *testing.T) {
	f := newFirm(t, false, slackfake.Options{})
	f.start()
	root := f.opened(faults, ada, complaint)
	f.say(faults, ada, "close, hub too old, 40 min, measured", root)
	f.answered(faults, root, 2)
	f.settled()
	if err := f.leave(); err != nil {
		t.Fatal(err)
	}
	now := time.Now()
	monday := time.Date(now.Year(), now.Month(), now.Day(), 8, 0, 0, 0, time.Local)
	for monday = monday.AddDate(0, 0, 1); monday.Weekday() != time.Monday; {
		monday = monday.AddDate(0, 0, 1)
	}
	var clock shifted
	clock.by.Store(int64(time.Until(monday)))
	f.more = func(o *service.Options) {
		o.Now = clock.now
		o.Review = service.Review{Channel: other, Pack: func() *knowledge.Pack { return o.Bot.Pack() }}
	}
	for range 2 {
		f.start()
		m := f.answered(other, "", 1)
		if !strings.Contains(m.Text, "1 case closed") || !strings.Contains(m.Text, "hub is of an older generation") && !strings.Contains(m.Text, "Worth saying") {
			t.Errorf("review: %s", m.Text)
		}
		f.settled()
		if err := f.leave(); err != nil {
			t.Fatal(err)
		}
	}
	f.clean()
}

// A reminder whose commit may have failed ends the process: the case book serves
// nothing any more.
func TestReminderUncertain(t *testing.T) {
	var clock shifted
	f := newFirm(t, false, slackfake.Options{})
	f.more = func(o *service.Options) { o.Now = clock.now }
	f.startOn(unsureOfTimers{f.store})
	root := f.opened(faults, ada, " weak signal 83 %")
	f.say(faults, ada, "on test for 2 h", root)
	f.answered(faults, root, 2)
	clock.by.Store(int64(110 * time.Minute))
	select {
	case err := <-f.ended:
		f.ended <- err
		if !errors.Is(err, store.ErrUncertain) {
			t.Errorf("ended with %v", err)
		}
	case <-time.After(20 * time.Second):
		t.Error("the bot goes on")
	}
}

// unsureOfTimers is a store for the bot that does not know whether reminders
// were stored; that of the outbox is the same, and is not asked.
type unsureOfTimers struct{ store.Store }

func (s unsureOfTimers) Apply(ctx context.Context, c store.Change) (store.Receipt, error) {
	if strings.HasPrefix(c.Delivery, "timer/") {
		return store.Receipt{}, fmt.Errorf("%w: %w", store.ErrUncertain, errStalled)
	}
	return s.Store.Apply(ctx, c)
}
