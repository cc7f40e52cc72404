package knowledge

import (
	"math"
	"slices"
	"strings"

	"ferrule/knowledge/units"
)

var (
	kinds     = []string{string(Number), string(Version), string(Choice), string(Set), string(YesNo), string(Text)}
	classes   = []string{string(Site), string(Panel), string(Hub), string(Module), string(Device), string(Zone), string(Bus), string(Battery), string(Path)}
	places    = []string{string(AtPanel), string(AtDevice), string(AtHub), string(AtLadder), string(AtOffice), string(Anywhere)}
	ruleKinds = []string{string(Blocker), string(Caution), string(Note)}
)

// Languages are those whose words a pack may hold.
var Languages = []string{"en", "de", "pl", "es", "fr", "it", "nl"}

// validator checks references and shapes; expressions are left to package rules.
type validator struct {
	*Pack
	problems *Problems
}

func (p *Pack) validate(problems *Problems) {
	v := validator{p, problems}
	for i := range p.Hazards {
		h := &p.Hazards[i]
		v.named(h.Name, h.At, "hazard")
		v.text(h.Full, h.At, "full", "what to be careful about")
		v.text(h.Short, h.At, "short", "the same in one line")
		v.source(h.Source, h.At)
	}
	for i := range p.Readings {
		v.reading(&p.Readings[i])
	}
	for i := range p.Symptoms {
		s := &p.Symptoms[i]
		v.named(s.Name, s.At, "symptom")
		v.text(s.Title, s.At, "title", "the complaint in a few words")
		v.source(s.Source, s.At)
		v.words(s.Words, s.At)
		v.class(s.Class, s.At)
		if s.Else < 0 || s.Else >= 1 {
			v.problems.Add(s.At, "it is a probability such as 0.05", "something_else is %g", s.Else)
		}
	}
	for i := range p.Equipment {
		v.model(&p.Equipment[i])
	}
	for i := range p.Causes {
		v.cause(&p.Causes[i])
	}
	for i := range p.Rules {
		v.rule(&p.Rules[i])
	}
	for i := range p.Evidence {
		v.evidence(&p.Evidence[i])
	}
	for i := range p.Phrases {
		v.words(p.Phrases[i].Words, p.Phrases[i].At)
		v.words(p.Phrases[i].Negative, p.Phrases[i].At)
	}
}

func (v validator) named(name Str, at Pos, what string) {
	if name.S == "" {
		v.problems.Add(at, "write "+what+": NAME", "this %s has no name", what)
	}
}

func (v validator) text(s string, at Pos, key, what string) {
	if strings.TrimSpace(s) == "" {
		v.problems.Add(at, "it says "+what, "%s: is missing", key)
	}
}

func (v validator) source(s string, at Pos) {
	v.text(s, at, "source", "the standard with its clause, or common practice")
}

func (v validator) oneOf(word string, allowed []string, at Pos, what string) bool {
	if slices.Contains(allowed, word) {
		return true
	}
	v.problems.Add(at, nearestOrAll(word, slices.Clone(allowed)), "unknown %s %q", what, word)
	return false
}

func (v validator) class(c Class, at Pos) { v.oneOf(string(c), classes, at, "subject") }

func (v validator) words(w Words, at Pos) {
	for lang, phrases := range w {
		v.oneOf(lang, Languages, at, "language")
		for _, phrase := range phrases {
			if strings.TrimSpace(phrase) == "" {
				v.problems.Add(at, "leave it out", "an empty phrase in %s", lang)
			}
		}
	}
}

func (v validator) hazards(names []Str) {
	for _, h := range names {
		if v.Hazard(h.S) == nil {
			v.problems.Add(h.Pos, nearestOrAll(h.S, sortedKeys(v.Pack.hazards)), "unknown hazard %q", h.S)
		}
	}
}

func (v validator) symptomNamed(s Str) {
	if v.Symptom(s.S) == nil {
		v.problems.Add(s.Pos, nearestOrAll(s.S, sortedKeys(v.symptoms)), "unknown symptom %q", s.S)
	}
}

func (v validator) causeNamed(s Str) {
	if v.Cause(s.S) == nil {
		v.problems.Add(s.Pos, nearestOrAll(s.S, sortedKeys(v.causes)), "unknown cause %q", s.S)
	}
}

func (v validator) readingNamed(s Str) *Reading {
	r := v.Reading(s.S)
	if r == nil {
		v.problems.Add(s.Pos, DidYouMean(s.S, v.ReadingNames()), "unknown reading %q", s.S)
	}
	return r
}

func (v validator) reading(r *Reading) {
	v.named(r.Name, r.At, "reading")
	if r.Name.S != "" && !dotted(r.Name.S) {
		v.problems.Add(r.Name.Pos, "use lower-case words with a dot, such as radio.signal", "%q is not a reading's name", r.Name.S)
	}
	v.text(r.Title, r.At, "title", "the reading as said in a sentence")
	v.oneOf(string(r.Kind), kinds, r.At, "kind")
	v.class(r.Class, r.At)
	v.oneOf(r.Unit, append(units.Symbols(), ""), r.At, "unit")
	v.words(r.Words, r.At)
	v.words(r.Negative, r.At)
	v.source(r.Source, r.At)
	v.hazards(r.Cautions)
	if r.Plausible != nil && r.Plausible.Low >= r.Plausible.High {
		v.problems.Add(r.At, "low comes first", "the plausible range %g to %g is empty", r.Plausible.Low, r.Plausible.High)
	}
	if r.Dangerous != nil {
		v.hazards([]Str{r.Dangerous.Hazard})
	}
	for _, c := range r.Choices {
		v.words(c.Words, c.Name.Pos)
	}
	if r.Scheme != nil {
		v.readingNamed(*r.Scheme)
	}
	if r.Unless != nil {
		if other := v.readingNamed(*r.Unless); other != nil && other.Kind != YesNo {
			v.problems.Add(r.Unless.Pos, "name a reading that is yes or no", "unless: %s is a %s", other.Name.S, other.Kind)
		}
	}
	v.readingOrigin(r)
	if r.Askable() {
		v.text(r.Ask, r.At, "ask", "the question, as one would put it")
		v.oneOf(string(r.Place), places, r.At, "place")
		if r.Minutes <= 0 {
			v.problems.Add(r.At, "estimate the minutes for one person on site", "minutes: is missing")
		}
	}
}

// readingOrigin checks where the value comes from: given, property, derived
// or other subjects, at most one of the last three.
func (v validator) readingOrigin(r *Reading) {
	n := 0
	for _, set := range []bool{r.Property != nil, r.Derived != nil, r.Others != nil} {
		if set {
			n++
		}
	}
	if n > 1 {
		v.problems.Add(r.At, "keep one of property, expression and others", "a reading has one origin")
	}
	if p := r.Property; p != nil {
		v.oneOf(p.Name.S, PropertyNames, p.Name.Pos, "property")
		if unit, ok := propertyUnits[p.Name.S]; ok && r.Kind == Number && r.Unit != unit {
			v.problems.Add(p.Name.Pos, "write unit: "+unit, "%s is in %s, and the reading is in %q", p.Name.S, unit, r.Unit)
		}
		v.readingNamed(p.Of)
		if p.For != nil {
			v.readingNamed(*p.For)
		} else if strings.HasPrefix(p.Name.S, "requires.") && p.Name.S != "requires.software" {
			v.problems.Add(p.Name.Pos, "add for: with the reading that holds the other model", "%s depends on the other model", p.Name.S)
		}
	}
	if o := r.Others; o != nil {
		v.class(o.Class, r.At)
		v.oneOf(o.Is.S, []string{"any", "all", "count"}, o.Is.Pos, "aggregate")
	}
	if r.Kind == Version && r.Scheme == nil && r.FixedScheme == "" && r.Property == nil {
		v.problems.Add(r.At, "add scheme_from: with the reading that holds the model, or scheme:", "a version needs a scheme")
	}
	if r.Kind == Set && len(r.Choices) == 0 {
		v.problems.Add(r.At, "list its members under choices:", "a set needs members")
	}
}

// Askable tells whether a technician can be asked for the reading: one that
// follows from others is asked for only where the pack has a question.
func (r *Reading) Askable() bool {
	return r.Ask != "" || r.Property == nil && r.Derived == nil && r.Others == nil
}

func dotted(name string) bool {
	first, rest, ok := strings.Cut(name, ".")
	return ok && identifier(first) && identifier(rest)
}

func identifier(s string) bool {
	for i, c := range s {
		if c != '_' && (c < 'a' || c > 'z') && (i == 0 || c < '0' || c > '9') {
			return false
		}
	}
	return s != ""
}

func (v validator) cause(c *Cause) {
	v.named(c.Name, c.At, "cause")
	v.text(c.Title, c.At, "title", "the cause as said in a sentence")
	v.source(c.Source, c.At)
	v.hazards(c.Fix.Cautions)
	if len(c.Symptoms) == 0 {
		v.problems.Add(c.At, "write symptoms: {weak_signal: 0.2}", "this cause explains no symptom")
	}
	for _, s := range c.Symptoms {
		v.symptomNamed(s.Name)
		if s.Value <= 0 || s.Value > 1 {
			v.problems.Add(s.Name.Pos, "how often this cause is behind the symptom, such as 0.2", "%g is not a share between 0 and 1", s.Value)
		}
	}
	if len(c.Fix.Steps) == 0 {
		v.problems.Add(c.At, "list what to do under fix: {steps: [...]}", "this cause has no fix")
	}
	if c.Fix.Minutes <= 0 {
		v.problems.Add(c.At, "estimate them under fix: {minutes: 10}", "this fix has no minutes")
	}
	v.text(c.Success, c.At, "success", "how it is seen that the fix worked")
}

func (v validator) rule(r *Rule) {
	v.named(r.Name, r.At, "rule")
	v.oneOf(string(r.Kind), ruleKinds, r.At, "rule kind")
	v.source(r.Source, r.At)
	v.text(r.Says.S, r.At, "says", "what is wrong, in a sentence")
	v.text(r.When.S, r.At, "when", "the condition")
	for _, s := range r.For {
		v.symptomNamed(s)
	}
	switch {
	case r.Cause != nil:
		v.causeNamed(*r.Cause)
	case r.Kind == Blocker:
		v.problems.Add(r.At, "add cause: with what has to be mended", "a blocker needs a cause")
	}
	for _, b := range r.Before {
		v.ruleNamed(b)
	}
	for i := range r.Examples {
		v.example(&r.Examples[i])
		if !slices.Contains([]string{"true", "false", "unknown"}, r.Examples[i].Fires) {
			v.problems.Add(r.Examples[i].At, "write fires: true, false or unknown", "the example says %q", r.Examples[i].Fires)
		}
	}
	if len(r.Examples) == 0 {
		v.problems.Add(r.At, "add one that fires and one that does not", "this rule has no examples")
	}
}

func (v validator) ruleNamed(s Str) {
	names := make([]string, len(v.Rules))
	for i := range v.Rules {
		names[i] = v.Rules[i].Name.S
	}
	if !slices.Contains(names, s.S) {
		v.problems.Add(s.Pos, DidYouMean(s.S, names), "unknown rule %q", s.S)
	}
}

func (v validator) example(e *Example) {
	for _, r := range e.Readings {
		v.readingNamed(r.Name)
	}
	for _, n := range e.Needs {
		v.readingNamed(Str{n, e.At})
	}
}

func (v validator) evidence(e *Evidence) {
	v.named(e.Name, e.At, "evidence")
	v.source(e.Source, e.At)
	for i, b := range e.Bands {
		if last := i == len(e.Bands)-1; last != (b.When == nil) {
			v.problems.Add(b.At, "each band but the last has a condition, and the last is the word rest", "band %d of %s is out of place", i+1, e.Name.S)
		}
	}
	if len(e.Bands) < 2 {
		v.problems.Add(e.At, "write bands: [{when: ...}, rest]", "%s needs two bands or more", e.Name.S)
	}
	if len(e.Given) == 0 {
		v.problems.Add(e.At, "write given: {cause: [0.8, 0.2]}", "%s tells no causes apart", e.Name.S)
	}
	for _, g := range e.Given {
		v.causeNamed(g.Name)
		v.row(g.Value, len(e.Bands), g.Name.Pos, g.Name.S)
	}
	v.row(e.Otherwise, len(e.Bands), e.At, "otherwise")
	if e.Within != nil {
		v.within(e)
	}
	for i := range e.Examples {
		v.example(&e.Examples[i])
		if b := e.Examples[i].Band; b < 1 || b > len(e.Bands) {
			v.problems.Add(e.Examples[i].At, "", "the bands are numbered from 1 to %d", len(e.Bands))
		}
	}
}

func (v validator) row(row []float64, bands int, at Pos, name string) {
	if len(row) != bands {
		v.problems.Add(at, "give one probability for each band", "the row %s has %d numbers for %d bands", name, len(row), bands)
		return
	}
	sum := 0.0
	for _, p := range row {
		sum += p
		if p <= 0 || p >= 1 {
			v.problems.Add(at, "nothing is impossible: keep between 0.01 and 0.99", "the row %s holds %g", name, p)
		}
	}
	if math.Abs(sum-1) > 1e-6 {
		v.problems.Add(at, "a row sums to 1", "the row %s sums to %.4g", name, sum)
	}
}

func (v validator) within(e *Evidence) {
	for i := range v.Evidence {
		if o := &v.Evidence[i]; o.Name.S == e.Within.Evidence.S && o != e {
			if e.Within.Band < 1 || e.Within.Band > len(o.Bands) {
				v.problems.Add(e.Within.Evidence.Pos, "", "%s has bands 1 to %d", o.Name.S, len(o.Bands))
			}
			return
		}
	}
	v.problems.Add(e.Within.Evidence.Pos, "name another table", "unknown evidence table %q", e.Within.Evidence.S)
}
