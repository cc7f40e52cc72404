// Package blocks draws the bot's replies as Slack messages, and holds what is
// drawn to Slack's limits before it is sent.
//
// Words go out as rich text, which Slack takes literally: nothing in it is
// markup, so that nothing needs escaping. Every message has the same as plain
// text, for notifications, for screen readers, and for the case that Slack
// refuses the blocks.
package blocks

import (
	"regexp"
	"strings"

	"github.com/slack-go/slack"

	"ferrule/bot"
	"ferrule/bot/wording"
)

// Message is what is posted to Slack.
type Message struct {
	// Text is the whole message in plain text, at most LongestText characters.
	// It is to be posted with markup off.
	Text   string
	Blocks []slack.Block
}

// LongestText is the length, in Unicode code points, that Slack recommends for
// the text of a message.
const LongestText = 4000

// Draw draws a reply: the headline, what was understood, findings, cautions,
// the step with its answers as buttons. Long details follow in messages of
// their own; of the rest, what does not fit is cut and says so. A reply that
// says nothing gives no message.
func Draw(r bot.Reply) []Message {
	if r.Empty() {
		return nil
	}
	details := r.Details
	whole := drawOne(r)
	if fits(whole) {
		return []Message{whole}
	}
	r.Details = nil
	var out []Message
	if !r.Empty() {
		out = append(out, fitted(drawOne(r)))
	}
	for _, part := range pages(details) {
		out = append(out, fitted(drawOne(bot.Reply{Language: r.Language, Details: part})))
	}
	return out
}

func fits(m Message) bool {
	return small(m) || count(m.Text) <= LongestText && Check(m.Blocks) == nil
}

// A message of so little text in so few blocks passes no limit, however it is
// parted: what has a shorter one is cut where it is drawn. Most are, and need not
// be looked at more closely.
const (
	littleText = 2000 // bytes
	fewBlocks  = 25
)

func small(m Message) bool { return len(m.Text) <= littleText && len(m.Blocks) <= fewBlocks }

// fitted keeps a message within the limits: blocks that are too much give way
// to the plain text.
func fitted(m Message) Message {
	m.Text = cut(m.Text, LongestText)
	if Check(m.Blocks) != nil {
		m.Blocks = nil
	}
	return m
}

// drawOne follows the order of bot.Reply.Text, which is the plain text.
func drawOne(r bot.Reply) Message {
	say := wording.In(r.Language).Say
	var d drawing
	if r.Headline != "" {
		d.add(line(r.Headline, bold))
	}
	if noted := r.Noted(); noted != "" {
		d.aside(noted)
	}
	d.lines(r.Notices)
	for _, f := range r.Findings {
		if f.Says != r.Headline {
			d.lines([]string{f.Says})
		}
	}
	d.pending = append(d.pending, cautions(r.Cautions, say)...)
	d.step(r, say)
	d.flush()
	d.buttons(r, say)
	d.details(r.Details)
	d.flush()
	return Message{Text: r.Text(), Blocks: d.blocks}
}

// step says what to do, and how or what else may be told on the way.
func (d *drawing) step(r bot.Reply, say func(string, ...any) string) {
	s := r.Step
	if s == nil {
		return
	}
	if s.Says != r.Headline {
		d.lines([]string{s.Says})
	}
	if s.AsksMore() {
		d.lines([]string{say("asked_too")})
	}
	d.list(slack.RTEListBullet, s.Lines)
}

// cautions stand out, as quotes. Of a long one the first sentence is bold: what
// is all bold is not read.
func cautions(ss []string, say func(string, ...any) string) []slack.RichTextElement {
	var out []slack.RichTextElement
	for _, c := range ss {
		first, rest, more := strings.Cut(say("careful", "Caution", c), ". ")
		var parts []slack.RichTextSectionElement
		if more && rest != "" {
			parts = append(text(first+". ", bold), text(rest, nil)...)
		} else {
			parts = text(say("careful", "Caution", c), bold)
		}
		out = append(out, &slack.RichTextQuote{Type: slack.RTEQuote, Elements: parts})
	}
	return out
}

// drawing gathers rich text and puts it into a block when something else comes.
type drawing struct {
	blocks  []slack.Block
	pending []slack.RichTextElement
}

func (d *drawing) add(e slack.RichTextElement) { d.pending = append(d.pending, e) }

func (d *drawing) flush() {
	if len(d.pending) > 0 {
		d.blocks = append(d.blocks, slack.NewRichTextBlock("", d.pending...))
		d.pending = nil
	}
}

// aside is small print: it is there to be checked, not to be read first.
func (d *drawing) aside(s string) {
	d.flush()
	d.blocks = append(d.blocks, slack.NewContextBlock("", plain(cut(together(s), longestContext))))
}

func (d *drawing) lines(ss []string) {
	for _, s := range ss {
		if s != "" {
			d.add(line(s, nil))
		}
	}
}

func (d *drawing) list(style slack.RichTextListElementType, ss []string) {
	var items []slack.RichTextElement
	for _, s := range ss {
		if s != "" {
			items = append(items, line(s, nil))
		}
	}
	if len(items) > 0 {
		d.add(bullets{Type: slack.RTEList, Style: style, Elements: items})
	}
}

// bullets is a list as Slack's types have it: slack.RichTextList writes a field
// "offset" that they do not know.
type bullets struct {
	Type     slack.RichTextElementType     `json:"type"`
	Style    slack.RichTextListElementType `json:"style"`
	Elements []slack.RichTextElement       `json:"elements"`
}

func (b bullets) RichTextElementType() slack.RichTextElementType { return b.Type }

var bold = &slack.RichTextSectionTextStyle{Bold: true}

func line(s string, style *slack.RichTextSectionTextStyle) *slack.RichTextSection {
	return slack.NewRichTextSection(text(s+"\n", style)...)
}

func text(s string, style *slack.RichTextSectionTextStyle) []slack.RichTextSectionElement {
	return []slack.RichTextSectionElement{slack.NewRichTextSectionTextElement(together(s), style)}
}

// unit is a figure with what it is measured in.
var unit = regexp.MustCompile(`(\d) (%|°C|k?Ω|(?:min|h|m|mm2|MHz|V|A|mA|Ah|dB|dBm)\b)`)

// together keeps a figure and its unit on one line of a narrow screen.
func together(s string) string { return unit.ReplaceAllString(s, "$1\u00a0$2") }

func plain(s string) *slack.TextBlockObject {
	return slack.NewTextBlockObject(slack.PlainTextType, s, false, false)
}

// pages parts lines so that each part is well within a message.
func pages(lines []string) [][]string {
	const most = LongestText - 200
	var out [][]string
	n := most + 1
	for _, l := range lines {
		if l = cut(l, most); l == "" {
			continue
		}
		if n+count(l)+1 > most {
			out, n = append(out, nil), 0
		}
		last := len(out) - 1
		out[last], n = append(out[last], l), n+count(l)+1
	}
	return out
}

func count(s string) int { return len([]rune(s)) }

// cut shortens to n code points; what was cut shows.
func cut(s string, n int) string {
	if r := []rune(s); len(r) > n {
		return string(r[:n-1]) + "…"
	}
	return s
}
