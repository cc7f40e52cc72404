package rules

import (
	"strings"

	"ferrule/knowledge"
)

// order sorts the computed readings so that each comes after what it is
// computed from, and refuses cycles.
func (c *compiler) order() {
	s := sorter{c: c, state: make([]uint8, len(c.program.readings))}
	for i := range c.program.readings {
		s.visit(i)
	}
	c.program.order = s.order
	for i := range c.program.readings {
		if o := c.program.readings[i].others; o != nil {
			o.closure = c.closure(o.uses)
		}
	}
}

type sorter struct {
	c     *compiler
	state []uint8 // 1 while its own sources are visited, 2 when done
	path  []use
	order []int
}

func (s *sorter) visit(i int) {
	if s.state[i] == 2 {
		return
	}
	s.state[i] = 1
	r := &s.c.program.readings[i]
	for _, u := range s.c.sources(i) {
		if s.state[u.reading] == 1 {
			s.cycle(i, u)
			continue
		}
		s.path = append(s.path, use{i, u.at})
		s.visit(u.reading)
		s.path = s.path[:len(s.path)-1]
	}
	s.state[i] = 2
	if r.computed {
		s.order = append(s.order, i)
	}
}

// cycle reports the readings that need each other, at the place that closes
// the circle.
func (s *sorter) cycle(last int, u use) {
	var names []string
	inside := false
	for _, p := range append(s.path, use{last, u.at}) {
		inside = inside || p.reading == u.reading
		if inside {
			names = append(names, s.c.program.readings[p.reading].Name.S)
		}
	}
	names = append(names, s.c.program.readings[u.reading].Name.S)
	s.c.problems.Add(u.at, "one of them must be given, not derived", "these readings follow from each other: %s", strings.Join(names, " -> "))
}

// sources are the readings that a reading is computed from.
func (c *compiler) sources(i int) []use {
	r := &c.program.readings[i]
	uses := r.uses
	if r.others != nil {
		uses = append(uses[:len(uses):len(uses)], r.others.uses...)
	}
	add := func(reading int, at knowledge.Pos) {
		if reading >= 0 {
			uses = append(uses[:len(uses):len(uses)], use{reading, at})
		}
	}
	if r.property != nil {
		add(r.property.of, r.Property.Of.Pos)
		if r.property.other >= 0 {
			add(r.property.other, r.Property.For.Pos)
		}
	}
	if r.scheme >= 0 {
		at := r.At
		if r.Scheme != nil {
			at = r.Scheme.Pos
		}
		add(r.scheme, at)
	}
	return uses
}

// closure returns the computed readings below some uses, in order. A version
// literal in an expression needs the model of its scheme, which the version
// reading beside it names as well.
func (c *compiler) closure(uses []use) []int {
	needed := make([]bool, len(c.program.readings))
	var mark func([]use)
	mark = func(uses []use) {
		for _, u := range uses {
			if !needed[u.reading] {
				needed[u.reading] = true
				mark(c.sources(u.reading))
			}
		}
	}
	mark(uses)
	var out []int
	for _, i := range c.program.order {
		if needed[i] {
			out = append(out, i)
		}
	}
	return out
}

// feeds marks the readings whose change makes others change.
func (c *compiler) feeds() {
	for i := range c.program.readings {
		r := &c.program.readings[i]
		r.feeds = r.feeds || r.computed
		if r.computed {
			for _, u := range c.sources(i) {
				c.program.readings[u.reading].feeds = true
			}
		}
	}
	for i := range c.program.readings {
		c.program.shapes = append(c.program.shapes, c.program.readings[i].shape)
	}
}
