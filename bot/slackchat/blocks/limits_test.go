package blocks_test

import (
	"errors"
	"strings"
	"testing"

	"github.com/slack-go/slack"

	"ferrule/bot/slackchat/blocks"
)

func plain(n int) *slack.TextBlockObject {
	return &slack.TextBlockObject{Type: slack.PlainTextType, Text: strings.Repeat("ø", n)}
}

func markdown(n int) *slack.TextBlockObject {
	return &slack.TextBlockObject{Type: slack.MarkdownType, Text: strings.Repeat("ø", n)}
}

func many[T any](n int, one func(i int) T) []T {
	out := make([]T, n)
	for i := range out {
		out[i] = one(i)
	}
	return out
}

func button(id string, text, value int) *slack.ButtonBlockElement {
	return slack.NewButtonBlockElement(id, strings.Repeat("ø", value), plain(text))
}

func option(int) *slack.OptionBlockObject {
	return slack.NewOptionBlockObject("v", plain(10), nil)
}

// Each limit is held at its edge: as much as is taken, and one more.
// Source: https://docs.slack.dev/reference/block-kit, in the comments of
// @slack/types 3.2.0; characters are Unicode code points.
func TestLimits(t *testing.T) {
	for name, c := range map[string]struct {
		most int
		of   func(n int) []slack.Block
		says string
	}{
		"blocks of a message": {50, func(n int) []slack.Block {
			return many(n, func(int) slack.Block { return slack.NewDividerBlock() })
		}, "blocks has 51 blocks; Slack takes 50"},
		"text of a section": {3000, func(n int) []slack.Block {
			return []slack.Block{slack.NewSectionBlock(markdown(n), nil, nil)}
		}, "blocks[0].text.text has 3001 characters; Slack takes 3000"},
		"fields of a section": {10, func(n int) []slack.Block {
			return []slack.Block{slack.NewSectionBlock(nil, many(n, func(int) *slack.TextBlockObject { return plain(9) }), nil)}
		}, "blocks[0].fields has 11 elements; Slack takes 10"},
		"a field of a section": {2000, func(n int) []slack.Block {
			return []slack.Block{slack.NewSectionBlock(nil, []*slack.TextBlockObject{plain(n)}, nil)}
		}, "blocks[0].fields[].text has 2001 characters; Slack takes 2000"},
		"header": {150, func(n int) []slack.Block {
			return []slack.Block{slack.NewHeaderBlock(plain(n))}
		}, "blocks[0].text.text has 151 characters; Slack takes 150"},
		"elements of small print": {10, func(n int) []slack.Block {
			return []slack.Block{slack.NewContextBlock("", many(n, func(int) slack.MixedElement { return plain(5) })...)}
		}, "blocks[0].elements has 11 elements; Slack takes 10"},
		"buttons of a row": {25, func(n int) []slack.Block {
			return []slack.Block{slack.NewActionBlock("", many(n, func(i int) slack.BlockElement { return button(string(rune('a'+i)), 5, 5) })...)}
		}, "blocks[0].elements has 26 elements; Slack takes 25"},
		"text of a button": {75, func(n int) []slack.Block {
			return []slack.Block{slack.NewActionBlock("", button("a", n, 5))}
		}, "blocks[0].elements[0].text.text has 76 characters; Slack takes 75"},
		"value of a button": {2000, func(n int) []slack.Block {
			return []slack.Block{slack.NewActionBlock("", button("a", 5, n))}
		}, "blocks[0].elements[0].value has 2001 characters; Slack takes 2000"},
		"block ID": {255, func(n int) []slack.Block {
			return []slack.Block{slack.NewActionBlock(strings.Repeat("i", n), button("a", 5, 5))}
		}, "blocks[0].block_id has 256 characters; Slack takes 255"},
		"action ID": {255, func(n int) []slack.Block {
			return []slack.Block{slack.NewActionBlock("", button(strings.Repeat("i", n), 5, 5))}
		}, "blocks[0].elements[0].action_id has 256 characters; Slack takes 255"},
		"alt text": {2000, func(n int) []slack.Block {
			return []slack.Block{slack.NewImageBlock("https://example.com/a.png", strings.Repeat("a", n), "", nil)}
		}, "blocks[0].alt_text has 2001 characters; Slack takes 2000"},
		"label of an input": {2000, func(n int) []slack.Block {
			return []slack.Block{slack.NewInputBlock("i", plain(n), nil, slack.NewPlainTextInputBlockElement(nil, "a"))}
		}, "blocks[0].label.text has 2001 characters; Slack takes 2000"},
		"options of a menu": {100, func(n int) []slack.Block {
			return []slack.Block{slack.NewInputBlock("i", plain(5), nil, slack.NewOptionsSelectBlockElement(slack.OptTypeStatic, plain(5), "a", many(n, option)...))}
		}, "blocks[0].element.options has 101 elements; Slack takes 100"},
		"characters of all blocks": {12_000, func(n int) []slack.Block {
			half := func(n int) slack.Block {
				return slack.NewRichTextBlock("", slack.NewRichTextSection(slack.NewRichTextSectionTextElement(strings.Repeat("ø", n), nil)))
			}
			return []slack.Block{half(6000), half(n - 6000)}
		}, "blocks has 12001 characters together; Slack takes 12000"},
	} {
		if err := blocks.Check(c.of(c.most)); err != nil {
			t.Errorf("%s: %d are refused: %v", name, c.most, err)
		}
		err := blocks.Check(c.of(c.most + 1))
		var much *blocks.TooMuch
		if !errors.As(err, &much) || err.Error() != c.says {
			t.Errorf("%s: got %v; want %s", name, err, c.says)
		}
	}
}

func TestEmptyAndTwice(t *testing.T) {
	for name, c := range map[string]struct {
		blocks []slack.Block
		says   string
	}{
		"an empty button":    {[]slack.Block{slack.NewActionBlock("", button("a", 0, 5))}, "text.text has 0 characters; it must have at least 1"},
		"no buttons":         {[]slack.Block{slack.NewActionBlock("")}, "blocks[0], of type actions, has no elements"},
		"two of an action":   {[]slack.Block{slack.NewActionBlock("", button("a", 5, 5), button("a", 5, 5))}, `two of action_id "a"`},
		"two of a block":     {[]slack.Block{slack.NewActionBlock("x", button("a", 5, 5)), slack.NewActionBlock("x", button("b", 5, 5))}, `two of block_id "x"`},
		"an empty rich text": {[]slack.Block{slack.NewRichTextBlock("", slack.NewRichTextSection(slack.NewRichTextSectionTextElement("", nil)))}, "text has 0 characters"},
		"an empty section":   {[]slack.Block{slack.NewSectionBlock(nil, nil, nil)}, "blocks[0], of type section, has no text and no fields"},
	} {
		if err := blocks.Check(c.blocks); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: got %v; want %s", name, err, c.says)
		}
	}
}
