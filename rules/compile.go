package rules

import (
	"cmp"

	"slices"
	"strings"

	"github.com/expr-lang/expr/ast"

	"ferrule/knowledge"
)

// Program is a compiled pack. It does not change, and may be used by any
// number of goroutines, each with Facts and a Verdict of its own.
type Program struct {
	pack     *knowledge.Pack
	readings []reading
	shapes   []shape        // of the readings
	index    map[string]int // reading -> slot
	choices  []string       // interned number -> name
	order    []int          // computed readings, each after its sources

	rules    []*tri
	ruleUses [][]use
	bands    [][]*tri // without the rest
	bandUses [][]use
	bandBase [][]int // the readings below those uses
	says     [][]saying

	schemes       schemes
	literals      []literal
	literalGroups []literalGroup
	constants     []*num // that have a slot

	nums, versions, sets int // slots
	flat                 flat
}

// literalGroup are the version literals that stand against versions of one
// scheme reading, with their keys under each scheme.
type literalGroup struct {
	model      int
	first, end int // slots
	spans      map[int][]span
	parsed     map[int][]*parsed
	slow       map[int]bool
}

// Pack returns the pack that was compiled.
func (p *Program) Pack() *knowledge.Pack { return p.pack }

type compiler struct {
	pack     *knowledge.Pack
	program  *Program
	problems *knowledge.Problems
	build    *builder
	ids      map[string]int
	literals map[literalKey]int
	minimums []minimum
}

// Compile types every expression of a pack and lays it out for evaluation.
// The error is knowledge.Problems with all faults, each at the very place in
// its expression.
func Compile(pack *knowledge.Pack) (*Program, error) {
	if pack == nil {
		return nil, knowledge.Problems{{Wrong: "there is no pack"}}
	}
	c := &compiler{
		pack:     pack,
		program:  &Program{pack: pack, index: map[string]int{}},
		problems: &knowledge.Problems{},
		build:    newBuilder(),
		ids:      map[string]int{},
		literals: map[literalKey]int{},
	}
	c.vocabulary()
	c.schemes()
	c.schemeReadings()
	c.properties()
	c.expressions()
	c.examples()
	if len(*c.problems) > 0 {
		// What follows needs sound expressions; cycles alone do not.
		c.order()
		return nil, c.problems.Err()
	}
	c.checkMinimums()
	c.order()
	c.feeds()
	c.literalOrder()
	c.flatten()
	for _, uses := range c.program.bandUses {
		c.program.bandBase = append(c.program.bandBase, c.program.expand(uses))
	}
	if err := c.problems.Err(); err != nil {
		return nil, err
	}
	return c.program, nil
}

// expressions types what the pack holds, in the order readings, rules, tables.
func (c *compiler) expressions() {
	p := c.program
	for i := range p.readings {
		r := &p.readings[i]
		if r.Derived != nil {
			c.derived(r)
		}
		if r.Others != nil {
			c.others(r)
		}
	}
	for i := range c.pack.Rules {
		r := &c.pack.Rules[i]
		t, uses := c.condition(r.When)
		p.rules, p.ruleUses = append(p.rules, t), append(p.ruleUses, uses)
		p.says = append(p.says, c.saying(r.Says))
	}
	for i := range c.pack.Evidence {
		var bands []*tri
		var all []use
		for _, b := range c.pack.Evidence[i].Bands {
			if b.When != nil {
				t, uses := c.condition(*b.When)
				bands, all = append(bands, t), append(all, uses...)
			}
		}
		if len(bands) > 31 {
			c.problems.Add(c.pack.Evidence[i].At, "use fewer bands", "%s has more than 32 bands", c.pack.Evidence[i].Name.S)
		}
		p.bands, p.bandUses = append(p.bands, bands), append(p.bandUses, all)
	}
}

func (c *compiler) typer(e knowledge.Expr) *typer {
	return &typer{source: source{text: e.S, at: e.Pos, problems: c.problems}, c: c}
}

// condition types a condition; an empty one was reported by the loader.
func (c *compiler) condition(e knowledge.Expr) (*tri, []use) {
	t := c.typer(e)
	var node ast.Node
	if strings.TrimSpace(e.S) != "" {
		node = t.parse()
	}
	if node == nil {
		return t.undecided(), nil
	}
	return t.condition(node), t.uses
}

// derived types the expression of a derived reading by the reading's kind.
func (c *compiler) derived(r *reading) {
	t := c.typer(*r.Derived)
	if r.Kind == knowledge.YesNo {
		r.tri, r.uses = c.condition(*r.Derived)
		return
	}
	node := t.parse()
	if node == nil {
		return
	}
	if r.Kind != knowledge.Number && r.Kind != knowledge.Set {
		t.fault(0, "derive a number, a yes/no or a set", "a %s can't be derived", r.Kind)
		return
	}
	o := t.value(node)
	r.uses = t.uses
	switch {
	case o.kind == isBad:
	case r.Kind == knowledge.Set && o.kind == isSet:
		c.derivedSet(t, r, o)
	case r.Kind != knowledge.Number || o.kind != isNumber:
		t.fault(0, "make the expression and the reading agree", "the reading is a %s, and the expression gives %s", r.Kind, o.kind)
	case o.runs:
		t.fault(o.at, "derived readings may be ranges; use + - * / min max abs round", "%s works on exact numbers only", o.text)
	case o.unit != r.Unit && o.unit != "" && o.unit != "?" && r.Unit != "":
		t.fault(0, "calculate in the unit of the reading", "the reading is in %s, and the expression gives %s", r.Unit, o.unit)
	default:
		r.num = o.num
	}
}

func (c *compiler) derivedSet(t *typer, r *reading, o operand) {
	if t.group(o.set) != r.group {
		t.fault(o.at, "give the reading the same members", "%s and %s have no member in common", r.Name.S, o.text)
		return
	}
	r.diff = o.set
}

func (c *compiler) others(r *reading) {
	o := &others{class: classIndex(r.Others.Class), is: r.Others.Is.S}
	o.where, o.uses = c.condition(r.Others.Where)
	switch want := map[bool]knowledge.Kind{true: knowledge.Number, false: knowledge.YesNo}[o.is == "count"]; {
	case o.class < 0:
		return // reported by the loader
	case r.Kind != want:
		c.problems.Add(r.At, "make it a "+string(want), "%s is a %s, and %s over others gives a %s", r.Name.S, r.Kind, o.is, want)
		return
	}
	r.others = o
}

// literalOrder gives the version literals slots in runs, one for each scheme
// reading, so that a change of scheme copies one block.
func (c *compiler) literalOrder() {
	p := c.program
	sorted := slices.Clone(p.literals)
	slices.SortStableFunc(sorted, func(a, b literal) int { return cmp.Compare(a.scheme, b.scheme) })
	moved := map[int]int{}
	for i, l := range sorted {
		slot := p.versions + i
		moved[l.slot] = slot
		if n := len(p.literalGroups); n == 0 || p.literalGroups[n-1].model != l.scheme {
			p.literalGroups = append(p.literalGroups, literalGroup{model: l.scheme, first: slot,
				spans: map[int][]span{}, parsed: map[int][]*parsed{}, slow: map[int]bool{}})
		}
		g := &p.literalGroups[len(p.literalGroups)-1]
		g.end = slot + 1
		for k, scheme := range p.schemes.list {
			v := parseVersion(scheme, l.text)
			g.spans[k], g.parsed[k] = append(g.spans[k], v.span), append(g.parsed[k], v)
			g.slow[k] = g.slow[k] || v.ordered && !v.keyed
		}
	}
	for _, t := range c.build.leaves {
		if t.leaf.kind == leafVersion {
			t.leaf.va = move(moved, t.leaf.va)
			t.leaf.vb = move(moved, t.leaf.vb)
		}
	}
}

func move(moved map[int]int, slot int) int {
	if to, ok := moved[slot]; ok {
		return to
	}
	return slot
}

// AmbiguousVersion returns the versions that the value of a reading may mean,
// or nil when it is clear.
func (p *Program) AmbiguousVersion(f *Facts, name string) []string {
	i, ok := p.index[name]
	if !ok || p.readings[i].version < 0 || f.facts[i].state != Known {
		return nil
	}
	return f.parsed[p.readings[i].version].ambiguous
}
