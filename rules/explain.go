package rules

import (
	"math"
	"slices"

	"ferrule/knowledge"
)

func (p *Program) textual(i int) bool { return p.readings[i].Kind == knowledge.Text }

// Reason is one condition that made a rule true: "hub.generation = 1" because
// "hub.generation = 1 < 2 = device.least_hub_generation".
type Reason struct {
	Readings []string // in order of appearance
	Short    []string // the readings with their values
	Full     string   // the comparison
}

// Because returns the readings that made a rule true, with their values:
// "hub.generation = 1". It is empty while the rule is not true.
func (p *Program) Because(f *Facts, v *Verdict, rule int) []string {
	var out []string
	for _, r := range p.Reasons(f, v, rule) {
		for _, s := range r.Short {
			if !slices.Contains(out, s) {
				out = append(out, s)
			}
		}
	}
	return out
}

// Reasons returns the conditions that made a rule true.
func (p *Program) Reasons(f *Facts, v *Verdict, rule int) []Reason {
	if v.Rule(rule) != True {
		return nil
	}
	var out []Reason
	for _, l := range f.proof(p.rules[rule], nil) {
		out = append(out, p.reason(f, l))
	}
	return out
}

// proof returns leaves that together make a true condition true: all parts of
// an and, the first true part of an or.
func (f *Facts) proof(t *tri, leaves []*leaf) []*leaf {
	switch t.kind {
	case triLeaf:
		if !slices.Contains(leaves, t.leaf) {
			leaves = append(leaves, t.leaf)
		}
	case triAnd:
		for _, k := range t.kids {
			leaves = f.proof(k, leaves)
		}
	case triOr:
		for _, k := range t.kids {
			if f.truth(k) == True {
				return f.proof(k, leaves)
			}
		}
	}
	return leaves
}

func (p *Program) reason(f *Facts, l *leaf) Reason {
	r := Reason{Full: p.sentence(f, l)}
	for _, i := range l.reads {
		r.Readings = append(r.Readings, p.readings[i].Name.S)
		// What the model says is shown only where nothing else is.
		if o := f.facts[i].origin; o == FromProperty || o == FromDefault {
			continue
		}
		r.Short = append(r.Short, p.equation(f, i))
	}
	if len(r.Short) == 0 {
		for _, i := range l.reads {
			r.Short = append(r.Short, p.equation(f, i))
		}
	}
	return r
}

func (p *Program) equation(f *Facts, i int) string {
	return p.readings[i].Name.S + " = " + p.shownValue(f, i)
}

func (p *Program) shownValue(f *Facts, i int) string {
	v, _ := p.valueAt(f, i)
	if f.facts[i].origin == FromDerived {
		v.Low, v.High = threeFigures(v.Low), threeFigures(v.High)
	}
	return Format(p.readings[i].Reading, v)
}

// threeFigures rounds what was calculated, for which more figures would claim
// too much; whole numbers keep theirs.
func threeFigures(x float64) float64 {
	if x == 0 || math.IsInf(x, 0) || math.IsNaN(x) {
		return x
	}
	step := math.Pow(10, min(0, math.Floor(math.Log10(math.Abs(x)))-2))
	return math.Round(x/step) * step
}

// sentence writes a leaf with the values that it compared.
func (p *Program) sentence(f *Facts, l *leaf) string {
	s := l.shown
	switch l.kind {
	case leafMember:
		if l.negate {
			return quoted(s.left.text) + " is not in " + s.right.text
		}
		return quoted(s.left.text) + " is in " + s.right.text
	case leafMissing:
		what := "nothing of " + s.left.text + " is missing in " + s.right.text
		if !l.negate {
			what = s.left.text + " and not " + s.right.text + ": " + p.missingMembers(f, l)
		}
		return what
	case leafAny:
		if l.negate {
			return s.left.text + " is empty"
		}
		return s.left.text + " is not empty"
	case leafRun:
		if l.negate {
			return "not: " + l.run.shownAs(s)
		}
		return l.run.shownAs(s)
	}
	left, right := p.sideText(f, s.left, l.a), p.sideText(f, s.right, l.b)
	if right == "yes" && s.right.reading < 0 { // a yes/no
		return left
	}
	op := cmpNames[l.op]
	if l.op == cmpEQ {
		op = "="
	}
	if s.right.reading >= 0 || l.b != nil && l.b.op != opConst {
		return left + " " + op + " " + p.mirrored(f, s.right, l.b)
	}
	if l.op == cmpEQ && s.left.reading >= 0 {
		return left
	}
	return left + " " + op + " " + right
}

func (r *runner) shownAs(s shownLeaf) string { return s.left.text + " and " + quoted(s.right.text) }

// sideText is "hub.generation = 1" for a reading, its value behind an
// expression, and a constant as written.
func (p *Program) sideText(f *Facts, s side, n *num) string {
	switch {
	case s.reading >= 0:
		return p.equation(f, s.reading)
	case n != nil && n.op != opConst:
		return s.text + " = " + formatInterval(f.number(n), "")
	}
	return s.text
}

// mirrored is the same with the value first, for the right side.
func (p *Program) mirrored(f *Facts, s side, n *num) string {
	switch {
	case s.reading >= 0:
		return p.shownValue(f, s.reading) + " = " + p.readings[s.reading].Name.S
	case n != nil && n.op != opConst:
		return formatInterval(f.number(n), "") + " = " + s.text
	}
	return s.text
}

func (p *Program) missingMembers(f *Facts, l *leaf) string {
	in, _ := f.setOf(l.sa)
	_, out := f.setOf(l.sb)
	s := l.sa
	for s.a != nil {
		s = s.a
	}
	var names []string
	for bit, name := range p.readings[s.reading].names {
		if in>>bit&1 == 1 && out>>bit&1 == 1 {
			names = append(names, name)
		}
	}
	return joined(names)
}
