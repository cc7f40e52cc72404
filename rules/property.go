package rules

import (
	"slices"
	"strings"

	"ferrule/knowledge"
)

// propertyTable holds what each model says of a property, read once.
type propertyTable struct {
	of, other int // readings of the models; other is -1 unless the property depends on it
	values    map[modelPair]Value
	// open are pairs for which a more exact other model could say otherwise.
	open map[modelPair]bool
}

type modelPair struct{ model, other string }

func (c *compiler) properties() {
	for i := range c.program.readings {
		r := &c.program.readings[i]
		if r.Property != nil {
			c.property(r)
		}
		if r.Default != nil {
			if v, err := c.program.ParseValue(r.Reading, *r.Default); err != nil {
				*c.problems = append(*c.problems, knowledge.ProblemsOf(err)...)
			} else {
				r.given = &v
			}
		}
		r.computed = r.Property != nil || r.Derived != nil || r.Others != nil || r.Default != nil || r.version >= 0
	}
}

func (c *compiler) property(r *reading) {
	spec := r.Property
	of, ok := c.program.index[spec.Of.S]
	if !ok || !c.holdsModels(of, &spec.Of) {
		return
	}
	t := &propertyTable{of: of, other: -1, values: map[modelPair]Value{}, open: map[modelPair]bool{}}
	others := []string{""}
	if spec.For != nil {
		if t.other, ok = c.program.index[spec.For.S]; !ok || !c.holdsModels(t.other, spec.For) {
			return
		}
		others = append(others, c.pack.ChoiceNames(c.program.readings[t.other].Reading)...)
	}
	reported := map[knowledge.Pos]bool{}
	for _, model := range c.pack.ChoiceNames(c.program.readings[of].Reading) {
		for _, other := range others {
			c.propertyValue(r, t, modelPair{model, other}, reported)
		}
	}
	r.property = t
}

func (c *compiler) propertyValue(r *reading, t *propertyTable, pair modelPair, reported map[knowledge.Pos]bool) {
	if t.other >= 0 && c.dependsOnOther(r, pair) {
		t.open[pair] = true
		return
	}
	s, ok := c.pack.Property(pair.model, r.Property.Name.S, pair.other)
	if !ok {
		return
	}
	v, err := c.program.ParseValue(r.Reading, s)
	if err != nil {
		if !reported[s.Pos] {
			reported[s.Pos] = true
			*c.problems = append(*c.problems, knowledge.ProblemsOf(err)...)
		}
		return
	}
	if r.Kind == knowledge.Set {
		// What a model lists is all there is.
		for _, name := range c.pack.ChoiceNames(r.Reading) {
			if !slices.Contains(v.Has, name) {
				v.HasNot = append(v.HasNot, name)
			}
		}
	}
	if r.version >= 0 {
		c.minimums = append(c.minimums, minimum{r, pair, s})
	}
	t.values[pair] = v
}

// dependsOnOther tells whether the models that the other one may turn out to
// be disagree about the property.
func (c *compiler) dependsOnOther(r *reading, pair modelPair) bool {
	e := c.pack.Model(pair.other)
	if e != nil && !e.Generic {
		return false
	}
	other := c.program.index[r.Property.For.S]
	first, known := c.pack.Property(pair.model, r.Property.Name.S, pair.other)
	for _, name := range c.pack.ChoiceNames(c.program.readings[other].Reading) {
		if m := c.pack.Model(name); pair.other != "" && m.Kind != pair.other || m.Generic {
			continue
		}
		s, ok := c.pack.Property(pair.model, r.Property.Name.S, name)
		if ok != known || s.S != first.S {
			return true
		}
	}
	return false
}

// minimum is a version that a model requires of another.
type minimum struct {
	reading *reading
	pair    modelPair
	value   knowledge.Scalar
}

// checkMinimums reports required versions that are none. It needs the
// schemes, which comparisons may have settled.
func (c *compiler) checkMinimums() {
	reported := map[knowledge.Pos]bool{}
	for _, m := range c.minimums {
		if m.reading.scheme < 0 || reported[m.value.Pos] || strings.HasPrefix(m.value.S, "~") {
			continue
		}
		possible := c.schemesFor(m.reading.scheme)
		if k, ok := c.program.schemes.models[m.pair.other]; ok {
			possible = []int{k}
		}
		fits := len(possible) == 0
		for _, k := range possible {
			if p := parseVersion(c.program.schemes.list[k], m.value.S); p.understood && p.ambiguous == nil {
				fits = true
			}
		}
		if !fits {
			reported[m.value.Pos] = true
			c.problems.Add(m.value.Pos, "write it as it is shown on the equipment", "%q is no version that can be ordered", m.value.S)
		}
	}
}

// generic tells whether a model is only a kind that a technician named.
func (p *Program) generic(model string) bool {
	e := p.pack.Model(model)
	return e != nil && e.Generic
}
