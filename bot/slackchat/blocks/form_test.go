package blocks_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"strings"
	"testing"
	"time"

	"github.com/slack-go/slack"
	"pgregory.net/rapid"

	"ferrule/bot"
	"ferrule/bot/slackchat/blocks"
	"ferrule/knowledge"
)

// filledIn is the state of a view as Slack sends it, when a form was filled in
// at random, and what each field should be read as. Slack names every field,
// also those that were left empty.
func filledIn(t *rapid.T, v slack.ModalViewRequest) (slack.ViewState, map[string]string) {
	values, want := map[string]any{}, map[string]string{}
	for _, b := range v.Blocks.BlockSet {
		in, ok := b.(*slack.InputBlock)
		if !ok {
			continue
		}
		state := map[string]any{"type": in.Element.ElementType()}
		id, options, several := "", []*slack.OptionBlockObject(nil), false
		switch e := in.Element.(type) {
		case *slack.PlainTextInputBlockElement:
			id = e.ActionID
			if typed := rapid.StringN(0, 20, -1).Draw(t, in.BlockID); typed != "" {
				state["value"], want[in.BlockID] = typed, typed
			} else {
				state["value"], want[in.BlockID] = nil, "" // Slack says null
			}
		case *slack.SelectBlockElement:
			id, options = e.ActionID, e.Options
		case *slack.RadioButtonsBlockElement:
			id, options = e.ActionID, e.Options
		case *slack.MultiSelectBlockElement:
			id, options, several = e.ActionID, e.Options, true
		default:
			t.Fatalf("a field of type %T", e)
		}
		if options != nil {
			state["selected_option"], state["selected_options"] = nil, []any{}
			want[in.BlockID] = choose(t, v.CallbackID, options, several, state)
		}
		values[in.BlockID] = map[string]any{id: state}
	}
	raw, err := json.Marshal(map[string]any{"values": values})
	if err != nil {
		t.Fatal(err)
	}
	var state slack.ViewState
	if err := json.Unmarshal(raw, &state); err != nil {
		t.Fatal(err)
	}
	return state, want
}

// choose picks none, one or several options and says what is read of them.
func choose(t *rapid.T, callback string, options []*slack.OptionBlockObject, several bool, state map[string]any) string {
	read := func(o *slack.OptionBlockObject) string {
		if callback == blocks.ClosingForm {
			return o.Value
		}
		return o.Text.Text
	}
	if !several {
		n := rapid.IntRange(-1, len(options)-1).Draw(t, "choice")
		if n < 0 {
			return ""
		}
		state["selected_option"] = options[n]
		return read(options[n])
	}
	var picked []*slack.OptionBlockObject
	var says []string
	for _, o := range options {
		if rapid.Bool().Draw(t, "picked") {
			picked, says = append(picked, o), append(says, read(o))
		}
	}
	if len(picked) > 0 {
		state["selected_options"] = picked
	}
	return strings.Join(says, " and ")
}

// What is read of a form that was sent is what was entered: what was typed, of
// a choice its title, of several all of them, of a closing form the values.
func TestFilledIsWhatWasEntered(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := bot.Sheet{Case: 7, Version: 3}
		for i := range rapid.IntRange(1, 8).Draw(t, "fields") {
			f := bot.Field{Reading: fmt.Sprintf("hub.reading_%d", i), Title: "Title", Kind: rapid.SampledFrom([]knowledge.Kind{knowledge.Number, knowledge.Choice, knowledge.Set}).Draw(t, "kind")}
			if f.Kind != knowledge.Number {
				for j := range rapid.IntRange(1, 5).Draw(t, "answers") {
					f.Answers = append(f.Answers, bot.Answer{Value: fmt.Sprint("value-", j), Title: fmt.Sprint("Title ", j)})
				}
			}
			s.Fields = append(s.Fields, f)
		}
		closing := bot.ClosingSheet{Case: 7, Version: 3, Causes: []bot.Answer{{Value: "old_hub", Title: "The hub is too old"}, {Value: "no_fault", Title: "No fault"}},
			Confirmed: []bot.Answer{{Value: "measurement", Title: "Measured"}, {Value: "unproven", Title: "Not proven"}}}
		for _, v := range []slack.ModalViewRequest{blocks.Form(s, "slack:T:C:1"), blocks.Closing(closing, "slack:T:C:1")} {
			state, want := filledIn(t, v)
			if got := blocks.Filled(v.CallbackID, state); !maps.Equal(got, want) {
				t.Fatalf("%s: got %q; want %q", v.CallbackID, got, want)
			}
			if p, err := blocks.ParseValue(v.PrivateMetadata); err != nil || p != (blocks.Pressed{Case: 7, Version: 3, Answer: "slack:T:C:1"}) {
				t.Fatalf("the form carries %+v, %v", p, err)
			}
		}
	})
}

// Every answer that a form of the dialogues offers is understood when it is
// sent: it goes to the bot by its title. The forms are sent with the first
// answer of every field, the second, and so on.
func TestAnswersOfFormsAreUnderstood(t *testing.T) {
	fields := map[string][]*slack.OptionBlockObject{}
	most := 0
	for _, s := range replies(t) {
		for _, v := range s.forms {
			for _, block := range v.Blocks.BlockSet {
				if in, ok := block.(*slack.InputBlock); ok && v.CallbackID == blocks.ReadingsForm && len(offered(in.Element)) > 0 {
					fields[in.BlockID] = offered(in.Element)
					most = max(most, len(fields[in.BlockID]))
				}
			}
		}
	}
	if len(fields) < 50 || most < 5 {
		t.Errorf("only %d fields, of at most %d answers", len(fields), most)
	}
	b := newBot(t)
	for n := range most {
		sent := map[string]string{}
		for field, options := range fields {
			if n < len(options) {
				sent[field] = options[n].Text.Text
			}
		}
		wrong := send(t, b, fmt.Sprint(n), sent)
		for field, answer := range sent {
			if wrong[field] != "" {
				t.Errorf("%s: %q: %q", field, answer, wrong[field])
			}
		}
	}
}

func offered(e slack.BlockElement) []*slack.OptionBlockObject {
	switch e := e.(type) {
	case *slack.SelectBlockElement:
		return e.Options
	case *slack.MultiSelectBlockElement:
		return e.Options
	}
	return nil
}

// send sends a form of a case of its own and gives the errors at its fields.
func send(t *testing.T, b *bot.Bot, where string, fields map[string]string) map[string]string {
	t.Helper()
	at := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	r := said(t, b, "ada", where, at, "keypad dead")
	env := bot.Envelope{Actor: "ada", Conversation: "slack:T0LANTERN:C0FAULTS:" + where, Delivery: where, Message: where, Sent: at.Add(time.Minute)}
	_, err := b.Handle(t.Context(), bot.Form{Envelope: env, Case: r.Case, Version: r.Version, Fields: fields})
	var wrong *bot.FieldErrors
	switch {
	case errors.As(err, &wrong):
		return wrong.Fields
	case err != nil:
		t.Fatal(err)
	}
	return nil
}
