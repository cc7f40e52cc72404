package blocks

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"github.com/slack-go/slack"
)

// Surface is where blocks are shown.
type Surface int

// The surfaces, each with a limit of its own on the number of blocks.
const (
	InMessage Surface = iota // 50 blocks
	InView                   // a form or the home page: 100 blocks
)

const (
	mostActions    = 25   // elements of a row of buttons
	longestButton  = 75   // of a button's text
	longestValue   = 2000 // of what a button carries
	longestContext = 2000 // of small print; Slack names no limit of its own
	// mostTogether is what Slack takes of all blocks of a message together.
	// It is not documented; https://github.com/slackapi/bolt-js/issues/2509
	// measured about 13,200.
	mostTogether = 12000
)

// TooMuch is a limit of Slack's that something would pass.
type TooMuch struct {
	Where string // such as blocks[2].elements[0].text.text
	What  string // characters, elements, blocks
	Has   int
	Least int
	Most  int
}

func (e *TooMuch) Error() string {
	if e.Has < e.Least {
		return fmt.Sprintf("%s has %d %s; it must have at least %d", e.Where, e.Has, e.What, e.Least)
	}
	return fmt.Sprintf("%s has %d %s; Slack takes %d", e.Where, e.Has, e.What, e.Most)
}

// limit is one row of the table: what a field of a block or element may hold,
// in Unicode code points for text and in elements for lists.
type limit struct {
	field string // path within the element, through the text objects it holds
	least int
	most  int
}

// limits are Slack's, by the type of block or element, as the comments of its
// published types give them (@slack/types 3.2.0); a test compares them.
var limits = map[string][]limit{
	"actions":           {{"elements", 1, mostActions}},
	"context":           {{"elements", 1, 10}},
	"section":           {{"text.text", 1, 3000}, {"fields", 1, 10}, {"fields[].text", 1, 2000}},
	"header":            {{"text.text", 1, 150}},
	"image":             {{"alt_text", 1, 2000}, {"image_url", 1, 3000}, {"title.text", 1, 2000}},
	"input":             {{"label.text", 1, 2000}, {"hint.text", 1, 2000}},
	"button":            {{"text.text", 1, longestButton}, {"value", 1, longestValue}, {"url", 1, 3000}, {"accessibility_label", 1, 75}},
	"static_select":     {{"options", 1, 100}, {"placeholder.text", 1, 150}},
	"radio_buttons":     {{"options", 1, 10}},
	"checkboxes":        {{"options", 1, 10}},
	"overflow":          {{"options", 1, 5}},
	"rich_text":         {{"elements", 1, mostTogether}},
	"rich_text_section": {{"elements", 1, mostTogether}},
	"rich_text_quote":   {{"elements", 1, mostTogether}},
	"rich_text_list":    {{"elements", 1, mostTogether}},
	"text":              {{"text", 1, mostTogether}}, // of rich text: an empty one is refused
	"plain_text":        {{"text", 1, 3000}},
	"mrkdwn":            {{"text", 1, 3000}},
}

// needed are fields of which a block must have one.
var needed = map[string][]string{
	"section": {"text", "fields"},
	"actions": {"elements"},
	"context": {"elements"},
	"header":  {"text"},
	"input":   {"label"},
}

// everywhere are the limits of fields that any element may have.
var everywhere = []limit{{"block_id", 1, 255}, {"action_id", 1, 255}}

// Check holds blocks to Slack's limits. The error is a *TooMuch for the first
// limit that is passed, or says that a block can't be written as JSON.
func Check(where Surface, blocks []slack.Block) error {
	most := map[Surface]int{InMessage: 50, InView: 100}[where]
	if len(blocks) > most {
		return &TooMuch{Where: "blocks", What: "blocks", Has: len(blocks), Most: most}
	}
	raw, err := json.Marshal(blocks)
	if err != nil {
		return fmt.Errorf("writing blocks: %w", err)
	}
	var tree []any
	if err := json.Unmarshal(raw, &tree); err != nil {
		return fmt.Errorf("reading blocks again: %w", err)
	}
	c := checker{ids: map[string]bool{}}
	for i, b := range tree {
		c.walk(fmt.Sprintf("blocks[%d]", i), b)
	}
	if c.err == nil && where == InMessage && c.total > mostTogether {
		return &TooMuch{Where: "blocks", What: "characters together", Has: c.total, Most: mostTogether}
	}
	return c.err
}

// checker walks through decoded JSON; it keeps the first fault.
type checker struct {
	err   error
	total int
	ids   map[string]bool // block and action IDs, which have to differ
}

func (c *checker) walk(path string, v any) {
	switch v := v.(type) {
	case []any:
		for i, e := range v {
			c.walk(fmt.Sprintf("%s[%d]", path, i), e)
		}
	case map[string]any:
		kind, _ := v["type"].(string)
		for _, l := range append(limits[kind], everywhere...) {
			c.hold(path, v, l)
		}
		if need := needed[kind]; len(need) > 0 && !slices.ContainsFunc(need, func(f string) bool { return v[f] != nil }) {
			c.fail(fmt.Errorf("%s, a block of type %s, has no %s", path, kind, strings.Join(need, " and no ")))
		}
		if s, ok := v["text"].(string); ok {
			c.total += count(s)
		}
		for _, key := range []string{"block_id", "action_id"} {
			id, ok := v[key].(string)
			if ok && c.ids[key+id] {
				c.fail(fmt.Errorf("%s: there are two of %s %q", path, key, id))
			}
			c.ids[key+id] = ok
		}
		for key, e := range v {
			c.walk(path+"."+key, e)
		}
	}
}

func (c *checker) hold(path string, v map[string]any, l limit) {
	for _, at := range reach(v, strings.Split(l.field, ".")) {
		e := &TooMuch{Where: path + "." + l.field, Least: l.least, Most: l.most}
		switch at := at.(type) {
		case string:
			e.What, e.Has = "characters", count(at)
		case []any:
			e.What, e.Has = "elements", len(at)
		default:
			continue
		}
		if e.Has < e.Least || e.Has > e.Most {
			c.fail(e)
		}
	}
}

// reach gives what a path leads to; "fields[]" is each element of a list.
func reach(v any, path []string) []any {
	if len(path) == 0 {
		return []any{v}
	}
	key, each := strings.CutSuffix(path[0], "[]")
	m, _ := v.(map[string]any)
	next, ok := m[key]
	if !ok || next == nil {
		return nil
	}
	if !each {
		return reach(next, path[1:])
	}
	var out []any
	list, _ := next.([]any)
	for _, e := range list {
		out = append(out, reach(e, path[1:])...)
	}
	return out
}

func (c *checker) fail(err error) {
	if c.err == nil {
		c.err = err
	}
}
