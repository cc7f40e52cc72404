package rules

import (
	"slices"
	"strings"
	"unicode/utf8"

	"ferrule/knowledge"
)

// saying is a piece of a rule's sentence: text, then a reading.
type saying struct {
	text    string
	reading int // -1 for none
}

// saying splits a sentence at its {reading} placeholders.
func (c *compiler) saying(s knowledge.Str) []saying {
	var out []saying
	rest, offset := s.S, 0
	src := source{text: s.S, at: s.Pos, problems: c.problems}
	for {
		before, after, found := strings.Cut(rest, "{")
		if !found {
			return append(out, saying{rest, -1})
		}
		name, tail, closed := strings.Cut(after, "}")
		offset += utf8.RuneCountInString(before)
		if !closed {
			src.fault(offset, "write {radio.signal}", "this brace is not closed")
			return out
		}
		i, ok := c.program.index[name]
		if !ok {
			src.fault(offset+1, knowledge.DidYouMean(name, c.pack.ReadingNames()), "unknown reading %q in the sentence", name)
			i = -1
		}
		out = append(out, saying{before, i})
		offset += utf8.RuneCountInString(name) + 2
		rest = tail
	}
}

// Says returns what a rule says, with the values of the readings it names. A
// reading that is not known stands by its title.
func (p *Program) Says(f *Facts, rule int) string {
	var b strings.Builder
	for _, s := range p.says[rule] {
		b.WriteString(s.text)
		if s.reading < 0 {
			continue
		}
		if v, _ := p.valueAt(f, s.reading); v.State == Known {
			b.WriteString(p.shownValue(f, s.reading))
		} else {
			b.WriteString(p.readings[s.reading].Title)
		}
	}
	return b.String()
}

// Origin explains where a value came from.
type Origin struct {
	Kind       OriginKind
	Model      string        // FromProperty, FromConflict: the model that says so
	Property   string        // its name
	Expression string        // FromDerived, FromOthers
	At         knowledge.Pos // where the pack says it
	Given      Value         // FromConflict: what was given
	Other      Value         // FromConflict: what the model says
}

// ValueOf returns what is known of a reading after binding, and why.
func (p *Program) ValueOf(f *Facts, name string) (Value, Origin) {
	i, ok := p.index[name]
	if !ok {
		return Value{}, Origin{}
	}
	return p.valueAt(f, i)
}

func (p *Program) valueAt(f *Facts, i int) (Value, Origin) {
	if f.dirty {
		f.settle(p.order)
	}
	r, fact := &p.readings[i], &f.facts[i]
	origin := Origin{Kind: fact.origin, At: r.At}
	switch fact.origin {
	case FromNowhere:
		v := f.given[i]
		if v.State == Known { // left out: not sure, or no value of the pack
			v.State = Unknown
		}
		return v, origin
	case FromGiven:
		if r.set >= 0 {
			return p.setValue(f, i), origin // with what the model added
		}
		return f.given[i], origin
	case FromProperty, FromConflict:
		origin.Model, origin.Property, origin.At = f.text(r.property.of), r.Property.Name.S, r.Property.Name.Pos
		if fact.origin == FromConflict {
			origin.Given, origin.Other = f.given[i], f.property[i]
			v := f.given[i]
			v.State = Conflicting
			return v, origin
		}
		return f.property[i], origin
	case FromDefault:
		origin.At = r.Default.Pos
		return *r.given, origin
	case FromDerived:
		origin.Expression, origin.At = r.Derived.S, r.Derived.Pos
	case FromOthers:
		origin.Expression, origin.At = r.Others.Is.S+" of the other "+string(r.Others.Class)+"s: "+r.Others.Where.S, r.Others.Where.Pos
	}
	if r.set >= 0 {
		return p.setValue(f, i), origin
	}
	return Value{Low: f.nums[i].lo, High: f.nums[i].hi, Certainty: fact.certainty, State: Known}, origin
}

func (p *Program) setValue(f *Facts, i int) Value {
	r := &p.readings[i]
	v := Value{Certainty: f.facts[i].certainty, State: Known}
	for _, name := range p.pack.ChoiceNames(r.Reading) {
		bit := r.members[name]
		switch {
		case f.has[r.set]>>bit&1 == 1:
			v.Has = append(v.Has, name)
		case f.hasNot[r.set]>>bit&1 == 1:
			v.HasNot = append(v.HasNot, name)
		}
	}
	return v
}

// RuleReadings returns the readings that a rule rests on, derived ones
// expanded. What the model of the equipment says is context, not observation,
// and is left out unless it can be asked for.
func (p *Program) RuleReadings(rule int) []string { return p.base(p.ruleUses[rule]) }

// EvidenceReadings returns the same for the bands of a table.
func (p *Program) EvidenceReadings(evidence int) []string { return p.base(p.bandUses[evidence]) }

// Uses returns every reading on which rules, tables or other readings rest,
// derived ones and properties included.
func (p *Program) Uses() map[string]bool {
	out := map[string]bool{}
	all := slices.Concat(p.ruleUses...)
	all = append(all, slices.Concat(p.bandUses...)...)
	c := compiler{program: p}
	for i := range p.readings {
		all = append(all, c.sources(i)...)
	}
	for _, u := range all {
		out[p.readings[u.reading].Name.S] = true
	}
	return out
}

func (p *Program) base(uses []use) []string {
	var names []string
	for _, i := range p.expand(uses) {
		if r := &p.readings[i]; r.property == nil || r.Ask != "" {
			names = append(names, r.Name.S)
		}
	}
	return names
}

// expand returns the readings below some uses: for derived ones what they follow
// from, and themselves too where somebody may give them.
func (p *Program) expand(uses []use) []int {
	var out []int
	seen := make([]bool, len(p.readings))
	var walk func([]use)
	walk = func(uses []use) {
		for _, u := range uses {
			r := &p.readings[u.reading]
			if seen[u.reading] {
				continue
			}
			seen[u.reading] = true
			if !r.derived() || r.Ask != "" {
				out = append(out, u.reading) // it can be given, too
			}
			if r.derived() {
				walk(r.uses)
			}
		}
	}
	walk(uses)
	return out
}

// Certainty returns the least certainty among the known base readings that a
// table rests on; 1 if there are none.
func (p *Program) Certainty(f *Facts, evidence int) float64 {
	least := 1.0
	for _, i := range p.bandBase[evidence] {
		if f.facts[i].state == Known {
			least = min(least, f.facts[i].certainty)
		}
	}
	return least
}
