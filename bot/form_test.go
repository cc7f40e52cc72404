package bot_test

import (
	"context"
	"errors"
	"maps"
	"slices"
	"strings"
	"testing"

	"ferrule/bot"
	"ferrule/knowledge"
	"ferrule/store"
)

func (k *talk) form(r bot.Reply, fields map[string]string) (bot.Reply, error) {
	return k.bot.Handle(context.Background(), bot.Form{Envelope: k.envelope(), Case: r.Case, Version: r.Version, Fields: fields})
}

// A form asks first for what the step asks, in its unit, and each reading once.
func TestSheet(t *testing.T) {
	k := newTalk(t)
	r := k.say("keypad dead after a power cut, it shows nothing")
	s, err := k.bot.Sheet(t.Context(), r.Case)
	if err != nil {
		t.Fatal(err)
	}
	if s.Case != r.Case || s.Version != r.Version || len(s.Fields) < 4 || len(s.Fields) > 8 {
		t.Fatalf("got %+v", s)
	}
	if s.Fields[0].Reading != r.Step.Readings[0] {
		t.Errorf("the first field is %s; the step asks for %v", s.Fields[0].Reading, r.Step.Readings)
	}
	seen := map[string]bool{}
	for _, f := range s.Fields {
		if seen[f.Reading] || f.Title == "" || (f.Kind == knowledge.YesNo || f.Kind == knowledge.Choice) && len(f.Answers) < 2 {
			t.Errorf("field %+v", f)
		}
		seen[f.Reading] = true
	}
	if _, err := k.bot.Sheet(t.Context(), 99); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("the form of no case: %v", err)
	}
}

// Each field is read for its reading: with a decimal comma, with and without the unit.
func TestFormIsRead(t *testing.T) {
	for typed, want := range map[string]float64{"10,8": 10.8, "10.8": 10.8, "10.8 V": 10.8, "10,8V": 10.8, " 12 ": 12, "11v5": 11.5} {
		k := newTalk(t)
		r := k.say("wired keypad dead")
		r, err := k.form(r, map[string]string{"bus.volts_at_device": typed, "radio.signal": "", "no.such": "3"})
		if err != nil {
			t.Errorf("%q: %v", typed, err)
			continue
		}
		s := k.snapshot(r)
		i := slices.IndexFunc(s.Understood, func(u bot.Understood) bool { return u.Reading == "bus.volts_at_device" })
		if i < 0 || s.Understood[i].Value != want {
			t.Errorf("%q: understood %+v", typed, s.Understood)
		}
	}
}

// Errors stand at their fields, and nothing of the form is taken.
func TestFormErrors(t *testing.T) {
	k := newTalk(t)
	r := k.say("weak signal on the wireless keypad")
	_, err := k.form(r, map[string]string{"radio.signal": "140", "bus.volts_at_device": "plenty", "hub.generation": "2"})
	var wrong *bot.FieldErrors
	if !errors.As(err, &wrong) {
		t.Fatalf("got %v", err)
	}
	if got := slices.Sorted(maps.Keys(wrong.Fields)); !slices.Equal(got, []string{"bus.volts_at_device", "radio.signal"}) {
		t.Errorf("errors at %v", got)
	}
	if says := wrong.Fields["radio.signal"]; !strings.Contains(says, "0-100") {
		t.Errorf("140 %%: %q", says)
	}
	if says := wrong.Fields["bus.volts_at_device"]; !strings.Contains(says, "a number in V") {
		t.Errorf("plenty of volts: %q", says)
	}
	if c, _ := k.store.Case(t.Context(), r.Case); c.Version != r.Version {
		t.Error("something of the form was stored")
	}
	if _, err := k.form(r, map[string]string{"radio.signal": "code 4711"}); !errors.As(err, &wrong) || !strings.Contains(wrong.Fields["radio.signal"], "No codes") {
		t.Errorf("a code in a field: %v", err)
	}
}

// A form that was opened before somebody answered is still good; one of a
// closed case is not.
func TestFormOfACaseThatWentOn(t *testing.T) {
	k := newTalk(t)
	first := k.say("weak signal on the wireless keypad")
	k.say("gen 2 hub")
	if r, err := k.form(first, map[string]string{"radio.signal": "31"}); err != nil || !strings.Contains(r.Noted(), "31 %") {
		t.Errorf("got %q, %v", r.Text(), err)
	}
	k.say("close, it was too far away, 20 min, measured")
	c, _ := k.store.Case(t.Context(), first.Case)
	if c.State != store.Closed {
		t.Fatal("the case is not closed")
	}
	if r, err := k.form(first, map[string]string{"radio.signal": "45"}); err != nil || !strings.Contains(r.Headline, "moved on") {
		t.Errorf("got %q, %v", r.Text(), err)
	}
	if after, _ := k.store.Case(t.Context(), first.Case); after.Version != c.Version {
		t.Error("the closed case was changed")
	}
}

// Closing by form leads to the same outcome as closing in words.
func TestClosingForm(t *testing.T) {
	k := newTalk(t)
	r := k.say("keypad won't enrol, gen 1 hub")
	s, err := k.bot.ClosingSheet(t.Context(), r.Case)
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Causes) < 4 || s.Causes[0].Value != "hub_generation_unsupported" || len(s.Confirmed) != 4 {
		t.Errorf("got %+v", s)
	}
	closing := bot.Form{Envelope: k.envelope(), Case: r.Case, Version: r.Version, Closing: true,
		Fields: map[string]string{bot.FieldCause: "hub_generation_unsupported", bot.FieldMinutes: "0", bot.FieldConfirmed: "measurement"}}
	var wrong *bot.FieldErrors
	if _, err := k.bot.Handle(t.Context(), closing); !errors.As(err, &wrong) || len(wrong.Fields) != 1 || wrong.Fields[bot.FieldMinutes] == "" {
		t.Errorf("no minutes: %v", err)
	}
	closing.Fields[bot.FieldMinutes] = "22,5"
	reply, err := k.bot.Handle(t.Context(), closing)
	if err != nil {
		t.Fatal(err)
	}
	c, _ := k.store.Case(t.Context(), r.Case)
	if c.State != store.Closed || c.Outcome == nil || c.Outcome.Cause != "hub_generation_unsupported" || c.Outcome.Minutes != 22.5 || c.Outcome.Confirmed != "measurement" {
		t.Errorf("%q; outcome %+v", reply.Text(), c.Outcome)
	}
}

// What a form asks to be measured comes with its cautions, each hazard in
// one line.
func TestCautionsOfAForm(t *testing.T) {
	k := newTalk(t)
	s, err := k.bot.Sheet(t.Context(), k.say("siren does not sound").Case)
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Cautions) < 3 || !strings.Contains(strings.Join(s.Cautions, " "), "ear") {
		t.Errorf("cautions: %q", s.Cautions)
	}
	for i, c := range s.Cautions {
		if slices.Contains(s.Cautions[:i], c) || len(c) > 120 {
			t.Errorf("caution: %q", c)
		}
	}
}
