package slackfake

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"unicode/utf8"
)

// judge holds decoded JSON to the table of limits. Faults are written as Slack
// writes them in response_metadata.messages.
type judge struct {
	shapes map[string]shape
	faults []string
	ids    map[string]bool // block IDs, which have to differ
	chars  int             // of all text together
	marks  int             // characters of markdown blocks, which have a limit together
}

const (
	mostInMessage = 50
	// mostChars is what Slack takes of all blocks of a message together. It is
	// not documented; https://github.com/slackapi/bolt-js/issues/2509 measured
	// 13,172 to 13,297.
	mostChars = 13200
	mostMarks = 12000
)

// judgeBlocks judges the blocks of a message and gives them with the IDs that
// Slack adds. code is Slack's word for what is wrong, empty if nothing is.
func (s *Server) judgeBlocks(raw json.RawMessage) (out json.RawMessage, code string, faults []string) {
	if t := bytes.TrimSpace(raw); len(t) == 0 || string(t) == "null" || string(t) == "[]" {
		return nil, "", nil
	}
	var blocks []any
	if err := json.Unmarshal(raw, &blocks); err != nil {
		return nil, "invalid_blocks_format", nil
	}
	j, err := newJudge()
	if err != nil {
		return nil, "internal_error", []string{err.Error()}
	}
	if len(blocks) > mostInMessage {
		j.fault("/blocks", "no more than %d items allowed", mostInMessage)
	}
	kinds := j.shapes["@blocks in messages"].needed
	for i, b := range blocks {
		j.object(fmt.Sprintf("/blocks/%d", i), b, rule{is: "object", kinds: kinds, most: -1})
	}
	switch {
	case len(j.faults) > 0:
		return nil, "invalid_blocks", j.faults
	case j.chars > mostChars || j.marks > mostMarks:
		return nil, "msg_blocks_too_long", nil
	}
	return s.withIDs(blocks), "", nil
}

// judgeView judges a view of one of the given types.
func (s *Server) judgeView(raw json.RawMessage, kind string) (view map[string]any, faults []string) {
	if err := json.Unmarshal(raw, &view); err != nil {
		return nil, []string{"[ERROR] must be a valid view [json-pointer:/view]"}
	}
	j, err := newJudge()
	if err != nil {
		return nil, []string{err.Error()}
	}
	j.object("/view", view, rule{is: "object", kinds: []string{kind}, most: -1})
	blocks, _ := view["blocks"].([]any)
	isInput := func(b any) bool { o, _ := b.(map[string]any); return o["type"] == "input" }
	if kind == "modal" && view["submit"] == nil && slices.ContainsFunc(blocks, isInput) {
		j.fault("/view", "missing required field: submit")
	}
	return view, j.faults
}

func newJudge() (*judge, error) {
	shapes, err := shapes()
	return &judge{shapes: shapes, ids: map[string]bool{}}, err
}

func (j *judge) fault(at, format string, a ...any) {
	j.faults = append(j.faults, fmt.Sprintf("[ERROR] %s [json-pointer:%s]", fmt.Sprintf(format, a...), at))
}

// value holds a value to a rule.
func (j *judge) value(at string, v any, r rule) {
	if r.list != nil {
		j.list(at, v, r)
		return
	}
	switch r.is {
	case "string":
		text, ok := v.(string)
		j.want(at, "string", ok)
		j.long(at, text, r)
	case "number":
		n, ok := v.(float64)
		j.want(at, "number", ok)
		if ok && r.most >= 0 && (n < float64(r.least) || n > float64(r.most)) {
			j.fault(at, "must be between %d and %d", r.least, r.most)
		}
	case "bool":
		_, ok := v.(bool)
		j.want(at, "boolean", ok)
	case "enum":
		if word, _ := v.(string); !slices.Contains(r.kinds, word) {
			j.fault(at, "must be one of: %s", strings.Join(r.kinds, ", "))
		}
	case "row":
		j.list(at, v, rule{is: "object", kinds: []string{"raw_text", "raw_number", "rich_text"}, most: -1, list: &span{1, 20}})
	case "object":
		j.object(at, v, r)
	}
}

func (j *judge) want(at, what string, ok bool) {
	if !ok {
		j.fault(at, "must be a %s", what)
	}
}

func (j *judge) long(at, text string, r rule) {
	n := utf8.RuneCountInString(text)
	if n < r.least {
		j.fault(at, "must be more than %d characters", r.least-1)
	}
	if r.most >= 0 && n > r.most {
		j.fault(at, "must be less than %d characters", r.most+1)
	}
}

func (j *judge) list(at string, v any, r rule) {
	list, ok := v.([]any)
	j.want(at, "array", ok)
	if ok && len(list) < r.list.least {
		j.fault(at, "no fewer than %d items allowed", r.list.least)
	}
	if r.list.most >= 0 && len(list) > r.list.most {
		j.fault(at, "no more than %d items allowed", r.list.most)
	}
	r.list = nil
	actions := map[string]bool{}
	for i, e := range list {
		here := fmt.Sprintf("%s/%d", at, i)
		j.value(here, e, r)
		if o, ok := e.(map[string]any); ok {
			j.unique(here, "action_id", o, actions)
		}
	}
}

// unique holds an ID to being the only one of its kind.
func (j *judge) unique(at, key string, o map[string]any, seen map[string]bool) {
	id, _ := o[key].(string)
	if id != "" && seen[id] {
		j.fault(at+"/"+key, "`%s` already exists: %s", key, id)
	}
	seen[id] = true
}

// object holds an object to the shape of its type, and its text to the length
// that the rule allows in this place.
func (j *judge) object(at string, v any, r rule) {
	o, ok := v.(map[string]any)
	if !ok {
		j.fault(at, "must be an object")
		return
	}
	name := j.kind(o, r.kinds)
	shape, known := j.shapes[name]
	if name == "" || !known {
		j.fault(at+"/type", "unsupported type: %v", o["type"])
		return
	}
	j.unique(at, "block_id", o, j.ids)
	if text, ok := o["text"].(string); ok {
		j.long(at+"/text", text, r)
		j.chars += utf8.RuneCountInString(text)
		if name == "markdown" {
			j.marks += utf8.RuneCountInString(text)
		}
	}
	for _, key := range shape.needed {
		if _, ok := o[key]; !ok {
			j.fault(at, "missing required field: %s", key)
		}
	}
	if len(shape.oneOf) > 0 && !slices.ContainsFunc(shape.oneOf, func(key string) bool { return o[key] != nil }) {
		j.fault(at, "must define one of: %s", strings.Join(shape.oneOf, ", "))
	}
	for _, key := range slices.Sorted(maps.Keys(o)) {
		switch field, ok := shape.fields[key]; {
		case key == "type":
		case !ok:
			j.fault(at, "invalid additional property: %s", key)
		default:
			j.value(at+"/"+key, o[key], field)
		}
	}
}

// kind gives the name of the shape of an object among those that may stand here.
func (j *judge) kind(o map[string]any, kinds []string) string {
	typ, _ := o["type"].(string)
	for _, kind := range kinds {
		if is, _, _ := strings.Cut(kind, "#"); is == typ {
			return kind
		}
	}
	return ""
}

// withIDs gives blocks with the block and action IDs that Slack adds where the
// sender gave none.
func (s *Server) withIDs(blocks []any) json.RawMessage {
	for _, b := range blocks {
		o, _ := b.(map[string]any)
		s.setID(o, "block_id")
		elements, _ := o["elements"].([]any)
		for _, e := range append(slices.Clone(elements), o["accessory"], o["element"]) {
			e, _ := e.(map[string]any)
			if typ, _ := e["type"].(string); e != nil && o["type"] != "rich_text" && !slices.Contains([]string{"image", "plain_text", "mrkdwn"}, typ) {
				s.setID(e, "action_id")
			}
		}
	}
	raw, _ := json.Marshal(blocks) // it was decoded from JSON
	return raw
}

func (s *Server) setID(o map[string]any, key string) {
	if id, _ := o[key].(string); id == "" && o != nil {
		o[key] = strings.ToLower(s.newID(""))
	}
}
