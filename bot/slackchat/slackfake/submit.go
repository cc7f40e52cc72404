package slackfake

import (
	"encoding/json"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"
)

// Submit is a person who fills in an open form and sends it. values are by the
// block ID of the input: what is typed, the value of an option, or the values of
// several options on lines of their own. What the form itself does not let pass,
// such as a needed field that is empty, is an error and reaches no bot.
func (s *Server) Submit(user, viewID string, values map[string]string) (id string, err error) {
	s.work.mu.Lock()
	defer s.work.mu.Unlock()
	v := s.work.views[viewID]
	if v == nil || !v.open || v.user != user || v.kind != "modal" {
		return "", fmt.Errorf("submitting: %s has no form %s open", user, viewID)
	}
	state, err := entered(v.blocks, values)
	if err != nil {
		return "", fmt.Errorf("submitting: %w", err)
	}
	v.state, v.errors = state, nil
	body := s.interaction("view_submission", user)
	body["trigger_id"], body["view"], body["response_urls"] = s.newTrigger(user), s.viewObject(v), []any{}
	d := &delivery{id: s.newID("sub"), kind: "interactive", typ: "view_submission", body: body, accepts: true}
	d.onAck = func(answer json.RawMessage) { s.submitted(v, answer) }
	s.deliver(d)
	return d.id, nil
}

// entered builds state.values of a form.
func entered(blocks json.RawMessage, values map[string]string) (map[string]any, error) {
	var list []struct {
		Type     string         `json:"type"`
		BlockID  string         `json:"block_id"`
		Optional bool           `json:"optional"`
		Element  map[string]any `json:"element"`
	}
	if err := json.Unmarshal(blocks, &list); err != nil {
		return nil, fmt.Errorf("reading the form: %w", err)
	}
	state, used := map[string]any{}, 0
	for _, b := range list {
		if b.Type != "input" {
			continue
		}
		value, given := values[b.BlockID]
		if given {
			used++
		}
		if value == "" && !b.Optional {
			return nil, fmt.Errorf("%s has to be filled in", b.BlockID)
		}
		out, err := enter(b.Element, value)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", b.BlockID, err)
		}
		action, _ := b.Element["action_id"].(string)
		state[b.BlockID] = map[string]any{action: out}
	}
	if used != len(values) {
		return nil, fmt.Errorf("the form has no such inputs as all of %v", slices.Sorted(maps.Keys(values)))
	}
	return state, nil
}

// decimal is what a number input lets a person type.
var decimal = regexp.MustCompile(`^-?\d+(\.\d+)?$`)

// holds says by which name an input gives the one thing that is in it.
var holds = map[string]string{
	"plain_text_input": "value", "number_input": "value", "email_text_input": "value", "url_text_input": "value",
	"datepicker": "selected_date", "timepicker": "selected_time", "users_select": "selected_user",
	"channels_select": "selected_channel", "conversations_select": "selected_conversation",
}

// enter gives what one input holds.
func enter(element map[string]any, value string) (map[string]any, error) {
	kind, _ := element["type"].(string)
	out := map[string]any{"type": kind}
	switch kind {
	case "static_select", "radio_buttons":
		options, err := chosen(element, value)
		out["selected_option"] = nil
		if len(options) > 0 {
			out["selected_option"] = options[0]
		}
		return out, err
	case "checkboxes", "multi_static_select":
		options, err := chosen(element, value)
		out["selected_options"] = append([]any{}, options...)
		return out, err
	case "number_input":
		if value != "" && !decimal.MatchString(value) {
			return nil, fmt.Errorf("%q is no number", value)
		}
		if element["is_decimal_allowed"] != true && strings.Contains(value, ".") {
			return nil, fmt.Errorf("%q is no whole number", value)
		}
	case "plain_text_input":
		n := float64(utf8.RuneCountInString(value))
		least, _ := element["min_length"].(float64)
		most, bounded := element["max_length"].(float64)
		if value != "" && (n < least || bounded && n > most) {
			return nil, fmt.Errorf("its %v characters are too few or too many", n)
		}
	}
	key, known := holds[kind]
	if !known {
		return nil, fmt.Errorf("the stand-in can't fill in a %s", kind)
	}
	if out[key] = nil; value != "" {
		out[key] = value
	}
	return out, nil
}

// chosen gives the options whose values stand on lines of their own.
func chosen(element map[string]any, value string) ([]any, error) {
	if value == "" {
		return nil, nil
	}
	all, _ := element["options"].([]any)
	groups, _ := element["option_groups"].([]any)
	for _, g := range groups {
		g, _ := g.(map[string]any)
		more, _ := g["options"].([]any)
		all = append(slices.Clone(all), more...)
	}
	var out []any
	for want := range strings.SplitSeq(value, "\n") {
		at := slices.IndexFunc(all, func(o any) bool { m, _ := o.(map[string]any); return m["value"] == want })
		if at < 0 {
			return nil, fmt.Errorf("there is no option %q", want)
		}
		out = append(out, all[at])
	}
	return out, nil
}

// submitted does what the acknowledgement of a form says.
func (s *Server) submitted(v *view, answer json.RawMessage) {
	var in struct {
		Action string            `json:"response_action"`
		Errors map[string]string `json:"errors"`
		View   json.RawMessage   `json:"view"`
	}
	if !isEmpty(answer) {
		if err := json.Unmarshal(answer, &in); err != nil {
			s.violate("the answer to a form is no JSON object")
			return
		}
	}
	s.work.mu.Lock()
	wrong := s.answerForm(v, in.Action, in.Errors, in.View)
	s.work.mu.Unlock()
	if wrong != "" {
		s.violate("the answer to a form: %s", wrong)
	}
	s.notice.changed()
}

// answerForm gives what is wrong with an answer to a form.
func (s *Server) answerForm(v *view, action string, errors map[string]string, raw json.RawMessage) (wrong string) {
	switch action {
	case "":
		v.open = false
		if below := s.work.views[v.previous]; below != nil {
			below.open = true
		}
	case "clear":
		for up := v; up != nil; up = s.work.views[up.previous] {
			up.open = false
		}
	case "errors":
		if len(errors) == 0 {
			return "errors without any"
		}
		for id := range errors {
			if !isInput(v.blocks, id) {
				return fmt.Sprintf("there is no input %q to show an error at", id)
			}
		}
		v.errors = errors
	case "update", "push":
		return s.showForm(v, action == "push", raw)
	default:
		return "unknown response_action " + action
	}
	return ""
}

// showForm puts other contents into a form, or another form above it.
func (s *Server) showForm(v *view, above bool, raw json.RawMessage) (wrong string) {
	fields, faults := s.judgeView(raw, "modal")
	if len(faults) > 0 {
		return strings.Join(faults, "; ")
	}
	if !above {
		if err := s.fill(v, fields); err != nil {
			return err.Error()
		}
		return ""
	}
	pushed, err := s.newView(v.user, "modal", fields)
	if err != nil {
		return err.Error()
	}
	pushed.previous = v.id
	return ""
}

func isInput(blocks json.RawMessage, id string) bool {
	var list []struct {
		Type    string `json:"type"`
		BlockID string `json:"block_id"`
	}
	_ = json.Unmarshal(blocks, &list) // it is ours
	for _, b := range list {
		if b.Type == "input" && b.BlockID == id {
			return true
		}
	}
	return false
}
