package blocks

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/slack-go/slack"
)

const (
	longestID      = 255  // of a block, an action or a view
	mostBlocks     = 50   // of a message
	mostInView     = 100  // blocks of a form or of the home page
	mostActions    = 25   // elements of a row of buttons
	mostOptions    = 100  // of a list
	mostRadio      = 10   // options of which all are seen
	longestButton  = 75   // of a button's text
	longestValue   = 2000 // of what a button carries
	longestContext = 2000 // of small print; Slack names no limit of its own
	longestHeading = 150
	longestLabel   = 2000 // of a field's label and of its hint
	longestTitle   = 24   // of a form's title and of its two buttons
	longestPlace   = 150  // of what stands in an empty field
	longestOption  = 75   // of what is shown
	// longestOptionKey is the length of what an option sends. Slack's reference
	// says 150; a comment in its types still says 75.
	longestOptionKey = 150
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
	"actions":             {{"elements", 1, mostActions}},
	"context":             {{"elements", 1, 10}},
	"section":             {{"text.text", 1, 3000}, {"fields", 1, 10}, {"fields[].text", 1, 2000}},
	"header":              {{"text.text", 1, longestHeading}},
	"image":               {{"alt_text", 1, 2000}, {"image_url", 1, 3000}, {"title.text", 1, 2000}},
	"input":               {{"label.text", 1, longestLabel}, {"hint.text", 1, longestLabel}},
	"button":              {{"text.text", 1, longestButton}, {"value", 1, longestValue}, {"url", 1, 3000}, {"accessibility_label", 1, 75}},
	"static_select":       choices(mostOptions),
	"multi_static_select": choices(mostOptions),
	"radio_buttons":       choices(mostRadio),
	"checkboxes":          choices(mostRadio),
	"overflow":            choices(5),
	"plain_text_input":    {{"placeholder.text", 1, longestPlace}, {"initial_value", 0, 3000}},
	"rich_text":           {{"elements", 1, mostTogether}},
	"rich_text_section":   {{"elements", 1, mostTogether}},
	"rich_text_quote":     {{"elements", 1, mostTogether}},
	"rich_text_list":      {{"elements", 1, mostTogether}},
	"text":                {{"text", 1, mostTogether}}, // of rich text: an empty one is refused
	"plain_text":          {{"text", 1, 3000}},
	"mrkdwn":              {{"text", 1, 3000}},
	"modal":               append([]limit{{"title.text", 1, longestTitle}, {"submit.text", 1, longestTitle}, {"close.text", 1, longestTitle}}, anyView...),
	"home":                anyView,
}

// anyView are the limits of a form and of the home page.
var anyView = []limit{{"blocks", 1, mostInView}, {"private_metadata", 0, 3000}, {"callback_id", 0, longestID}, {"external_id", 0, longestID}}

// choices are the limits of what has options.
func choices(most int) []limit {
	return []limit{
		{"options", 1, most}, {"options[].text.text", 1, longestOption}, {"options[].value", 1, longestOptionKey},
		{"options[].description.text", 1, longestOption}, {"placeholder.text", 1, longestPlace},
	}
}

// needed are fields of which a block, element or view must have one.
var needed = map[string][]string{
	"section":             {"text", "fields"},
	"actions":             {"elements"},
	"context":             {"elements"},
	"header":              {"text"},
	"input":               {"label"},
	"static_select":       {"options", "option_groups"},
	"multi_static_select": {"options", "option_groups"},
	"radio_buttons":       {"options"},
	"modal":               {"title"},
}

// everywhere are the limits of fields that any element may have.
var everywhere = []limit{{"block_id", 1, longestID}, {"action_id", 1, longestID}}

// Check holds the blocks of a message to Slack's limits. The error is a *TooMuch
// for the first limit that is passed, or says what else is wrong.
func Check(blocks []slack.Block) error {
	if len(blocks) > mostBlocks {
		return &TooMuch{Where: "blocks", What: "blocks", Has: len(blocks), Most: mostBlocks}
	}
	var c checker
	if list, ok := c.decoded(blocks).([]any); ok {
		c.blocks("blocks", list)
	}
	if c.err == nil && c.total > mostTogether {
		return &TooMuch{Where: "blocks", What: "characters together", Has: c.total, Most: mostTogether}
	}
	return c.err
}

// CheckView holds a form or a home page to Slack's limits, as Check does.
func CheckView[V slack.ModalViewRequest | slack.HomeTabViewRequest](view V) error {
	var c checker
	v, ok := c.decoded(view).(map[string]any)
	if !ok {
		return c.err
	}
	list, _ := v["blocks"].([]any)
	asks := slices.ContainsFunc(list, func(b any) bool { m, _ := b.(map[string]any); return m["type"] == "input" })
	if asks && v["type"] == "modal" && v["submit"] == nil {
		c.fail(errors.New("view asks for something and has no submit"))
	}
	c.fields("view", v)
	c.blocks("view.blocks", list)
	delete(v, "blocks")
	c.inside("view", v)
	return c.err
}

// checker walks through decoded JSON; it keeps the first fault.
type checker struct {
	err     error
	total   int
	ids     map[string]bool // of blocks; they have to differ
	actions map[string]bool // of the elements of a block; they have to differ too
}

// decoded is what Slack gets to see of something.
func (c *checker) decoded(v any) any {
	raw, err := json.Marshal(v)
	if err != nil {
		c.fail(fmt.Errorf("writing blocks: %w", err))
		return nil
	}
	var tree any
	if err := json.Unmarshal(raw, &tree); err != nil {
		c.fail(fmt.Errorf("reading blocks again: %w", err))
	}
	return tree
}

func (c *checker) blocks(path string, list []any) {
	c.ids = map[string]bool{}
	for i, b := range list {
		c.actions = map[string]bool{}
		c.walk(fmt.Sprintf("%s[%d]", path, i), b)
	}
}

func (c *checker) walk(path string, v any) {
	switch v := v.(type) {
	case []any:
		for i, e := range v {
			c.walk(fmt.Sprintf("%s[%d]", path, i), e)
		}
	case map[string]any:
		c.fields(path, v)
		if s, ok := v["text"].(string); ok {
			c.total += count(s)
		}
		c.once(path, "block_id", v, c.ids)
		c.once(path, "action_id", v, c.actions)
		c.inside(path, v)
	}
}

func (c *checker) inside(path string, v map[string]any) {
	for key, e := range v {
		c.walk(path+"."+key, e)
	}
}

// fields holds the fields of an element to the table.
func (c *checker) fields(path string, v map[string]any) {
	kind, _ := v["type"].(string)
	for _, l := range slices.Concat(limits[kind], everywhere) {
		c.hold(path, v, l)
	}
	if need := needed[kind]; len(need) > 0 && !slices.ContainsFunc(need, func(f string) bool { return v[f] != nil }) {
		c.fail(fmt.Errorf("%s, of type %s, has no %s", path, kind, strings.Join(need, " and no ")))
	}
}

// once sees to it that an ID is there only once.
func (c *checker) once(path, key string, v map[string]any, seen map[string]bool) {
	id, ok := v[key].(string)
	if ok && seen[id] {
		c.fail(fmt.Errorf("%s: there are two of %s %q", path, key, id))
	}
	if ok {
		seen[id] = true
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
