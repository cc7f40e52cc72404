package blocks_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/slack-go/slack"
	"pgregory.net/rapid"

	"ferrule/bot"
	"ferrule/bot/slackchat/blocks"
	"ferrule/knowledge"
	"ferrule/store"
)

// modal is a form that is within the limits, to be changed.
func modal(change func(*slack.ModalViewRequest)) slack.ModalViewRequest {
	v := slack.ModalViewRequest{Type: slack.VTModal, Title: plain(5), Submit: plain(4), Close: plain(6), Blocks: slack.Blocks{BlockSet: []slack.Block{typed("i")}}}
	change(&v)
	return v
}

func typed(id string) slack.Block {
	return slack.NewInputBlock(id, plain(5), nil, slack.NewPlainTextInputBlockElement(nil, "value"))
}

func dividers(n int) slack.Blocks {
	return slack.Blocks{BlockSet: many(n, func(int) slack.Block { return slack.NewDividerBlock() })}
}

// asking is a form with one element to choose from or to type into.
func asking(e slack.BlockElement) slack.ModalViewRequest {
	return modal(func(v *slack.ModalViewRequest) {
		v.Blocks.BlockSet = []slack.Block{slack.NewInputBlock("i", plain(5), nil, e)}
	})
}

func choosing(o ...*slack.OptionBlockObject) slack.ModalViewRequest {
	return asking(slack.NewOptionsSelectBlockElement(slack.OptTypeStatic, plain(5), "value", o...))
}

// Each limit of a form is held at its edge. Sources: the comments of
// @slack/types 3.2.0, https://docs.slack.dev/reference/views, and for options
// https://docs.slack.dev/reference/block-kit/composition-objects/option-object;
// https://github.com/nicklambourne/slackblocks (spec/limits.json) has the same.
func TestViewLimits(t *testing.T) {
	type view = slack.ModalViewRequest
	for name, c := range map[string]struct {
		most int
		of   func(n int) view
		says string
	}{
		"title":       {24, func(n int) view { return modal(func(v *view) { v.Title = plain(n) }) }, "view.title.text has 25 characters; Slack takes 24"},
		"submit":      {24, func(n int) view { return modal(func(v *view) { v.Submit = plain(n) }) }, "view.submit.text has 25 characters; Slack takes 24"},
		"close":       {24, func(n int) view { return modal(func(v *view) { v.Close = plain(n) }) }, "view.close.text has 25 characters; Slack takes 24"},
		"metadata":    {3000, func(n int) view { return modal(func(v *view) { v.PrivateMetadata = strings.Repeat("ø", n) }) }, "view.private_metadata has 3001 characters; Slack takes 3000"},
		"callback":    {255, func(n int) view { return modal(func(v *view) { v.CallbackID = strings.Repeat("ø", n) }) }, "view.callback_id has 256 characters; Slack takes 255"},
		"external":    {255, func(n int) view { return modal(func(v *view) { v.ExternalID = strings.Repeat("ø", n) }) }, "view.external_id has 256 characters; Slack takes 255"},
		"blocks":      {100, func(n int) view { return modal(func(v *view) { v.Blocks = dividers(n) }) }, "view.blocks has 101 elements; Slack takes 100"},
		"options":     {100, func(n int) view { return choosing(many(n, option)...) }, "view.blocks[0].element.options has 101 elements; Slack takes 100"},
		"option":      {75, func(n int) view { return choosing(slack.NewOptionBlockObject("v", plain(n), nil)) }, "view.blocks[0].element.options[].text.text has 76 characters; Slack takes 75"},
		"value":       {150, func(n int) view { return choosing(slack.NewOptionBlockObject(strings.Repeat("v", n), plain(5), nil)) }, "view.blocks[0].element.options[].value has 151 characters; Slack takes 150"},
		"description": {75, func(n int) view { return choosing(slack.NewOptionBlockObject("v", plain(5), plain(n))) }, "view.blocks[0].element.options[].description.text has 76 characters; Slack takes 75"},
		"radio":       {10, func(n int) view { return asking(slack.NewRadioButtonsBlockElement("value", many(n, option)...)) }, "view.blocks[0].element.options has 11 elements; Slack takes 10"},
		"placeholder of a list": {150, func(n int) view {
			return asking(slack.NewOptionsMultiSelectBlockElement(slack.MultiOptTypeStatic, plain(n), "value", option(0)))
		}, "view.blocks[0].element.placeholder.text has 151 characters; Slack takes 150"},
		"placeholder of a line": {150, func(n int) view { return asking(slack.NewPlainTextInputBlockElement(plain(n), "value")) }, "view.blocks[0].element.placeholder.text has 151 characters; Slack takes 150"},
		"hint": {2000, func(n int) view {
			return modal(func(v *view) {
				v.Blocks.BlockSet = []slack.Block{slack.NewInputBlock("i", plain(5), plain(n), slack.NewPlainTextInputBlockElement(nil, "value"))}
			})
		}, "view.blocks[0].hint.text has 2001 characters; Slack takes 2000"},
	} {
		if err := blocks.CheckView(c.of(c.most)); err != nil {
			t.Errorf("%s: %d are refused: %v", name, c.most, err)
		}
		err := blocks.CheckView(c.of(c.most + 1))
		var much *blocks.TooMuch
		if !errors.As(err, &much) || err.Error() != c.says {
			t.Errorf("%s: got %v; want %s", name, err, c.says)
		}
	}
}

func TestHomeLimits(t *testing.T) {
	home := func(n int) slack.HomeTabViewRequest {
		return slack.HomeTabViewRequest{Type: slack.VTHomeTab, Blocks: dividers(n)}
	}
	if err := blocks.CheckView(home(100)); err != nil {
		t.Error(err)
	}
	for n, says := range map[int]string{101: "view.blocks has 101 elements; Slack takes 100", 0: "view.blocks has 0 elements; it must have at least 1"} {
		if err := blocks.CheckView(home(n)); err == nil || err.Error() != says {
			t.Errorf("%d blocks: got %v; want %s", n, err, says)
		}
	}
}

func TestViewsThatSlackRefuses(t *testing.T) {
	type view = slack.ModalViewRequest
	for name, c := range map[string]struct {
		view view
		says string
	}{
		"no title":             {modal(func(v *view) { v.Title = nil }), "view, of type modal, has no title"},
		"nothing sends it":     {modal(func(v *view) { v.Submit = nil }), "view asks for something and has no submit"},
		"no options":           {choosing(), "has no options"},
		"an empty option":      {choosing(slack.NewOptionBlockObject("", plain(5), nil)), "options[].value has 0 characters"},
		"two fields of a name": {modal(func(v *view) { v.Blocks.BlockSet = []slack.Block{typed("i"), typed("i")} }), `two of block_id "i"`},
	} {
		if err := blocks.CheckView(c.view); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: got %v; want %s", name, err, c.says)
		}
	}
	if err := blocks.CheckView(modal(func(v *view) { v.Blocks.BlockSet, v.Submit = dividers(1).BlockSet, nil })); err != nil {
		t.Errorf("a view that asks for nothing: %v", err)
	}
	if err := blocks.CheckView(modal(func(v *view) { v.Blocks.BlockSet = []slack.Block{typed("i"), typed("j")} })); err != nil {
		t.Errorf("an action ID may come again in another block: %v", err)
	}
}

// Every form and home page that the dialogues lead to is within the limits. The
// forms for readings are whole, since what is shown there is what is read.
func TestViewsOfDialogues(t *testing.T) {
	forms, homes := 0, 0
	for _, s := range replies(t) {
		for _, v := range s.forms {
			if err := blocks.CheckView(v); err != nil {
				t.Errorf("%s: %v", s.where, err)
			}
			if shown := words(t, v.Blocks.BlockSet); v.CallbackID == blocks.ReadingsForm && strings.Contains(shown, "…") {
				t.Errorf("%s: something was cut:\n%s", s.where, shown)
			}
			forms++
		}
		for _, v := range s.homes {
			if err := blocks.CheckView(v); err != nil {
				t.Errorf("%s: %v", s.where, err)
			}
			homes++
		}
	}
	if forms < 400 || homes < 600 {
		t.Errorf("only %d forms and %d home pages", forms, homes)
	}
}

// str is any text, of which some are far too long.
var str = rapid.OneOf(rapid.String(), rapid.Map(rapid.IntRange(0, 4_000), func(n int) string { return strings.Repeat("ø", n) }))

func answers(t *rapid.T, label string) []bot.Answer {
	out := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) bot.Answer {
		return bot.Answer{Value: str.Draw(t, "value"), Title: str.Draw(t, "title")}
	}), 0, 4).Draw(t, label)
	for range rapid.IntRange(0, 1).Draw(t, "many") * 120 {
		out = append(out, bot.Answer{Value: "v", Title: "t"})
	}
	return out
}

// Whatever a form is asked to hold, it opens: what does not fit is cut.
func TestAnyFormIsWithinTheLimits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := bot.Sheet{Case: 1, Cautions: rapid.SliceOfN(str, 0, 3).Draw(t, "cautions")}
		for i := range rapid.SampledFrom([]int{0, 1, 5, 150}).Draw(t, "fields") {
			s.Fields = append(s.Fields, bot.Field{
				Reading: rapid.OneOf(str, rapid.Just(fmt.Sprint("reading ", i))).Draw(t, "reading"), Title: str.Draw(t, "title"), Hint: str.Draw(t, "hint"), Known: str.Draw(t, "known"),
				Kind: rapid.SampledFrom([]knowledge.Kind{knowledge.Number, knowledge.Choice, knowledge.Set, knowledge.YesNo}).Draw(t, "kind"),
			})
			if i < 3 {
				s.Fields[i].Answers = answers(t, "answers")
			}
		}
		if err := blocks.CheckView(blocks.Form(s, "slack:T:C:1")); err != nil {
			t.Fatal(err)
		}
		c := bot.ClosingSheet{Case: 1, Causes: answers(t, "causes"), Confirmed: answers(t, "confirmed"), Cause: "v"}
		if err := blocks.CheckView(blocks.Closing(c, "slack:T:C:1")); err != nil {
			t.Fatal(err)
		}
	})
}

// Whatever a home page is asked to hold, it can be shown.
func TestAnyHomeIsWithinTheLimits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := bot.Home{Lead: rapid.Bool().Draw(t, "lead"), Week: rapid.SliceOfN(str, 0, 5).Draw(t, "week"), Gaps: rapid.SliceOfN(str, 0, 3).Draw(t, "gaps")}
		for range rapid.SampledFrom([]int{0, 1, 10, 200}).Draw(t, "open") {
			h.Open = append(h.Open, bot.OpenCase{Case: store.CaseID(1), Title: str.Draw(t, "title"), Says: str.Draw(t, "says"), Opened: time.Unix(0, 0)})
		}
		link := str.Draw(t, "link")
		if err := blocks.CheckView(blocks.Home(h, func(string) string { return link })); err != nil {
			t.Fatal(err)
		}
	})
}

// An open case leads to its conversation and says what is next; a colon that
// announces steps is left out, since the steps stand there.
func TestHome(t *testing.T) {
	h := bot.Home{Week: []string{""}, Open: []bot.OpenCase{{Case: 7, Title: "Siren fault", Says: "Mend this first (about 45 min):", Conversation: "c", Opened: time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)}}}
	got := words(t, blocks.Home(h, func(c string) string { return "https://example.com/" + c }).Blocks.BlockSet)
	for _, want := range []string{"Your open cases", "Siren fault", "Mend this first (about 45 min)\n", "Case 7, since 2026-03-02", "Mended this week", "No case was closed"} {
		if !strings.Contains(got, want) {
			t.Errorf("%q is missing in\n%s", want, got)
		}
	}
	if strings.Contains(got, "min):") || strings.Contains(got, "leads") {
		t.Errorf("got\n%s", got)
	}
}
