package bot

import (
	"slices"
	"strings"

	"ferrule/bot/intake"
	"ferrule/knowledge"
	"ferrule/rules"
	"ferrule/rules/diagnosis"
	"ferrule/store"
)

// step chooses the next step, says it, and stores that it was proposed.
func (t *turn) step(c store.Case, in diagnosis.Input, a *diagnosis.Assessment) {
	s, err := t.use.model.Next(in, a)
	if err != nil {
		t.bot.log.Error("no step could be planned", "error", err)
	}
	switch s.Kind {
	case diagnosis.Measure:
		t.measure(c, a, s)
	case diagnosis.Repair:
		t.repair(c, a, s)
	default:
		t.reply.Step = nil
		if s.Expected > 0 {
			t.reply.Headline = t.say("hand_over")
		}
		return
	}
	t.reply.Step.Expected = s.Expected
	t.propose()
}

// propose stores the step that the reply carries.
func (t *turn) propose() {
	s := t.reply.Step
	t.event(store.Event{Kind: store.KindStep, Step: &store.Step{
		Kind: s.Kind, Readings: s.Readings, Cause: s.Cause, Says: s.Says, Minutes: s.Minutes, Choices: s.Choices,
		Version: t.old.Version + 1,
	}})
}

// placeKeys say where a step is done.
var placeKeys = map[knowledge.Place]string{
	knowledge.AtPanel: "at_panel", knowledge.AtDevice: "at_device", knowledge.AtHub: "at_hub",
	knowledge.AtLadder: "at_ladder", knowledge.AtOffice: "at_office",
}

func (t *turn) measure(c store.Case, a *diagnosis.Assessment, s diagnosis.Step) {
	step := &Step{Kind: string(diagnosis.Measure), Minutes: s.Minutes}
	var asks []string
	var cautions []knowledge.Str
	for _, r := range s.Readings {
		step.Readings = append(step.Readings, r.Name.S)
		asks = append(asks, t.ask(c, a, r))
		cautions = append(cautions, r.Cautions...)
	}
	if where := placeKeys[s.Place]; where != "" {
		step.Says = t.say(where, "What", lowerFirst(asks[0]))
	} else {
		step.Says = asks[0]
	}
	if len(asks) > 1 {
		step.Says = strings.TrimRight(step.Says, ":")
		step.Lines = asks[1:]
	} else if how := s.Readings[0].How; how != "" {
		step.Lines = []string{how}
	}
	step.Choices = t.answers(c, s.Readings[0])
	t.reply.Step = step
	t.cautions(cautions)
}

// ask is the question for a reading. One that was given without being sure,
// too widely, or in two ways says so.
func (t *turn) ask(c store.Case, a *diagnosis.Assessment, r *knowledge.Reading) string {
	program := t.use.model.Program()
	if candidates := program.AmbiguousVersion(a.Facts(), r.Name.S); len(candidates) > 1 {
		return t.say("which_version", "Reading", t.title(r), "First", candidates[0], "Second", strings.Join(candidates[1:], ", "))
	}
	v := observed(c).Get(r.Name.S, t.focused(c, r.Class))
	switch {
	case v.State == rules.Known && v.Certainty < 1:
		return t.say("make_sure", "Reading", t.title(r), "Value", t.value(r, v), "How", lowerFirst(r.How))
	case v.State == rules.Known && r.Kind == knowledge.Number && v.Low < v.High:
		return t.say("too_close", "Reading", t.title(r), "Value", t.value(r, v))
	case v.State == rules.Known && r.Kind == knowledge.Choice:
		return r.Ask + " " + t.say("which_model", "Value", v.Text)
	}
	return r.Ask
}

// answers are the likely answers to offer as buttons.
func (t *turn) answers(c store.Case, r *knowledge.Reading) []string {
	var out []string
	kind := t.kindNamed(c, r)
	switch r.Kind {
	case knowledge.YesNo:
		out = t.sayAll("yes", "no")
	case knowledge.Choice, knowledge.Set:
		for _, name := range t.pack().ChoiceNames(r) {
			if m := t.pack().Model(name); m == nil || !m.Generic && (kind == "" || m.Kind == kind) {
				out = append(out, t.choiceTitle(r, name))
			}
		}
		if r.Kind == knowledge.Set && len(out) == 2 {
			out = append(out, t.say("both"))
		}
	default:
		out = slices.Clone(r.Likely)
	}
	if len(out) > 6 {
		out = out[:6]
	}
	return append(out, t.say("dont_know"))
}

// kindNamed is the kind that was given where a model is asked for.
func (t *turn) kindNamed(c store.Case, r *knowledge.Reading) string {
	given := observed(c).Get(r.Name.S, t.focused(c, r.Class)).Text
	if m := t.pack().Model(given); m != nil && m.Generic {
		return given
	}
	return ""
}

func (t *turn) repair(c store.Case, a *diagnosis.Assessment, s diagnosis.Step) {
	cause := s.Cause
	step := &Step{
		Kind: string(diagnosis.Repair), Cause: cause.Name.S, Minutes: s.Minutes,
		Lines: cause.Fix.Steps, Choices: t.sayAll("done", "still_the_same", "cant_here"),
	}
	switch {
	case len(a.Blockers) > 0:
		step.Says = t.say("mend_first", "Minutes", minutes(s.Minutes))
	case cause.Normal:
		step.Says = t.say("no_fault_probably", "Cause", cause.Title)
		step.Choices = t.sayAll("that_explains_it", "still_the_same")
	default:
		step.Says = t.say("probably", "Cause", cause.Title, "Minutes", minutes(s.Minutes))
	}
	if cause.Fix.Later {
		step.Lines = append(slices.Clone(step.Lines), t.say("seen_later"))
	}
	if len(cause.Fix.Parts) > 0 {
		step.Lines = append(slices.Clone(step.Lines), t.say("parts", "Items", strings.Join(cause.Fix.Parts, ", ")))
	}
	t.reply.Step = step
	t.cautions(cause.Fix.Cautions)
}

// cautions says each hazard in full once in a case and in one line from then
// on; one that the step before carried too is not said a third time.
func (t *turn) cautions(names []knowledge.Str) {
	shown := notes(t.now(), topicCaution)
	for i, name := range names {
		h := t.pack().Hazard(name.S)
		if h == nil || slices.ContainsFunc(names[:i], func(s knowledge.Str) bool { return s.S == name.S }) {
			continue
		}
		if slices.Contains(shown, h.Name.S) {
			t.reply.Cautions = append(t.reply.Cautions, h.Short)
			continue
		}
		t.reply.Cautions = append(t.reply.Cautions, h.Full)
		t.note(topicCaution, h.Name.S)
	}
}

// stopped holds a stop until it is said that it is safe, or what the reading
// really was; it tells whether the message is answered with that.
func (t *turn) stopped(msg intake.Message) bool {
	s, ok := lastStep(t.old)
	if !ok || s.Kind != stepStop {
		return false
	}
	for _, g := range msg.Readings {
		if slices.Contains(s.Readings, g.Reading) {
			return false // danger looks at it, if it is still one
		}
	}
	if msg.Command == intake.Safe || msg.Command == intake.Done || msg.Command == intake.Undo || msg.Command == intake.NewCase || msg.Command == intake.OnTest || msg.Command == intake.OffTest {
		return false
	}
	var h *knowledge.Hazard
	for _, name := range s.Readings {
		if r := t.pack().Reading(name); r != nil && r.Dangerous != nil {
			h = t.pack().Hazard(r.Dangerous.Hazard.S)
		}
	}
	t.handsOff(h, s.Readings)
	return true
}

// handsOff says nothing but stop, because of what some readings show. The
// hazard is nil where the pack does not know it any more.
func (t *turn) handsOff(h *knowledge.Hazard, readings []string) {
	if h != nil {
		t.reply.Headline = h.Stop
		if h.Stop == "" {
			t.reply.Headline = t.say("stop", "Caution", h.Full)
		}
	}
	t.reply.Notices = nil
	t.reply.Step = &Step{Kind: stepStop, Readings: readings, Says: t.say("tell_when_safe"), Choices: t.sayAll("safe_now")}
	t.propose()
}

// safe goes on after a stop. A measured value has to be read again; what was
// seen stays as it was.
func (t *turn) safe() {
	s, ok := lastStep(t.old)
	if !ok || s.Kind != stepStop {
		return
	}
	for _, old := range t.old.Readings {
		if r := t.pack().Reading(old.Name); r != nil && r.Kind == knowledge.Number && slices.Contains(s.Readings, old.Name) && old.State == stateKnown {
			old.State, old.Message = stateStale, t.env.Message
			t.event(store.Event{Kind: store.KindReading, Reading: &old})
		}
	}
}

// danger answers a reading that would be dangerous if true before anything
// else: stop, hands off.
func (t *turn) danger(msg intake.Message) bool {
	for _, g := range msg.Readings {
		r := t.pack().Reading(g.Reading)
		d := r.Dangerous
		if d == nil || g.Value.State == rules.Unavailable || !dangerous(d, r, g.Value) {
			continue
		}
		t.handsOff(t.pack().Hazard(d.Hazard.S), []string{g.Reading})
		return true
	}
	return false
}

func dangerous(d *knowledge.Danger, r *knowledge.Reading, v rules.Value) bool {
	switch {
	case d.Above != nil && v.Low > *d.Above, d.Below != nil && v.High < *d.Below:
		return true
	case d.Is == "":
		return false
	case r.Kind == knowledge.YesNo:
		return (d.Is == "yes") == (v.Low == 1)
	}
	return v.Text == d.Is
}

func lowerFirst(s string) string {
	if len(s) > 1 && s[0] >= 'A' && s[0] <= 'Z' && (s[1] < 'A' || s[1] > 'Z') {
		return strings.ToLower(s[:1]) + s[1:]
	}
	return s
}
