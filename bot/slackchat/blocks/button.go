package blocks

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/slack-go/slack"

	"ferrule/bot"
	"ferrule/store"
)

// Answer is the beginning of the action ID of every answer to a step.
const Answer = "answer-"

// buttons are the answers to the step, and what can be asked of it.
func (d *drawing) buttons(r bot.Reply, say func(string, ...any) string) {
	if r.Step == nil {
		return
	}
	var all []slack.BlockElement
	add := func(shown, answer string) {
		if answer == "" {
			return
		}
		id := Answer + strconv.Itoa(len(all))
		all = append(all, slack.NewButtonBlockElement(id, cut(Value(Pressed{r.Case, r.Version, answer}), longestValue), plain(cut(shown, longestButton))))
	}
	for _, c := range r.Step.Choices {
		add(c, c)
	}
	if len(r.Details) == 0 && (r.Step.Kind == "measure" || r.Step.Kind == "repair") && r.Case != 0 {
		// What is told only when it is asked for. The commands are understood
		// in English whatever the language of the case.
		add(say("button_why"), "why")
		add(say("button_more"), "more")
	}
	for ; len(all) > mostActions; all = all[mostActions:] {
		d.blocks = append(d.blocks, slack.NewActionBlock("", all[:mostActions]...))
	}
	if len(all) > 0 {
		d.blocks = append(d.blocks, slack.NewActionBlock("", all...))
	}
}

// Pressed is what a button says when it is pressed: an answer to a version of
// a case.
type Pressed struct {
	Case    store.CaseID
	Version uint64
	Answer  string
}

// ErrNotOurs is returned for the value of a button that was not drawn here.
var ErrNotOurs = errors.New("not a button of ours")

// Value writes what a button carries; Slack gives it back as it is.
func Value(p Pressed) string {
	return fmt.Sprintf("%d %d %s", p.Case, p.Version, p.Answer)
}

// ParseValue reads what Value wrote, or gives ErrNotOurs.
func ParseValue(s string) (Pressed, error) {
	c, rest, _ := strings.Cut(s, " ")
	v, answer, ok := strings.Cut(rest, " ")
	id, err := strconv.ParseUint(c, 10, 64)
	version, err2 := strconv.ParseUint(v, 10, 64)
	p := Pressed{store.CaseID(id), version, answer}
	if !ok || err != nil || err2 != nil || answer == "" || Value(p) != s {
		return Pressed{}, fmt.Errorf("value %.40q: %w", s, ErrNotOurs)
	}
	return p, nil
}
