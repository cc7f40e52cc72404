package slackfake_test

import (
	"fmt"
	"slices"
	"testing"

	"ferrule/bot/slackchat/slackfake"

	"github.com/gorilla/websocket"
)

func TestDisconnects(t *testing.T) {
	fake := workspace(t, quick())
	s := dial(t, fake)
	fake.Disconnect("warning")
	if e := s.next(); e.Reason != "warning" {
		t.Errorf("got %+v", e)
	}
	ok[string](t)(fake.Say(direct, ada, "after a warning", ""))
	s.ack(s.next().EnvelopeID, "")
	wait(t, fake, "an acknowledgement", func() bool { return fake.Undelivered() == 0 })
	fake.Disconnect("refresh_requested")
	if e := s.next(); e.Reason != "refresh_requested" {
		t.Errorf("got %+v", e)
	}
	ok[string](t)(fake.Say(direct, ada, "while nobody is there", ""))
	if c := s.closed(); c != websocket.CloseNormalClosure {
		t.Errorf("the connection ends with %d", c)
	}
	s = dial(t, fake)
	e := s.next()
	s.ack(e.EnvelopeID, "")
	if e.Attempt != 0 {
		t.Errorf("what waited for a connection comes as attempt %d", e.Attempt)
	}
	fake.Cut()
	if c := s.closed(); c != 0 && c != websocket.CloseAbnormalClosure {
		t.Errorf("a cut says %d", c)
	}
	fake.DisconnectAtHello(2)
	for range 2 {
		if e := dial(t, fake).next(); e.Type != "disconnect" {
			t.Errorf("after hello comes %+v", e)
		}
	}
	dial(t, fake)
	wait(t, fake, "a connection after the storm", func() bool { return fake.Connections() == 1 })
	fake.RefuseConnections(true)
	if _, _, err := client(fake).StartSocketModeContext(t.Context()); err == nil {
		t.Error("a connection is opened all the same")
	}
	clean(t, fake)
}

// With two connections, the oldest can be told to go alone.
func TestTheOldestGoesAlone(t *testing.T) {
	fake := workspace(t, quick())
	a, b := dial(t, fake), dial(t, fake)
	fake.DisconnectOldest("refresh_requested")
	if e := a.next(); e.Reason != "refresh_requested" {
		t.Errorf("the oldest gets %+v", e)
	}
	ok[string](t)(fake.Say(direct, ada, "x", ""))
	b.ack(b.next().EnvelopeID, "")
	wait(t, fake, "an acknowledgement", func() bool { return fake.Undelivered() == 0 })
}

func TestLostAcknowledgementsBringTheEventAgain(t *testing.T) {
	fake := workspace(t, quick())
	s := dial(t, fake)
	fake.DropAcks(1)
	ok[string](t)(fake.Say(direct, ada, "x", ""))
	first := s.next()
	s.ack(first.EnvelopeID, "")
	second := s.next()
	s.ack(second.EnvelopeID, "")
	one, _, _, _ := first.inner()
	two, _, _, _ := second.inner()
	if one != two || second.Attempt != 1 || second.EnvelopeID == first.EnvelopeID {
		t.Errorf("%s in %+v, then %s in %+v", one, first, two, second)
	}
	wait(t, fake, "an acknowledgement", func() bool { return fake.Undelivered() == 0 })
	clean(t, fake)
}

// An acknowledgement after the deadline counts for nothing, and breaks no rule.
func TestLateAcknowledgementsCountForNothing(t *testing.T) {
	fake := workspace(t, quick())
	s := dial(t, fake)
	ok[string](t)(fake.Say(direct, ada, "x", ""))
	first, second := s.next(), s.next()
	s.ack(first.EnvelopeID, "")
	third := s.next()
	s.ack(third.EnvelopeID, "")
	wait(t, fake, "an acknowledgement", func() bool { return fake.Undelivered() == 0 })
	if d := fake.Deliveries()[0]; second.Attempt != 1 || third.Attempt != 2 || d.Attempts[0].Acked.IsZero() || !d.Attempts[0].Late {
		t.Errorf("%+v", d)
	}
	clean(t, fake)
}

func TestRepetitionsLossesAndOrder(t *testing.T) {
	fake := workspace(t, slackfake.Options{})
	s := dial(t, fake)
	take := func(n int) (stamps, events []string) {
		for range n {
			e := s.next()
			id, _, _, ts := e.inner()
			stamps, events = append(stamps, ts), append(events, id)
			s.ack(e.EnvelopeID, "")
		}
		return stamps, events
	}
	fake.Repeat(3)
	ok[string](t)(fake.Say(direct, ada, "x", ""))
	if _, events := take(3); len(slices.Compact(events)) != 1 {
		t.Errorf("a repeated event came as %q", events)
	}
	fake.Repeat(1)
	fake.LoseEvents(true)
	lost := ok[string](t)(fake.Say(direct, ada, "lost", ""))
	fake.LoseEvents(false)
	fake.HoldEvents()
	var want []string
	for i := range 3 {
		want = append(want, ok[string](t)(fake.Say(direct, ada, fmt.Sprint(i), "")))
	}
	if err := fake.ReleaseEvents(2, 0); err != nil {
		t.Fatal(err)
	}
	got, _ := take(3)
	if !slices.Equal(got, []string{want[2], want[0], want[1]}) || slices.Contains(got, lost) {
		t.Errorf("released as %q, made as %q", got, want)
	}
	wait(t, fake, "all acknowledged", func() bool { return fake.Undelivered() == 0 })
	clean(t, fake)
}

// Raw frames go out as they are; an envelope in one may be acknowledged.
func TestRawFrames(t *testing.T) {
	fake := workspace(t, slackfake.Options{})
	s := dial(t, fake)
	if err := fake.SendRaw([]byte(`{"type":"something_new","envelope_id":"raw-1","payload":{"a":1}}`)); err != nil {
		t.Fatal(err)
	}
	s.ack(s.next().EnvelopeID, "")
	wait(t, fake, "an acknowledgement", func() bool { d, _ := fake.Delivery("raw-1"); return !d.Acked.IsZero() })
	clean(t, fake)
}

// A command that nobody acknowledges fails for the person, and comes only once.
func TestCommandsAreNotRetried(t *testing.T) {
	fake := workspace(t, quick())
	s := dial(t, fake)
	id := ok[string](t)(fake.Slash(faults, ada, "/ferrule", "x"))
	if e := s.next(); !e.Accepts || e.Type != "slash_commands" {
		t.Errorf("got %+v", e)
	}
	wait(t, fake, "giving up", func() bool { d, _ := fake.Delivery(id); return d.Failed == "operation_timeout" })
	if d, _ := fake.Delivery(id); len(d.Attempts) != 1 {
		t.Errorf("%+v", d)
	}
}
