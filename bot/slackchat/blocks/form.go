package blocks

import (
	"slices"
	"strconv"
	"strings"

	"github.com/slack-go/slack"

	"ferrule/bot"
	"ferrule/bot/wording"
	"ferrule/knowledge"
)

// The forms, by the callback ID of their views.
const (
	ReadingsForm = "readings"
	ClosingForm  = "closing"
)

// Buttons that open a form, by their action ID.
const (
	OpenReadings = "open-readings"
	OpenClosing  = "open-closing"
)

// typedIn is the action ID of what is typed or chosen in a field; the block ID
// is the field's name.
const typedIn = "value"

// Form draws the form for several readings. What it carries is given back when
// it is sent: its case and version, and the conversation as the answer.
func Form(s bot.Sheet, conversation string) slack.ModalViewRequest {
	say := wording.In(s.Language).Say
	bs := []slack.Block{slack.NewContextBlock("", plain(say("form_intro")))}
	if len(s.Cautions) > 0 {
		bs = append(bs, slack.NewRichTextBlock("", cautions(s.Cautions, say)...))
	}
	for _, f := range s.Fields {
		var hint []string
		if f.Hint != "" {
			hint = append(hint, f.Hint)
		}
		if f.Known != "" {
			hint = append(hint, say("form_noted", "Value", f.Known))
		}
		block := slack.NewInputBlock(f.Reading, plain(cut(f.Title, longestContext)), hintOf(hint), element(f, say))
		block.Optional = true
		bs = append(bs, block)
	}
	return modal(ReadingsForm, say("form_title"), say, bs, Pressed{s.Case, s.Version, conversation})
}

func hintOf(lines []string) *slack.TextBlockObject {
	if len(lines) == 0 {
		return nil
	}
	return plain(cut(strings.Join(lines, " "), longestContext))
}

// element is a list where there are answers to choose from, and a line of text
// otherwise: Slack's own number field knows no decimal comma.
func element(f bot.Field, say func(string, ...any) string) slack.BlockElement {
	if len(f.Answers) == 0 {
		return slack.NewPlainTextInputBlockElement(nil, typedIn)
	}
	choose := plain(say("form_choose"))
	if f.Kind == knowledge.Set {
		return slack.NewOptionsMultiSelectBlockElement(slack.MultiOptTypeStatic, choose, typedIn, options(f.Answers)...)
	}
	return slack.NewOptionsSelectBlockElement(slack.OptTypeStatic, choose, typedIn, options(f.Answers)...)
}

const (
	mostOptions      = 100 // of a list
	longestOption    = 75  // of what is shown
	longestOptionKey = 150 // of what is sent
)

func options(answers []bot.Answer) []*slack.OptionBlockObject {
	var out []*slack.OptionBlockObject
	for _, a := range answers[:min(len(answers), mostOptions)] {
		out = append(out, slack.NewOptionBlockObject(cut(a.Value, longestOptionKey), plain(cut(a.Title, longestOption)), nil))
	}
	return out
}

func modal(callback, title string, say func(string, ...any) string, bs []slack.Block, carries Pressed) slack.ModalViewRequest {
	return slack.ModalViewRequest{
		Type: slack.VTModal, CallbackID: callback, PrivateMetadata: Value(carries),
		Title: plain(cut(title, longestTitle)), Submit: plain(cut(say("form_send"), longestTitle)), Close: plain(cut(say("form_cancel"), longestTitle)),
		Blocks: slack.Blocks{BlockSet: bs},
	}
}

// longestTitle is the length of a form's title and of its two buttons.
const longestTitle = 24

// Closing draws the form that closes a case.
func Closing(s bot.ClosingSheet, conversation string) slack.ModalViewRequest {
	say := wording.In(s.Language).Say
	causes := slack.NewOptionsSelectBlockElement(slack.OptTypeStatic, plain(say("form_choose")), typedIn, options(s.Causes)...)
	if i := slices.IndexFunc(s.Causes, func(a bot.Answer) bool { return a.Value == s.Cause }); i >= 0 && i < len(causes.Options) {
		causes.InitialOption = causes.Options[i]
	}
	took := slack.NewPlainTextInputBlockElement(nil, typedIn)
	if s.Minutes > 0 {
		took.InitialValue = strconv.FormatFloat(s.Minutes, 'f', 0, 64)
	}
	bs := []slack.Block{
		slack.NewInputBlock(bot.FieldCause, plain(say("closing_cause")), nil, causes),
		slack.NewInputBlock(bot.FieldMinutes, plain(say("closing_minutes")), nil, took),
		slack.NewInputBlock(bot.FieldConfirmed, plain(say("closing_confirmed")), nil, slack.NewRadioButtonsBlockElement(typedIn, options(s.Confirmed)...)),
	}
	return modal(ClosingForm, say("closing_title"), say, bs, Pressed{s.Case, s.Version, conversation})
}

// Filled gives what was typed and chosen in a form, by its callback ID, and by
// field. Of the readings a
// choice is what was shown, as if it had been typed; of a closing form it is
// its value.
func Filled(callback string, state slack.ViewState) map[string]string {
	out := map[string]string{}
	for field, actions := range state.Values {
		a, ok := actions[typedIn]
		if !ok {
			continue
		}
		switch {
		case len(a.SelectedOptions) > 0:
			var titles []string
			for _, o := range a.SelectedOptions {
				titles = append(titles, shown(o, callback))
			}
			out[field] = strings.Join(titles, " and ")
		case a.SelectedOption.Value != "":
			out[field] = shown(a.SelectedOption, callback)
		default:
			out[field] = a.Value
		}
	}
	return out
}

func shown(o slack.OptionBlockObject, form string) string {
	if form == ClosingForm || o.Text == nil {
		return o.Value
	}
	return o.Text.Text
}
