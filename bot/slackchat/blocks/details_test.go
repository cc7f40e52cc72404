package blocks_test

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/slack-go/slack"

	"ferrule/bot"
	"ferrule/bot/slackchat/blocks"
)

// outline is what blocks are, a line each: the kind, a star for bold, the text.
func outline(t *testing.T, bs []slack.Block) string {
	t.Helper()
	var out []string
	part := func(kind string, v any) {
		raw, err := json.Marshal(v)
		if err != nil {
			t.Fatal(err)
		}
		var e struct {
			Elements []struct {
				Text  string
				Style struct{ Bold bool }
			}
		}
		if err := json.Unmarshal(raw, &e); err != nil {
			t.Fatal(err)
		}
		for _, e := range e.Elements {
			if e.Style.Bold {
				kind += "*"
			}
			kind += " " + strings.TrimSpace(e.Text)
		}
		out = append(out, strings.ReplaceAll(kind, "\u00a0", "_"))
	}
	for _, b := range bs {
		rich, ok := b.(*slack.RichTextBlock)
		if !ok {
			out = append(out, string(b.BlockType()))
			continue
		}
		for _, e := range rich.Elements {
			raw, err := json.Marshal(e)
			if err != nil {
				t.Fatal(err)
			}
			var list struct {
				Style    string
				Elements []any
			}
			if e.RichTextElementType() != slack.RTEList {
				part(strings.TrimPrefix(string(e.RichTextElementType()), "rich_text_"), e)
				continue
			}
			if err := json.Unmarshal(raw, &list); err != nil {
				t.Fatal(err)
			}
			for _, item := range list.Elements {
				part(list.Style, item)
			}
		}
	}
	return strings.Join(out, "\n")
}

// Details can be skimmed: headings are bold, lists are lists, and sentences that
// follow each other too. What only looks like a number stays as it is.
func TestDetails(t *testing.T) {
	for name, c := range map[string]struct {
		details []string
		want    string
	}{
		"a sentence":        {[]string{"It was on test."}, "section It was on test."},
		"sentences":         {[]string{"13 % a worn battery", " 7 % a loose lid"}, "bullet 13_% a worn battery\nbullet 7_% a loose lid"},
		"lists of a review": {[]string{"To do:", "1. Call.", "2. Go.", "By cause:", "- a lid", "  - a cell", "Open: 22."}, "section* To do:\nordered Call.\nordered Go.\nsection* By cause:\nbullet a lid\nbullet a cell\nsection Open: 22."},
		"from the middle":   {[]string{"3. Call.", "4. Go."}, "bullet 3. Call.\nbullet 4. Go."},
		"a dash of nothing": {[]string{"", "- ", " "}, "section -"},
	} {
		ms := blocks.Draw(bot.Reply{Details: c.details})
		if got := outline(t, ms[0].Blocks); got != c.want {
			t.Errorf("%s: got\n%s\nwant\n%s", name, got, c.want)
		}
	}
}

// The answers stand below their question, and what else is asked, such as the
// site, below them.
func TestOrderOfAQuestion(t *testing.T) {
	r := bot.Reply{
		Case: 7, Version: 3, Headline: "Since when?", Findings: []bot.Point{{Says: "10 V is too little."}}, Details: []string{"Which site is it?"},
		Cautions: []string{"Mains parts are here. Isolate them.", "No rings."},
		Step:     &bot.Step{Kind: "measure", Says: "Since when?", Readings: []string{"a", "b"}, Lines: []string{"Is it wireless?"}, Choices: []string{"today"}},
	}
	want := strings.Join([]string{
		"section* Since when?", "section 10_V is too little.", "quote* Careful: Mains parts are here. Isolate them.", "quote* Careful: No rings.",
		"section Tell me too, if you can:", "bullet Is it wireless?", "actions", "actions", "section Which site is it?",
	}, "\n")
	if got := outline(t, blocks.Draw(r)[0].Blocks); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	r.Step.Readings, r.Details = r.Step.Readings[:1], nil
	if got := outline(t, blocks.Draw(r)[0].Blocks); !strings.Contains(got, "No rings.\nbullet Is it wireless?\nactions") {
		t.Errorf("how a single reading is taken is no question: got\n%s", got)
	}
}
