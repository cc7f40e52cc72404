package bot_test

import (
	"context"
	"strings"
	"testing"

	"ferrule/bot"
)

// A calculation is answered in the conversation, opens no case and changes none.
func TestCalculationInAConversation(t *testing.T) {
	k := newTalk(t)
	if reply := k.say("calc battery 12.4 V"); reply.Case != 0 || !strings.Contains(reply.Headline, "62.5 % full") {
		t.Errorf("case %d: %s", reply.Case, reply.Text())
	}
	text := k.say("calc radio 50 % at 12 m upstairs, 1 brick wall").Text()
	understood := strings.Index(text, "Understood: walls of brick, block or concrete 1; level that is displayed 50 %; distance in a straight line 12 m.")
	if understood < 0 || strings.Index(text, "Assumed: ") < understood || !strings.Contains(text, "Not used: upstairs") || strings.Contains(text, "for the drawing") {
		t.Errorf("%s", text)
	}
	first := k.say("wireless keypad won't enrol")
	before, err := k.store.Case(context.Background(), first.Case)
	if err != nil {
		t.Fatal(err)
	}
	for text, want := range map[string]string{
		"calc cable 100 m of 7/0.2, 300 mA, from 13.8 V": "At the end 9.1 V of 13.8 V are left on mains",
		"Calc radio 38 % at 12 m, 2 brick walls, 1 slab": "38 % is what the way gives",
		"calc":            "What shall I calculate?",
		"calc soup":       "What shall I calculate?",
		"calc cable 40 m": "That can't be calculated: say the section of a core",
	} {
		if reply := k.say(text); !strings.HasPrefix(reply.Headline, want) {
			t.Errorf("%s: %s", text, reply.Text())
		}
	}
	env := k.envelope()
	if _, err := k.bot.Handle(t.Context(), bot.Text{Envelope: env, Text: "calc cable 40 m of 0.22 mm2, 85 mA"}); err != nil {
		t.Fatal(err)
	}
	env.Delivery += "/edit"
	reply, err := k.bot.Handle(t.Context(), bot.Edit{Envelope: env, Text: "calc cable 50 m of 0.22 mm2, 85 mA"})
	if err != nil || !strings.Contains(reply.Text(), "50 m") {
		t.Errorf("an edited calculation: %v, %s", err, reply.Text())
	}
	if after, _ := k.store.Case(context.Background(), first.Case); after.Version != before.Version {
		t.Error("a calculation changed the case")
	}
}
