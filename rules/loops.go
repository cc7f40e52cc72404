package rules

// The loops over leaf groups. A comparison gives two bits: what is possible,
// and what is certain. The compiler turns each if into a flag instruction, so
// that no loop here has a branch that depends on a reading.

func lessConst(c *codes, g *group[constLeaf], nums []interval) {
	out := c[g.first:][:len(g.list)]
	for i := range g.list {
		l := &g.list[i]
		x := &nums[l.slot]
		var can, must byte
		if x.lo < l.c {
			can = 1
		}
		if x.hi < l.c {
			must = 1
		}
		out[i] = can | must<<1
	}
}

func lessEqualConst(c *codes, g *group[constLeaf], nums []interval) {
	out := c[g.first:][:len(g.list)]
	for i := range g.list {
		l := &g.list[i]
		x := &nums[l.slot]
		var can, must byte
		if x.lo <= l.c {
			can = 1
		}
		if x.hi <= l.c {
			must = 1
		}
		out[i] = can | must<<1
	}
}

func greaterConst(c *codes, g *group[constLeaf], nums []interval) {
	out := c[g.first:][:len(g.list)]
	for i := range g.list {
		l := &g.list[i]
		x := &nums[l.slot]
		var can, must byte
		if x.hi > l.c {
			can = 1
		}
		if x.lo > l.c {
			must = 1
		}
		out[i] = can | must<<1
	}
}

func greaterEqualConst(c *codes, g *group[constLeaf], nums []interval) {
	out := c[g.first:][:len(g.list)]
	for i := range g.list {
		l := &g.list[i]
		x := &nums[l.slot]
		var can, must byte
		if x.hi >= l.c {
			can = 1
		}
		if x.lo >= l.c {
			must = 1
		}
		out[i] = can | must<<1
	}
}

// equalConst: with lo <= hi, lo >= c and hi <= c together mean that both are c.
func equalConst(c *codes, g *group[constLeaf], nums []interval) {
	out := c[g.first:][:len(g.list)]
	for i := range g.list {
		l := &g.list[i]
		x := &nums[l.slot]
		var below, above, notBelow, notAbove byte
		if x.lo <= l.c {
			below = 1
		}
		if x.hi >= l.c {
			above = 1
		}
		if x.lo >= l.c {
			notBelow = 1
		}
		if x.hi <= l.c {
			notAbove = 1
		}
		out[i] = below&above | notBelow&notAbove<<1
	}
}

func unequalConst(c *codes, g *group[constLeaf], nums []interval) {
	out := c[g.first:][:len(g.list)]
	for i := range g.list {
		l := &g.list[i]
		x := &nums[l.slot]
		var loOff, hiOff, above, below byte
		if x.lo != l.c {
			loOff = 1
		}
		if x.hi != l.c {
			hiOff = 1
		}
		if x.lo > l.c {
			above = 1
		}
		if x.hi < l.c {
			below = 1
		}
		out[i] = (loOff | hiOff) | (above|below)<<1
	}
}

func comparePairs(c *codes, op cmpOp, g *group[pairLeaf], nums []interval) {
	out := c[g.first:][:len(g.list)]
	for i, l := range g.list {
		out[i] = byte(op.compare(nums[l.a], nums[l.b]))
	}
}

func compareVersionPairs(c *codes, op cmpOp, g *group[pairLeaf], spans []span) {
	out := c[g.first:][:len(g.list)]
	for i, l := range g.list {
		x, y := spans[l.a], spans[l.b]
		out[i] = byte(compareBounds(op, x.lo, x.hi, y.lo, y.hi))
	}
}

func lessVersions(c *codes, g *group[pairLeaf], spans []span) {
	out := c[g.first:][:len(g.list)]
	for i := range g.list {
		l := &g.list[i]
		x, y := &spans[l.a], &spans[l.b]
		var can, must byte
		if x.lo < y.hi {
			can = 1
		}
		if x.hi < y.lo {
			must = 1
		}
		out[i] = can | must<<1
	}
}

func lessEqualVersions(c *codes, g *group[pairLeaf], spans []span) {
	out := c[g.first:][:len(g.list)]
	for i := range g.list {
		l := &g.list[i]
		x, y := &spans[l.a], &spans[l.b]
		var can, must byte
		if x.lo <= y.hi {
			can = 1
		}
		if x.hi <= y.lo {
			must = 1
		}
		out[i] = can | must<<1
	}
}

// plainMembers takes the two sides of a set; changed over, they give the
// negation.
func plainMembers(c *codes, g *group[memberLeaf], in, out []uint64) {
	codes := c[g.first:][:len(g.list)]
	for i := range g.list {
		l := &g.list[i]
		must := in[l.set] >> (l.bit & 63) & 1
		not := out[l.set] >> (l.bit & 63) & 1
		codes[i] = byte(1&^not | must<<1)
	}
}

// runRows runs one group of rows. Their operands have smaller numbers than
// the codes that they write.
func runRows(c *codes, g *rowGroup) {
	out := c[g.first:][:len(g.rows)]
	switch {
	case g.or && g.width == 2:
		for i := range g.rows {
			r := &g.rows[i]
			out[i] = c[r[0]] | c[r[1]]
		}
	case g.or && g.width == 3:
		for i := range g.rows {
			r := &g.rows[i]
			out[i] = c[r[0]] | c[r[1]] | c[r[2]]
		}
	case g.or:
		for i := range g.rows {
			r := &g.rows[i]
			out[i] = c[r[0]] | c[r[1]] | c[r[2]] | c[r[3]]
		}
	case g.width == 2:
		for i := range g.rows {
			r := &g.rows[i]
			out[i] = c[r[0]] & c[r[1]]
		}
	case g.width == 3:
		for i := range g.rows {
			r := &g.rows[i]
			out[i] = c[r[0]] & c[r[1]] & c[r[2]]
		}
	default:
		for i := range g.rows {
			r := &g.rows[i]
			out[i] = c[r[0]] & c[r[1]] & c[r[2]] & c[r[3]]
		}
	}
}
