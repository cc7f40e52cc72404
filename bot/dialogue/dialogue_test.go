package dialogue

import (
	"strings"
	"testing"

	"ferrule/bot"
	"ferrule/store"
)

func TestParse(t *testing.T) {
	d, err := Parse("weak.txt", "# a remark\n\n> weak signal \nsymptom weak_signal\n  ~ Noted\n>thanks\n")
	if err != nil {
		t.Fatal(err)
	}
	if len(d.Turns) != 2 || d.Turns[0].Says != "weak signal" || d.Turns[0].Line != 3 || d.Turns[1].Says != "thanks" || len(d.Turns[1].Wants) != 0 {
		t.Errorf("got %+v", d.Turns)
	}
	if w := d.Turns[0].Wants; len(w) != 2 || w[0] != (Want{4, "symptom weak_signal"}) || w[1] != (Want{5, "~ Noted"}) {
		t.Errorf("got %+v", w)
	}
}

func TestParseRefuses(t *testing.T) {
	for name, c := range map[string]struct{ src, says string }{
		"an expectation before the first message": {"# a remark\n~ hello\n> hello\n", "d.txt:2: \"~ hello\" stands before the first message"},
		"an unknown check":                        {"> hello\n~ hello\nsymptoms weak_signal\n", "d.txt:3: there is no check \"symptoms\""},
		"messages that expect nothing":            {"> hello\n# a remark\n> hello\n", "d.txt: it expects nothing"},
		"nothing at all":                          {"", "d.txt: it expects nothing"},
		"a line that never ends":                  {"> " + strings.Repeat("x", 1<<20) + "\n~ hello\n", "d.txt: "},
	} {
		if d, err := Parse("d.txt", c.src); err == nil || !strings.HasPrefix(err.Error(), c.says) {
			t.Errorf("%s: got %+v, %v; want %q", name, d, err, c.says)
		}
	}
	for word := range checks {
		if _, err := Parse("d.txt", "> hello\n"+word+"\n"); (err == nil) != (word == "stop") {
			t.Errorf("%s without a word behind it: %v", word, err)
		}
	}
}

// Each check holds for some expectations of one situation, and fails for
// others.
func TestChecks(t *testing.T) {
	low, high := 30.0, 40.0
	working := after{
		reply: bot.Reply{
			Headline: "The level is below the limit.", Declined: "live_work", Cautions: []string{"Switch the mains off first."},
			Step: &bot.Step{Kind: "repair", Cause: "place_too_weak", Says: "Move it."},
		},
		state: bot.Snapshot{
			Symptom:    "weak_signal,keypad_dead",
			Understood: []bot.Understood{{Reading: "radio.signal", Subject: "device 1", Value: 35.0, Low: &low, High: &high}, {Reading: "keypad.wireless", Subject: "device 1", Value: true}},
			Questioned: []bot.Understood{{Reading: "radio.noise", Subject: "hub 1", Value: 400.0}},
			Findings:   []bot.Point{{Rule: "level-below-limit"}},
			Causes:     []bot.CauseState{{Cause: "place_too_weak", Probability: 0.6}, {Cause: "metal_at_device", Probability: 0.3}, {Cause: "foliage_or_wet", Probability: 0.1}},
			Next:       bot.NextState{Kind: "repair", Readings: []string{"radio.signal"}},
		},
		kept: store.Case{State: store.Closed, Outcome: &store.Outcome{Cause: "place_too_weak"}},
	}
	stopped := after{reply: bot.Reply{Headline: "Stop, hands off."}}
	open := after{kept: store.Case{State: store.Open}}
	seen := map[string]bool{}
	for _, c := range []struct {
		a           after
		check       string
		hold, fails []string
	}{
		{working, "~", []string{"below the limit", "BELOW THE", "move it", "switch the mains"}, []string{"above the limit"}},
		{working, "!", []string{"above the limit"}, []string{"below the limit", "BELOW THE"}},
		{working, "symptom", []string{"weak_signal", "keypad_dead"}, []string{"weak", "keypad", "weak_signal,keypad_dead", "siren"}},
		{working, "noted", []string{"radio.signal device 1 35", "keypad.wireless device 1 true", "radio.noise hub 1 400"}, []string{"radio.signal device 1 36", "radio.signal device 2 35", "radio.signal device 1", "radio.noise device 1 400"}},
		{working, "found", []string{"level-below-limit"}, []string{"level-below", "metal"}},
		{working, "not", []string{"found metal", "found level-below"}, []string{"found level-below-limit", "metal", "metal found"}},
		{working, "next", []string{"repair", "repair radio.signal", "repair place_too_weak"}, []string{"measure", "repair metal_at_device", "repair radio.noise", "measure radio.signal"}},
		{open, "next", nil, []string{"repair", "measure radio.signal"}},
		{working, "first", []string{"place_too_weak"}, []string{"metal_at_device", "place"}},
		{open, "first", nil, []string{"place_too_weak"}},
		{working, "among", []string{"2 metal_at_device", "1 place_too_weak", "9 foliage_or_wet"}, []string{"2 foliage_or_wet", "9 nothing", "0 place_too_weak", "-1 place_too_weak", "place_too_weak", "two metal_at_device"}},
		{working, "declined", []string{"live_work"}, []string{"code_request", "live"}},
		{open, "declined", nil, []string{"live_work"}},
		{working, "careful", []string{"mains off", "SWITCH"}, []string{"ladder", "below the limit"}},
		{stopped, "stop", []string{""}, nil},
		{working, "stop", nil, []string{""}},
		{after{reply: bot.Reply{Headline: "Stop, hands off.", Findings: []bot.Point{{Rule: "level-below-limit"}}}}, "stop", nil, []string{""}},
		{working, "closed", []string{"place_too_weak"}, []string{"metal_at_device", "no_fault"}},
		{open, "closed", nil, []string{"place_too_weak", "no_fault"}},
		{after{kept: store.Case{State: store.Closed}}, "closed", nil, []string{"no_fault"}},
	} {
		seen[c.check] = true
		for _, text := range c.hold {
			if wrong := checks[c.check](c.a, text); wrong != "" {
				t.Errorf("%s %s: it fails: %s", c.check, text, wrong)
			}
		}
		for _, text := range c.fails {
			if checks[c.check](c.a, text) == "" {
				t.Errorf("%s %s: it holds", c.check, text)
			}
		}
	}
	for word := range checks {
		if !seen[word] {
			t.Errorf("nothing tries the check %s", word)
		}
	}
}
