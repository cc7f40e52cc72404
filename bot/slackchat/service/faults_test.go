package service_test

import (
	"context"
	"errors"
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

const complaint = " wireless keypad won't enrol, gen 1 hub"

// once holds that a mention led to one case and one answer.
func (f *firm) once(root string) {
	f.t.Helper()
	f.settled()
	if got := f.answers(faults, root); len(got) != 1 {
		f.t.Errorf("%d answers: %q", len(got), texts(got))
	}
	if cases := f.cases(); len(cases) != 1 || cases[0].Version != 1 {
		f.t.Errorf("%d cases: %+v", len(cases), cases)
	}
}

func TestDeliveredFourTimes(t *testing.T) {
	both(t, func(t *testing.T, http bool) {
		f := newFirm(t, http, slackfake.Options{})
		f.start()
		f.fake.Repeat(4)
		root := f.opened(faults, ada, complaint)
		f.once(root)
		f.clean()
	})
}

func TestDeliveredInTwoForms(t *testing.T) {
	for name, order := range map[string]slackfake.Order{"mention first": slackfake.MentionFirst, "message first": slackfake.MessageFirst} {
		t.Run(name, func(t *testing.T) {
			f := newFirm(t, false, slackfake.Options{Order: order})
			f.start()
			root := f.opened(faults, ada, complaint)
			f.once(root)
			f.clean()
		})
	}
}

// A reply that is delivered before the message that opened its thread is read
// all the same, after it.
func TestDeliveredOutOfOrder(t *testing.T) {
	f := newFirm(t, false, slackfake.Options{Order: slackfake.MentionFirst})
	f.start()
	f.fake.HoldEvents()
	root := f.say(faults, ada, f.fake.Mention()+" weak signal 83 %", "")
	f.say(faults, ada, "gen 1 hub, wait", root)
	f.say(faults, ada, "it is a gen 2 hub", root)
	if err := f.fake.ReleaseEvents(3, 2, 1, 0); err != nil {
		t.Fatal(err)
	}
	f.wait("the last answer", func() bool {
		got := f.answers(faults, root)
		return len(got) > 0 && strings.Contains(got[len(got)-1].Text, "generation 2")
	})
	f.settled()
	cases := f.cases()
	if len(cases) != 1 {
		t.Fatalf("%d cases", len(cases))
	}
	var said []string
	for _, e := range cases[0].Events {
		if e.Message != nil {
			said = append(said, e.Message.Text)
		}
	}
	if want := "[weak signal 83 % gen 1 hub, wait it is a gen 2 hub]"; fmt.Sprint(said) != want {
		t.Errorf("read in the order %v; want %s", said, want)
	}
	f.clean()
}

// Messages that arrive in a heap are answered once, by the last.
func TestHeapIsAnsweredOnce(t *testing.T) {
	f := newFirm(t, false, slackfake.Options{})
	stalled := &stallingStore{Store: f.store}
	f.startOn(stalled)
	root := f.opened(faults, ada, " site lantern-12: weak signal 83 % on the wireless keypad")
	stalled.stall.Store(true)
	f.say(faults, ada, "gen 2 hub", root)
	f.wait("a try to store", func() bool { return stalled.refused.Load() > 0 })
	f.say(faults, ada, "12 m away", root)
	last := f.say(faults, ada, "noise 5 %", root)
	f.wait("deliveries", func() bool {
		for _, d := range f.fake.Deliveries() {
			if d.TS == last {
				return len(d.Attempts) > 0
			}
		}
		return false
	})
	stalled.stall.Store(false)
	f.wait("the answer", func() bool { return len(f.answers(faults, root)) >= 3 })
	f.settled()
	got := f.answers(faults, root)
	if text := got[len(got)-1].Text; len(got) > 3 || !strings.Contains(text, "12 m") || !strings.Contains(text, "5 %") {
		t.Errorf("%d answers, the last: %s", len(got), text)
	}
	f.clean()
}

// What is said while a connection is replaced or gone is answered, once.
func TestDeliveredDuringAReconnect(t *testing.T) {
	for name, break_ := range map[string]func(*slackfake.Server){
		"refresh":   func(s *slackfake.Server) { s.Disconnect("refresh_requested") },
		"warning":   func(s *slackfake.Server) { s.Disconnect("warning") },
		"cut":       func(s *slackfake.Server) { s.Cut() },
		"all at it": func(s *slackfake.Server) { s.Cut(); s.DisconnectAtHello(2) },
	} {
		t.Run(name, func(t *testing.T) {
			f := newFirm(t, false, slackfake.Options{})
			f.start()
			break_(f.fake)
			root := f.opened(faults, ada, complaint)
			f.once(root)
			f.clean()
		})
	}
}

// What Slack gave up on is looked for when the connection is back.
func TestMissedMessages(t *testing.T) {
	f := newFirm(t, false, slackfake.Options{})
	f.start()
	root := f.opened(faults, ada, " weak signal 83 %")
	f.say(direct, ada, "hello", "")
	f.answered(direct, "", 1)
	f.settled()
	f.fake.RefuseConnections(true)
	f.fake.Cut()
	f.fake.LoseEvents(true)
	f.say(faults, ada, "gen 2 hub", root)
	second := f.say(faults, ben, f.fake.Mention()+complaint, "")
	f.fake.LoseEvents(false)
	f.fake.RefuseConnections(false)
	f.answered(faults, root, 2)
	f.answered(faults, second, 1)
	f.settled()
	if cases := f.cases(); len(cases) != 2 {
		t.Errorf("%d cases", len(cases))
	}
	f.clean()
}

// A message that was delivered to a process that died before it stored it is
// stored by the next; one that was stored and not answered is answered.
func TestProcessDies(t *testing.T) {
	both(t, func(t *testing.T, http bool) {
		f := newFirm(t, http, slackfake.Options{RetryAfter: []time.Duration{100 * time.Millisecond, 500 * time.Millisecond, time.Second, 2 * time.Second}})
		stalled := &stallingStore{Store: f.store}
		stalled.stall.Store(true)
		f.startOn(stalled)
		root := f.say(faults, ada, f.fake.Mention()+complaint, "")
		f.wait("a try to store", func() bool { return stalled.refused.Load() > 0 })
		if err := f.leave(); err != nil {
			t.Errorf("leaving: %v", err)
		}
		if err := f.store.Close(); err != nil {
			t.Fatal(err)
		}
		f.openStore()
		f.fake.Fail("chat.postMessage", slackfake.Fault{Times: 2, Status: 500})
		f.start()
		f.wait("the case", func() bool { return len(f.cases()) == 1 })
		f.wait("a try to post", func() bool { return f.fake.Calls("chat.postMessage") > 0 })
		if err := f.leave(); err != nil {
			t.Errorf("leaving: %v", err)
		}
		f.start()
		f.answered(faults, root, 1)
		f.once(root)
		f.clean()
	})
}

func TestAckLost(t *testing.T) {
	f := newFirm(t, false, slackfake.Options{AckDeadline: 300 * time.Millisecond})
	f.start()
	f.fake.DropAcks(3)
	root := f.opened(faults, ada, complaint)
	f.once(root)
	f.clean()
}

// An answer that was posted although the connection broke is not posted again.
func TestPostUncertain(t *testing.T) {
	f := newFirm(t, false, slackfake.Options{})
	f.start()
	f.fake.Fail("chat.postMessage", slackfake.Fault{Times: 1, Lost: true})
	root := f.opened(faults, ada, complaint)
	f.once(root)
	f.clean()
}

// Slack may say how long to wait, or only that one has to; the order is kept.
func TestTooManyRequests(t *testing.T) {
	for name, fault := range map[string]slackfake.Fault{
		"with Retry-After":    {Times: 1, Status: 429, RetryAfter: time.Second},
		"without Retry-After": {Times: 1, Status: 429, NoRetryAfter: true},
	} {
		t.Run(name, func(t *testing.T) {
			f := newFirm(t, false, slackfake.Options{})
			f.start()
			f.fake.Fail("chat.postMessage", fault)
			root := f.say(faults, ada, f.fake.Mention()+" weak signal 83 %", "")
			f.wait("the first case", func() bool { return len(f.cases()) == 1 })
			f.say(faults, ada, "why", root)
			second := f.answered(faults, root, 2)
			if first := f.answers(faults, root)[0]; !strings.Contains(first.Text, "83 %") || strings.Contains(second.Text, "Noted") {
				t.Errorf("order: %q", texts(f.answers(faults, root)))
			}
			f.settled()
			f.clean()
		})
	}
}

func TestBlocksRefused(t *testing.T) {
	f := newFirm(t, false, slackfake.Options{})
	f.start()
	f.fake.Fail("chat.postMessage", slackfake.Fault{Times: 1, Error: "invalid_blocks"})
	root := f.say(faults, ada, f.fake.Mention()+complaint, "")
	if m := f.answered(faults, root, 1); len(m.Blocks) > 4 || !strings.Contains(m.Text, "generation 1 hub") || !strings.Contains(m.Text, "[done]") {
		t.Errorf("plain text: %q, blocks %s", m.Text, m.Blocks)
	}
	f.once(root)
}

// A token that was taken back ends the process with what to do, and nothing that
// was to be said is lost.
func TestTokenRevoked(t *testing.T) {
	both(t, func(t *testing.T, http bool) {
		f := newFirm(t, http, slackfake.Options{})
		f.start()
		f.fake.Revoke()
		_, _ = f.fake.Say(faults, ada, f.fake.Mention()+complaint, "")
		err := <-f.ended
		f.ended <- err
		var fatal *slackchat.Fatal
		if !errors.As(err, &fatal) || !strings.Contains(err.Error(), "install") {
			t.Errorf("ended with %v", err)
		}
		if strings.Contains(err.Error(), f.fake.BotToken()) {
			t.Errorf("the error holds the token: %v", err)
		}
	})
}

// In a storm there is one attempt to connect for each step of the back-off.
func TestDisconnectStorm(t *testing.T) {
	f := newFirm(t, false, slackfake.Options{})
	f.more = func(o *service.Options) { o.Connections = 1 }
	f.fake.DisconnectAtHello(1000)
	f.storm = true
	f.start()
	time.Sleep(2 * time.Second)
	// 20, 40, 80, 160 ms, then every 200 ms, each less a jitter of at most a half.
	if n := len(f.fake.Connects()); n > 2*(4+2000/100+2) {
		t.Errorf("%d attempts and connections in two seconds", n)
	}
	f.fake.DisconnectAtHello(0)
	root := f.opened(faults, ada, complaint)
	f.once(root)
}

// While the store stalls nothing is acknowledged; when it is back nothing is
// lost or said twice.
func TestStoreStalls(t *testing.T) {
	both(t, func(t *testing.T, http bool) {
		f := newFirm(t, http, slackfake.Options{AckDeadline: 300 * time.Millisecond})
		stalled := &stallingStore{Store: f.store}
		stalled.stall.Store(true)
		f.startOn(stalled)
		root := f.say(faults, ada, f.fake.Mention()+complaint, "")
		f.wait("a second delivery", func() bool {
			for _, d := range f.fake.Deliveries() {
				if len(d.Attempts) > 1 {
					return true
				}
			}
			return false
		})
		for _, d := range f.fake.Deliveries() {
			if d.Type == "app_mention" && !d.Acked.IsZero() {
				t.Error("acknowledged before it was stored")
			}
		}
		stalled.stall.Store(false)
		f.answered(faults, root, 1)
		f.once(root)
		f.clean()
	})
}

// stallingStore is a store whose disk may fail to answer.
type stallingStore struct {
	store.Store
	stall   atomic.Bool
	refused atomic.Int64
}

func (s *stallingStore) Apply(ctx context.Context, c store.Change) (store.Receipt, error) {
	if s.stall.Load() {
		s.refused.Add(1)
		return store.Receipt{}, fmt.Errorf("%w: %w", store.ErrUnavailable, errStalled)
	}
	return s.Store.Apply(ctx, c)
}

// Who is not on the list, and channels that are not, get a hint and no case; and
// who presses a button is asked for, not who got the message.
func TestWhoMayWhat(t *testing.T) {
	f := newFirm(t, false, slackfake.Options{})
	f.fake.AddGroup("S0TECHS", ada)
	f.more = func(o *service.Options) {
		o.People = slackchat.People{Technicians: []string{"S0TECHS"}, Leads: []string{ben}}
		o.Channels = []string{faults}
	}
	f.start()
	f.say(faults, cleo, f.fake.Mention()+complaint, "")
	f.wait("a hint", func() bool { e := f.fake.Ephemerals(faults); return len(e) == 1 && e[0].User == cleo })
	f.say(other, ada, f.fake.Mention()+complaint, "")
	f.wait("a hint", func() bool { return len(f.fake.Ephemerals(other)) == 1 })
	root := f.say(faults, ada, f.fake.Mention()+complaint, "")
	first := f.answered(faults, root, 1)
	f.press(faults, first, cleo, "Why?")
	f.wait("a hint", func() bool { return len(f.fake.Ephemerals(faults)) == 2 })
	f.press(faults, first, ben, "Why?")
	f.answered(faults, root, 2)
	f.settled()
	if len(f.cases()) != 1 {
		t.Errorf("%d cases", len(f.cases()))
	}
	for user, gaps := range map[string]bool{ada: false, ben: true} {
		if _, err := f.fake.OpenHome(user); err != nil {
			t.Fatal(err)
		}
		f.wait("a home page", func() bool { _, ok := f.fake.Home(user); return ok })
		v, _ := f.fake.Home(user)
		if strings.Contains(string(v.Blocks), "For the leads") != gaps {
			t.Errorf("home of %s: %s", user, v.Blocks)
		}
	}
	f.clean()
}

// A token of another workspace than the one that is meant is refused at once.
func TestPinnedWorkspace(t *testing.T) {
	f := newFirm(t, false, slackfake.Options{})
	err := service.Run(t.Context(), service.Options{API: f.fake.URL(), Team: "T0OTHER", Store: f.store,
		Tokens: service.Tokens{App: f.fake.AppToken(), Bot: f.fake.BotToken()}})
	if !errors.Is(err, service.ErrOtherWorkspace) {
		t.Errorf("got %v", err)
	}
}
