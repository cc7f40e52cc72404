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

// buttons are the answers to the step, and below them what can be asked of it
// and the forms.
func (d *drawing) buttons(r bot.Reply, say func(string, ...any) string) {
	if r.Step == nil {
		return
	}
	n := 0
	button := func(shown, answer string) slack.BlockElement {
		id := Answer + strconv.Itoa(n)
		n++
		return slack.NewButtonBlockElement(id, cut(Value(Pressed{r.Case, r.Version, answer}), longestValue), plain(cut(shown, longestButton)))
	}
	var answers []slack.BlockElement
	for _, c := range r.Step.Choices {
		if c != "" {
			answers = append(answers, button(c, c))
		}
	}
	d.row(answers)
	if r.Case == 0 {
		return
	}
	form := func(id, shown string) slack.BlockElement {
		return slack.NewButtonBlockElement(id, Value(Pressed{r.Case, r.Version, id}), plain(cut(shown, longestButton)))
	}
	// What is told only when it is asked for. The commands are understood
	// in English whatever the language of the case.
	asked := []slack.BlockElement{button(say("button_why"), "why"), button(say("button_more"), "more")}
	switch r.Step.Kind {
	case "measure":
		d.row(append(asked, form(OpenReadings, say("button_form"))))
	case "repair":
		d.row(append(asked, form(OpenClosing, say("button_close"))))
	case "close", "confirm":
		d.row([]slack.BlockElement{form(OpenClosing, say("button_close"))})
	}
}

func (d *drawing) row(buttons []slack.BlockElement) {
	for ; len(buttons) > mostActions; buttons = buttons[mostActions:] {
		d.blocks = append(d.blocks, slack.NewActionBlock("", buttons[:mostActions]...))
	}
	if len(buttons) > 0 {
		d.blocks = append(d.blocks, slack.NewActionBlock("", buttons...))
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
