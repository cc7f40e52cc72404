package rules

import (
	"cmp"
	"slices"
)

// row is an and or an or of two to four codes.
type row struct {
	level, width int
	or           bool
	parts        [4]part
	node         *tri // whose result it is, if not a part of it only
	code         uint16
}

// part is an operand of a row: a leaf, or another row.
type part struct {
	leaf *tri
	row  *row
}

func (p part) level() int {
	if p.row != nil {
		return p.row.level
	}
	return 0
}

func (p part) code() uint16 {
	if p.row != nil {
		return p.row.code
	}
	return p.leaf.code
}

// rows makes the rows of all ands and ors, and for each rule the one to four
// parts that it joins.
func (l *layout) rows() (rows []*row, verdicts [][]part) {
	byNode := map[*tri]*row{}
	partsOf := func(nodes ...*tri) []part {
		parts := make([]part, len(nodes))
		for i, t := range nodes {
			parts[i] = part{leaf: t, row: byNode[t]}
		}
		return parts
	}
	for _, t := range l.inner {
		or := t.kind == triOr
		parts := reduced(or, partsOf(t.kids...), &rows)
		r := newRow(or, parts)
		r.node = t
		rows = append(rows, r)
		byNode[t] = r
	}
	for _, t := range l.c.program.rules {
		parts := partsOf(t)
		if t.kind == triAnd && byNode[t] == nil {
			parts = reduced(false, partsOf(t.kids...), &rows)
		}
		verdicts = append(verdicts, parts)
	}
	return rows, verdicts
}

// reduced joins the shallowest parts until at most four are left.
func reduced(or bool, parts []part, rows *[]*row) []part {
	for len(parts) > 4 {
		slices.SortStableFunc(parts, func(a, b part) int { return a.level() - b.level() })
		r := newRow(or, parts[:4])
		*rows = append(*rows, r)
		parts = append([]part{{row: r}}, parts[4:]...)
	}
	return parts
}

func newRow(or bool, parts []part) *row {
	r := &row{or: or, width: len(parts)}
	for i, p := range parts {
		r.level = max(r.level, p.level()+1)
		r.parts[i] = p
	}
	return r
}

// placeRows numbers the rows so that each comes after its parts, and those of
// one level, operator and width make one run.
func (l *layout) placeRows(rows []*row) {
	slices.SortStableFunc(rows, func(a, b *row) int {
		return cmp.Or(a.level-b.level, boolInt(a.or)-boolInt(b.or), a.width-b.width)
	})
	f := l.flat
	var last *row
	for _, r := range rows {
		if last == nil || last.level != r.level || last.or != r.or || last.width != r.width {
			f.rows = append(f.rows, rowGroup{first: f.size, or: r.or, width: r.width})
		}
		last = r
		var operands [4]uint16
		for i := range r.width {
			operands[i] = r.parts[i].code()
		}
		r.code = uint16(f.size)
		if r.node != nil {
			r.node.code = r.code
		}
		g := &f.rows[len(f.rows)-1]
		g.rows = append(g.rows, operands)
		f.size++
	}
}

// placeVerdicts numbers the rules in their own order and packs their parts.
func (l *layout) placeVerdicts(verdicts [][]part) {
	f := l.flat
	f.first = f.size
	for _, parts := range verdicts {
		var packed uint64
		for i := range 4 {
			code := uint16(codeTrue)
			if i < len(parts) {
				code = parts[i].code()
			}
			packed |= uint64(code) << (16 * i)
		}
		f.verdicts = append(f.verdicts, packed)
		f.size++
	}
}

func boolInt(b bool) int {
	if b {
		return 1
	}
	return 0
}

// owners notes for each condition that can fail at run time which rules and
// tables it belongs to.
func (l *layout) owners() {
	c := l.c
	for i, t := range c.program.rules {
		l.own(t, c.pack.Rules[i].Name.S, map[*tri]bool{})
	}
	for i, bands := range c.program.bands {
		seen := map[*tri]bool{}
		for _, t := range bands {
			l.own(t, c.pack.Evidence[i].Name.S, seen)
		}
	}
}

func (l *layout) own(t *tri, owner string, seen map[*tri]bool) {
	if seen[t] {
		return
	}
	seen[t] = true
	for _, k := range t.kids {
		l.own(k, owner, seen)
	}
	if t.leaf == nil {
		return
	}
	if t.leaf.run != nil && !slices.Contains(t.leaf.run.owners, owner) {
		t.leaf.run.owners = append(t.leaf.run.owners, owner)
	}
	for _, n := range [...]*num{t.leaf.a, t.leaf.b} {
		if n != nil {
			l.ownSteps(n, owner)
		}
	}
}

// ownSteps notes the owner at those steps that may have no result.
func (l *layout) ownSteps(n *num, owner string) {
	if i, ok := l.steps[n]; ok && (n.op == opDiv || n.op == opFormula) && !slices.Contains(l.flat.arith[i].owners, owner) {
		l.flat.arith[i].owners = append(l.flat.arith[i].owners, owner)
	}
	n.operands(func(x *num) { l.ownSteps(x, owner) })
}
