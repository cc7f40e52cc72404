package blocks

import (
	"cmp"
	"slices"
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
// it is sent: its case and version, and the conversation as the answer. What
// Slack would not take is cut or left out, so that a form always opens.
func Form(s bot.Sheet, conversation string) slack.ModalViewRequest {
	say := wording.In(s.Language).Say
	bs := []slack.Block{slack.NewContextBlock("", plain(say("form_intro")))}
	if len(s.Cautions) > 0 {
		bs = append(bs, slack.NewRichTextBlock("", cautions(s.Cautions, say)...))
	}
	seen := map[string]bool{}
	for _, f := range s.Fields {
		if f.Reading == "" || count(f.Reading) > longestID || seen[f.Reading] || len(bs) == mostInView {
			continue
		}
		seen[f.Reading] = true
		block := slack.NewInputBlock(f.Reading, plain(cut(cmp.Or(f.Title, f.Reading), longestLabel)), hint(f, say), element(f, say))
		block.Optional = true
		bs = append(bs, block)
	}
	return modal(ReadingsForm, say("form_title"), say, bs, Pressed{s.Case, s.Version, conversation})
}

// hint says below a field how its reading is taken, and what is known of it.
func hint(f bot.Field, say func(string, ...any) string) *slack.TextBlockObject {
	var lines []string
	if f.Hint != "" {
		lines = append(lines, f.Hint)
	}
	if f.Known != "" {
		lines = append(lines, say("form_noted", "Value", f.Known))
	}
	if len(lines) == 0 {
		return nil
	}
	return plain(cut(strings.Join(lines, " "), longestLabel))
}

// element is a list where there are answers to choose from, and a line of text
// otherwise: Slack's own number field knows no decimal comma.
func element(f bot.Field, say func(string, ...any) string) slack.BlockElement {
	answers := options(f.Answers, mostOptions)
	if len(answers) == 0 {
		return slack.NewPlainTextInputBlockElement(nil, typedIn)
	}
	choose := plain(cut(say("form_choose"), longestPlace))
	if f.Kind == knowledge.Set {
		return slack.NewOptionsMultiSelectBlockElement(slack.MultiOptTypeStatic, choose, typedIn, answers...)
	}
	return slack.NewOptionsSelectBlockElement(slack.OptTypeStatic, choose, typedIn, answers...)
}

// options are the answers that can be offered. What is sent is never cut, since
// it would come back as something else.
func options(answers []bot.Answer, most int) []*slack.OptionBlockObject {
	var out []*slack.OptionBlockObject
	for _, a := range answers {
		if a.Value != "" && count(a.Value) <= longestOptionKey && a.Title != "" && len(out) < most {
			out = append(out, slack.NewOptionBlockObject(a.Value, plain(cut(a.Title, longestOption)), nil))
		}
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

// Closing draws the form that closes a case.
func Closing(s bot.ClosingSheet, conversation string) slack.ModalViewRequest {
	say := wording.In(s.Language).Say
	var bs []slack.Block
	ask := func(field, label string, e slack.BlockElement) {
		bs = append(bs, slack.NewInputBlock(field, plain(cut(label, longestLabel)), nil, e))
	}
	if causes := options(s.Causes, mostOptions); len(causes) > 0 {
		list := slack.NewOptionsSelectBlockElement(slack.OptTypeStatic, plain(cut(say("form_choose"), longestPlace)), typedIn, causes...)
		if i := slices.IndexFunc(causes, func(o *slack.OptionBlockObject) bool { return o.Value == s.Cause }); i >= 0 {
			list.InitialOption = causes[i]
		}
		ask(bot.FieldCause, say("closing_cause"), list)
	}
	took := slack.NewPlainTextInputBlockElement(nil, typedIn)
	ask(bot.FieldMinutes, say("closing_minutes"), took)
	if ways := options(s.Confirmed, mostRadio); len(ways) > 0 {
		ask(bot.FieldConfirmed, say("closing_confirmed"), slack.NewRadioButtonsBlockElement(typedIn, ways...))
	}
	return modal(ClosingForm, say("closing_title"), say, bs, Pressed{s.Case, s.Version, conversation})
}

// Filled gives what was typed and chosen in a form, by its callback ID, and by
// field. Of the readings a choice is what was shown, as if it had been typed;
// of a closing form it is its value.
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
