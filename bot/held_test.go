package bot_test

import (
	"strings"
	"testing"

	"ferrule/bot"
)

// A step that was held is said where the next message asks for none.
func TestHeldStepIsSaid(t *testing.T) {
	for _, next := range []string{"thanks", "help", "hello", "calc cable 40 m of 0.22 mm2, 85 mA"} {
		t.Run(next, func(t *testing.T) {
			k := newTalk(t)
			say := func(text string, followed bool, news []string) bot.Reply {
				env := k.envelope()
				env.Post, env.Followed, env.News = true, followed, news
				r, err := k.bot.Handle(t.Context(), bot.Text{Envelope: env, Text: text})
				if err != nil {
					t.Fatal(err)
				}
				return r
			}
			r := say("weak signal 83 % on the wireless keypad, gen 2 hub, 12 m, site lantern-12", false, nil)
			said := r.Text()
			for range 12 {
				if r.Step == nil || len(r.Step.Choices) == 0 {
					break
				}
				r = say(r.Step.Choices[0], true, nil)
				if r.Held && !strings.Contains(said, r.Step.Says) {
					last := say(next, false, r.New)
					if !strings.Contains(last.Text(), r.Step.Says) {
						t.Errorf("the step %q was never said; posted was: %s", r.Step.Says, last.Text())
					}
					return
				}
				said = r.Text()
			}
			t.Skip("no reply was held")
		})
	}
}
