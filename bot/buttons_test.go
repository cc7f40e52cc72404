package bot_test

import (
	"strings"
	"testing"

	"ferrule/bot/intake"
	"ferrule/bot/wording"
	"ferrule/knowledge"
	"ferrule/knowledge/starter"
)

// TestButtonsAreUnderstood reads the answers that the bot offers, in every
// language, as if they were typed.
func TestButtonsAreUnderstood(t *testing.T) {
	p, err := knowledge.Load(starter.FS)
	if err != nil {
		t.Fatal(err)
	}
	reader := intake.New(p)
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
