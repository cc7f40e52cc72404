package bot_test

import (
	"strings"
	"testing"
	"testing/fstest"

	"ferrule/bot"
	"ferrule/bot/intake"
	"ferrule/bot/wording"
	"ferrule/knowledge"
	"ferrule/knowledge/starter"
	"ferrule/rules"
	"ferrule/store"
)

// TestButtonsAreUnderstood reads the answers that the bot offers, in every
// language, as if they were typed.
func TestButtonsAreUnderstood(t *testing.T) {
	p, err := knowledge.Load(starter.FS)
	if err != nil {
		t.Fatal(err)
	}
	program, err := rules.Compile(p)
	if err != nil {
		t.Fatal(err)
	}
	reader := intake.New(program)
	yesNo := []string{"keypad.wireless"}
	for _, language := range knowledge.Languages {
		say := wording.In(language).Say
		for _, c := range []struct {
			key   string
			asked []string
			right func(intake.Message) bool
		}{
			{"yes", yesNo, command(intake.Yes)},
			{"no", yesNo, command(intake.No)},
			{"dont_know", yesNo, command(intake.DontKnow)},
			{"done", nil, command(intake.Done)},
			{"still_the_same", nil, command(intake.Failed)},
			{"no_still_the_same", nil, func(m intake.Message) bool { return m.Command == intake.Failed || m.Command == intake.No }},
			{"cant_here", nil, command(intake.Cant)},
			{"that_explains_it", nil, command(intake.Done)},
			{"off_test_read_back", nil, func(m intake.Message) bool {
				return m.Command == intake.OffTest && m.Confirmed == "signal read back by the centre"
			}},
			{"off_test_unmonitored", nil, func(m intake.Message) bool { return m.Command == intake.OffTest && m.Confirmed == "unmonitored" }},
			{"measured", nil, confirmed("measurement")},
			{"swapped_back", nil, confirmed("swap_back")},
			{"complaint_gone", nil, confirmed("symptom_gone")},
			{"unproven", nil, confirmed("unproven")},
			{"no_fault_found", nil, command(intake.NoFault)},
			{"something_else", nil, func(m intake.Message) bool { return m.Cause == "something_else" }},
			{"both", []string{"hub.wired_to"}, func(m intake.Message) bool { return len(m.Readings) == 1 && len(m.Readings[0].Value.Has) == 2 }},
		} {
			closing := strings.HasPrefix(c.key, "complaint") || c.key == "measured" || c.key == "swapped_back" || c.key == "unproven" || c.key == "something_else"
			m := reader.Read(say(c.key), intake.Context{Asked: c.asked, Closing: closing, Spoken: language})
			if !c.right(m) {
				t.Errorf("%s: %q (%s) is read as %+v", language, say(c.key), c.key, m)
			}
		}
	}
}

// The mark of a phrase that is only meant as it stands is not for people.
func TestMarkOfPhrasesIsNotShown(t *testing.T) {
	pack, err := knowledge.Load(fstest.MapFS{"p.yaml": {Data: []byte(`
symptoms:
  - {symptom: hum, title: something hums, subject: panel, words: {en: [it hums], de: ["=Zentrale brummt"]}, source: invented}
causes:
  - cause: loose_lid
    title: a loose lid
    symptoms: {hum: 0.5}
    fix: {steps: [Fasten the lid.], minutes: 45}
    success: the hum is gone
    source: invented
  - cause: worn_transformer
    title: a worn transformer
    symptoms: {hum: 0.5}
    fix: {steps: [Have it changed.], minutes: 60}
    success: the hum is gone
    source: invented
readings:
  - reading: panel.hum
    title: hum
    kind: choice
    subject: panel
    choices: [{choice: steady, words: {en: [steady hum], de: ["=brummt immer"]}}, {choice: at times, words: {en: [hums at times], de: ["=brummt manchmal"]}}]
    words: {en: [hum], de: ["=das Brummen"]}
    ask: When does it hum?
    place: panel
    minutes: 1
    source: invented
evidence:
  - evidence: hum
    bands: [{name: steady, when: panel.hum == "steady"}, rest]
    given: {loose_lid: [0.05, 0.95], worn_transformer: [0.95, 0.05]}
    otherwise: [0.5, 0.5]
    source: invented
`)}})
	if err != nil {
		t.Fatal(err)
	}
	program, err := rules.Compile(pack)
	if err != nil {
		t.Fatal(err)
	}
	k := talkBy(t, bot.Prepare(program))
	k.say("auf deutsch bitte")
	reply := k.say("Zentrale brummt")
	shown := reply.Text()
	if reply.Step != nil {
		shown += strings.Join(reply.Step.Choices, "; ")
	}
	shown += k.say("brummt immer").Text()
	for _, want := range []string{"Zentrale brummt", "brummt immer", "brummt manchmal", "das Brummen"} {
		if !strings.Contains(shown, want) || strings.Contains(shown, "="+want) {
			t.Errorf("%q is not shown as it is said:\n%s", want, shown)
		}
	}
}

func command(want intake.Command) func(intake.Message) bool {
	return func(m intake.Message) bool { return m.Command == want }
}

func confirmed(want string) func(intake.Message) bool {
	return func(m intake.Message) bool { return m.Confirmed == want }
}

// TestLanguageOfReplies follows a conversation that changes its language, and
// one that asks for another.
func TestLanguageOfReplies(t *testing.T) {
	k := newTalk(t)
	for _, turn := range []struct{ says, hears string }{
		{"Funkbedienteil lässt sich nicht einlernen, Signal 72 %", "Notiert"},
		{"gen 2", "Notiert"}, // too short to tell
		{"english please", "I answer in English from now on."},
		{"der Hub hängt am Erweiterungsbus und am Bedienteilbus", "Noted"},
	} {
		if got := k.say(turn.says).Text(); !strings.Contains(got, turn.hears) {
			t.Errorf("%s\n%s\nwant %q", turn.says, got, turn.hears)
		}
	}
}

// A button stays good while its question stands: to ask why, or to post a
// photo, is no answer to it. It is old once another question was asked.
func TestButtonsOutliveAnAside(t *testing.T) {
	for _, aside := range []string{"why", "more", "readings", "help", "photo"} {
		k := newTalk(t)
		asked := k.say("wireless keypad won't enrol, signal 72 %")
		if asked.Step == nil || len(asked.Step.Choices) == 0 {
			t.Fatalf("nothing is asked: %s", asked.Text())
		}
		if aside == "photo" {
			if _, err := k.bot.Handle(t.Context(), bot.File{Envelope: k.envelope(), Name: "hub.jpg", Link: "https://example.com/1"}); err != nil {
				t.Fatal(err)
			}
		} else {
			k.say(aside)
		}
		if got := k.press(asked, asked.Step.Choices[0]); len(got.New) == 0 {
			t.Errorf("after %s the button does nothing: %s", aside, got.Text())
		}
		if got := k.press(asked, asked.Step.Choices[0]); !strings.Contains(got.Text(), "earlier question") {
			t.Errorf("after %s an old button is taken: %s", aside, got.Text())
		}
	}
}

// A button of a case that is closed meanwhile changes nothing, and says so in
// the language of the case.
func TestButtonOfAClosedCase(t *testing.T) {
	k := newTalk(t)
	asked := k.say("Funkbedienteil lässt sich nicht einlernen, Signal 72 %")
	closed := k.say("abschließen, kein Fehler gefunden, 20 min, gemessen")
	if c, err := k.store.Case(t.Context(), closed.Case); err != nil || c.State != store.Closed {
		t.Fatalf("not closed: %s, %v", closed.Text(), err)
	}
	got := k.press(asked, asked.Step.Choices[0])
	if want := wording.In("de").Say("old_button"); got.Headline != want || len(got.New) > 0 {
		t.Errorf("got %q; want %q", got.Text(), want)
	}
}

func (k *talk) press(r bot.Reply, answer string) bot.Reply {
	k.t.Helper()
	got, err := k.bot.Handle(k.t.Context(), bot.Choice{Envelope: k.envelope(), Case: r.Case, Version: r.Version, Value: answer})
	if err != nil {
		k.t.Fatal(err)
	}
	return got
}
