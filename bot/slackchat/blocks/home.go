package blocks

import (
	"fmt"
	"strings"

	"github.com/slack-go/slack"

	"ferrule/bot"
	"ferrule/bot/wording"
)

// Home draws the home page of a person. The link of a conversation is where it
// can be opened, or "".
func Home(h bot.Home, link func(conversation string) string) slack.HomeTabViewRequest {
	say := wording.In(h.Language).Say
	var bs []slack.Block
	heading := func(s string) { bs = append(bs, slack.NewHeaderBlock(plain(cut(s, longestHeading)))) }
	heading(say("home_open"))
	if len(h.Open) == 0 {
		bs = append(bs, paragraph(say("home_none")))
	}
	for _, c := range h.Open[:min(len(h.Open), mostCases)] {
		bs = append(bs, openCase(c, link, say)...)
	}
	heading(say("home_week"))
	bs = append(bs, listOr(h.Week, say("home_week_none")))
	if h.Lead {
		heading(say("home_gaps"))
		bs = append(bs, listOr(h.Gaps, say("home_gaps_none")))
	}
	return slack.HomeTabViewRequest{Type: slack.VTHomeTab, Blocks: slack.Blocks{BlockSet: bs}}
}

// mostCases leaves room for what follows the open cases, each of two blocks.
const mostCases = (mostInView - 10) / 2

func paragraph(s string) slack.Block { return slack.NewRichTextBlock("", line(s, nil)) }

// openCase shows a case as its complaint and what is to be done next; its
// heading leads to the conversation.
func openCase(c bot.OpenCase, link func(string) string, say func(string, ...any) string) []slack.Block {
	title := line(c.Title, bold)
	if url := link(c.Conversation); url != "" {
		title = slack.NewRichTextSection(slack.NewRichTextSectionLinkElement(url, c.Title, bold), slack.NewRichTextSectionTextElement("\n", nil))
	}
	parts := []slack.RichTextElement{title}
	// The steps that a colon would announce stand in the conversation.
	if says := strings.TrimRight(c.Says, ": "); says != "" {
		parts = append(parts, line(says, nil))
	}
	return []slack.Block{
		slack.NewRichTextBlock("", parts...),
		slack.NewContextBlock("", plain(say("home_case", "Case", fmt.Sprint(c.Case), "Date", c.Opened.Format("2006-01-02")))),
	}
}

func listOr(lines []string, none string) slack.Block {
	var d drawing
	if d.list(slack.RTEListBullet, lines); len(d.pending) == 0 {
		return paragraph(none)
	}
	return slack.NewRichTextBlock("", d.pending...)
}

// Notice is a home page that only says something.
func Notice(says string) slack.HomeTabViewRequest {
	return slack.HomeTabViewRequest{Type: slack.VTHomeTab, Blocks: slack.Blocks{BlockSet: []slack.Block{paragraph(says)}}}
}
