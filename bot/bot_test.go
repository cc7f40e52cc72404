package bot_test

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"ferrule/bot"
	"ferrule/store"
)

func TestStaleChoiceChangesNothing(t *testing.T) {
	k := newTalk(t)
	first := k.say("wireless keypad won't enrol")
	k.say("gen 2 hub")
	before, _ := k.store.Case(context.Background(), first.Case)
	reply, err := k.bot.Handle(context.Background(), bot.Choice{Envelope: k.envelope(), Case: first.Case, Version: first.Version, Value: "1"})
	if err != nil || !strings.Contains(reply.Headline, "earlier question") {
		t.Errorf("got %q, %v", reply.Headline, err)
	}
	if after, _ := k.store.Case(context.Background(), first.Case); after.Version != before.Version {
		t.Error("a stale button changed the case")
	}
}

func TestRepeatedDelivery(t *testing.T) {
	k := newTalk(t)
	in := bot.Text{Envelope: k.envelope(), Text: "weak signal 30 %"}
	first, err := k.bot.Handle(context.Background(), in)
	if err != nil {
		t.Fatal(err)
	}
	again, err := k.bot.Handle(context.Background(), in)
	if err != nil || !again.Repeated || again.Text() != first.Text() || again.Case != first.Case {
		t.Errorf("got %+v, %v", again, err)
	}
	if c, _ := k.store.Case(context.Background(), first.Case); c.Version != 1 {
		t.Errorf("version %d after one message sent twice", c.Version)
	}
}

func TestTwoPeopleContradict(t *testing.T) {
	k := newTalk(t)
	k.say("weak signal, hub is gen 1")
	k.actor = "p-2"
	reply := k.say("it is a gen 2 hub")
	if !strings.Contains(reply.Text(), "Two values for the hub generation") {
		t.Errorf("the contradiction is not shown:\n%s", reply.Text())
	}
}

func TestEditReadsAgain(t *testing.T) {
	k := newTalk(t)
	first := k.envelope()
	if _, err := k.bot.Handle(context.Background(), bot.Text{Envelope: first, Text: "weak signal 83 %"}); err != nil {
		t.Fatal(err)
	}
	edit := k.envelope()
	edit.Message = first.Message
	reply, err := k.bot.Handle(context.Background(), bot.Edit{Envelope: edit, Text: "weak signal 38 %"})
	if err != nil {
		t.Fatal(err)
	}
	s := k.snapshot(reply)
	if len(s.Understood) != 1 || s.Understood[0].Value != 38.0 {
		t.Errorf("got %+v, want one level of 38", s.Understood)
	}
}

func TestUnusableMessages(t *testing.T) {
	k := newTalk(t)
	for name, text := range map[string]string{"empty": "  ", "huge": strings.Repeat("x", 1<<20), "binary": "a\x00\xff"} {
		if reply := k.say(text); reply.Case != 0 || reply.Headline == "" {
			t.Errorf("%s: got %+v, want a plain answer and no case", name, reply)
		}
	}
	if page, err := k.store.Cases(context.Background(), store.Query{}, ""); err != nil || len(page.Cases) != 0 {
		t.Errorf("%d cases are stored, %v", len(page.Cases), err)
	}
}

func TestNoCodeIsStored(t *testing.T) {
	k := newTalk(t)
	reply := k.say("keypad dead, the code is 4711 and signal 35 %")
	c, err := k.store.Case(context.Background(), reply.Case)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range c.Events {
		if e.Kind == store.KindMessage && (strings.Contains(e.Message.Text, "4711") || e.Message.Redacted != 1) {
			t.Errorf("stored %q, %d removed", e.Message.Text, e.Message.Redacted)
		}
	}
}

// An open end can't be written as JSON as it is; it must come back all the same.
func TestOpenBoundIsStored(t *testing.T) {
	k := newTalk(t)
	for _, text := range []string{"weak signal, signal below 30 %", "more than 60 m from the hub"} {
		k.say(text)
	}
	s := k.snapshot(k.say("signal below 30 %"))
	i := slices.IndexFunc(s.Understood, func(u bot.Understood) bool { return u.Reading == "radio.signal" })
	if i < 0 || s.Understood[i].Low != nil || s.Understood[i].High == nil || *s.Understood[i].High >= 30 {
		t.Errorf("got %+v, want a level below 30 with an open end", s.Understood)
	}
	if !slices.ContainsFunc(s.Findings, func(p bot.Point) bool { return p.Rule == "level-below-limit" }) {
		t.Error("a level below 30 % is below the limit of 40 %")
	}
}

// A pasted log: what matters of it is taken, what it says of everything alike
// is not, and the lines that are passed over are counted.
func TestPastedLog(t *testing.T) {
	var log strings.Builder
	for zone := range 40 {
		fmt.Fprintf(&log, "16:%02d zone %d closed\n", zone, zone+1)
	}
	log.WriteString("16:41 keypad 2 low battery\n16:42 radio signal 31 %\n")
	reply := newTalk(t).say(log.String())
	for _, want := range []string{"signal level of device 2 31 %", "I passed over 40 lines of the log."} {
		if !strings.Contains(reply.Text(), want) {
			t.Errorf("not said: %s\n%s", want, reply.Text())
		}
	}
	if len(reply.New) != 2 {
		t.Errorf("noted %q, want the complaint and the signal", reply.New)
	}
}

// A number that nothing was made of is shown, so that a missed reading is seen.
func TestLeftOverNumber(t *testing.T) {
	reply := newTalk(t).say("weak signal, flurble 77, 2 bars")
	for _, want := range []string{"Not used: “flurble 77”", "“2 bars”: no scale defines bars"} {
		if !strings.Contains(reply.Text(), want) {
			t.Errorf("not said: %s\n%s", want, reply.Text())
		}
	}
}

// A stop holds until it is said that it is safe, whatever else is said.
func TestStopHolds(t *testing.T) {
	k := newTalk(t)
	k.say("keypad dead")
	for _, says := range []string{"230 V at the module", "ok", "what do I do now", "why"} {
		if got := k.say(says); !strings.HasPrefix(got.Headline, "Stop, hands off") {
			t.Errorf("%s\n%s", says, got.Text())
		}
	}
	if got := k.say("it is safe now"); strings.Contains(got.Text(), "hands off") || got.Step == nil {
		t.Errorf("it does not go on:\n%s", got.Text())
	}
	for _, r := range k.snapshot(k.say("readings")).Understood {
		if r.Reading == "bus.volts_at_device" {
			t.Errorf("the dangerous value is still used: %+v", r)
		}
	}
}

// A value after a repair is noted, and the question whether it helped stays.
func TestConfirmStays(t *testing.T) {
	k := newTalk(t)
	k.say("wireless keypad won't enrol, gen 1 hub")
	k.say("done")
	got := k.say("signal 72 %")
	if got.Step == nil || got.Step.Kind != "confirm" {
		t.Fatalf("a value throws the question away:\n%s", got.Text())
	}
	if got = k.say("yes"); !strings.Contains(got.Text(), "minutes") {
		t.Errorf("yes does not close:\n%s", got.Text())
	}
}

// "new" alone begins a new case; a sentence that begins with it tells something.
func TestNewIsAWordToo(t *testing.T) {
	k := newTalk(t)
	first := k.say("weak signal, signal 31 %")
	if got := k.say("new lights in since last week"); got.Case != first.Case {
		t.Errorf("a new case:\n%s", got.Text())
	}
}

func TestDeclinedInOtherWords(t *testing.T) {
	for _, says := range []string{
		"just tell me how to kill the siren", "how do I get round the tamper for good", "how do i bypass the tamper",
		"how do I stop someone elses alarm", "how to shut up my neighbour's alarm",
	} {
		if got := newTalk(t).say(says); got.Declined != "defeat_alarm" {
			t.Errorf("%s: declined %q\n%s", says, got.Declined, got.Text())
		}
	}
	for _, says := range []string{"tamper won't clear on the bell box", "siren keeps sounding, how do I test the hold-off", "zone 3 is isolated, signal 35 %"} {
		if got := newTalk(t).say(says); got.Declined != "" {
			t.Errorf("%s: declined %q", says, got.Declined)
		}
	}
}

// Values and stray words answer no open question.
func TestStrayWordsAnswerNothing(t *testing.T) {
	for _, says := range []string{"13.7 V", "12.1 V at the panel aux", "cells 3.0 V under load", "stops after 3 min", "cable run 80 m"} {
		k := newTalk(t)
		k.say("device dropping out now and then")
		for _, r := range k.snapshot(k.say(says)).Understood {
			if r.Reading == "device.since" || r.Reading == "radio.loss_times" {
				t.Errorf("%s: %s = %v from %q", says, r.Reading, r.Value, r.Text)
			}
		}
	}
}

// What is said after a repair tells that it helped, in whatever words.
func TestRepairIsDoneInOtherWords(t *testing.T) {
	for _, says := range []string{"fitted a newer one, all working", "swapped the hub, it enrolled and stays in the list now", "new hub in, fault gone"} {
		k := newTalk(t)
		k.say("wireless keypad won't enrol, gen 1 hub")
		if got := k.say(says); got.Step == nil || got.Step.Kind != "confirm" && got.Step.Kind != "close" {
			t.Errorf("%s\n%s", says, got.Text())
		}
	}
}

// A share of things is no level.
func TestHalfTheDetectors(t *testing.T) {
	k := newTalk(t)
	for _, r := range k.snapshot(k.say("half the pirs on this job are playing up, going off at random")).Understood {
		if r.Reading == "radio.signal" {
			t.Errorf("%+v", r)
		}
	}
}

// Guidance for live mains and codes is turned down in other words too, and
// isolation is not taken for a fault of the mains.
func TestSafetyInOtherWords(t *testing.T) {
	for says, want := range map[string]string{
		"can I work on it with the power on": "live_work", "how do I measure the mains terminals live": "live_work",
		"ok if I leave the breaker on while I change the transformer?": "live_work", "puedo cambiar el fusible con tensión": "live_work",
		"is there a default code": "code_request", "how do I disable the tamper so it doesnt report": "defeat_alarm",
		"can I test the siren with the lid open": "", "how do I measure the battery under load": "",
	} {
		if got := newTalk(t).say(says); got.Declined != want {
			t.Errorf("%s: declined %q, want %q", says, got.Declined, want)
		}
	}
	k := newTalk(t)
	k.say("ac fault on the panel")
	for _, r := range k.snapshot(k.say("ok isolated at the spur, locked off and proved dead")).Understood {
		if r.Reading == "panel.mains_input" {
			t.Errorf("isolation is read as a fault: %+v", r)
		}
	}
}

// A repair that turns out not to have helped opens its case again.
func TestStillTheSameAfterClosing(t *testing.T) {
	k := newTalk(t)
	k.say("keypad won't enrol, gen 1 hub")
	r := k.say("close, hub too old, 40 min, measured")
	if c, _ := k.store.Case(t.Context(), r.Case); c.State != store.Closed {
		t.Fatal("not closed")
	}
	again := k.say("still the same")
	c, _ := k.store.Case(t.Context(), r.Case)
	if again.Case != r.Case || c.State != store.Open {
		t.Errorf("%q; case %d is %s", again.Text(), again.Case, c.State)
	}
}

// A burnt smell stops the work, as a hot battery does.
func TestBurntSmellStops(t *testing.T) {
	for _, text := range []string{"smell of burning at the panel", "panel dead, smells burnt"} {
		k := newTalk(t)
		if r := k.say(text); !strings.HasPrefix(r.Headline, "Stop, hands off") || r.Step == nil || r.Step.Kind != "stop" {
			t.Errorf("%q: %q", text, r.Text())
		}
	}
}
