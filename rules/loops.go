package rules

import (
	"encoding/binary"
	"math/bits"
)

// The loops over leaf groups. A comparison gives two bits: what is possible,
// and what is certain. The compiler turns each if into a flag instruction, so
// that no loop here has a branch that depends on a reading. They are kept out
// of line: inlined together, their counters would live in memory.

//go:noinline
func lessConst(c *codes, g *group[constLeaf], nums []interval) {
	list := g.list
	out := c[g.first:][:len(list)]
	for i := range list {
		l := &list[i]
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

//go:noinline
func lessEqualConst(c *codes, g *group[constLeaf], nums []interval) {
	list := g.list
	out := c[g.first:][:len(list)]
	for i := range list {
		l := &list[i]
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

//go:noinline
func greaterConst(c *codes, g *group[constLeaf], nums []interval) {
	list := g.list
	out := c[g.first:][:len(list)]
	for i := range list {
		l := &list[i]
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

//go:noinline
func greaterEqualConst(c *codes, g *group[constLeaf], nums []interval) {
	list := g.list
	out := c[g.first:][:len(list)]
	for i := range list {
		l := &list[i]
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
//
//go:noinline
func equalConst(c *codes, g *group[constLeaf], nums []interval) {
	list := g.list
	out := c[g.first:][:len(list)]
	for i := range list {
		l := &list[i]
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

//go:noinline
func unequalConst(c *codes, g *group[constLeaf], nums []interval) {
	list := g.list
	out := c[g.first:][:len(list)]
	for i := range list {
		l := &list[i]
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

//go:noinline
func comparePairs(c *codes, op cmpOp, g *group[pairLeaf], nums []interval) {
	out := c[g.first:][:len(g.list)]
	for i, l := range g.list {
		out[i] = byte(op.compare(nums[l.a], nums[l.b]))
	}
}

//go:noinline
func compareVersionPairs(c *codes, op cmpOp, g *group[pairLeaf], spans []span) {
	out := c[g.first:][:len(g.list)]
	for i, l := range g.list {
		x, y := spans[l.a], spans[l.b]
		out[i] = byte(compareBounds(op, x.lo, x.hi, y.lo, y.hi))
	}
}

//go:noinline
func lessVersions(c *codes, g *group[pairLeaf], spans []span) {
	list := g.list
	out := c[g.first:][:len(list)]
	for i := range list {
		l := &list[i]
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

//go:noinline
func lessEqualVersions(c *codes, g *group[pairLeaf], spans []span) {
	list := g.list
	out := c[g.first:][:len(list)]
	for i := range list {
		l := &list[i]
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
//
//go:noinline
func plainMembers(c *codes, g *group[memberLeaf], in, out []uint64) {
	list := g.list
	codes := c[g.first:][:len(list)]
	for i := range list {
		l := &list[i]
		must := in[l.set] >> (l.bit & 63) & 1
		not := out[l.set] >> (l.bit & 63) & 1
		codes[i] = byte(1&^not | must<<1)
	}
}

// runRows runs one group of rows. Their operands have smaller numbers than
// the codes that they write.
//
//go:noinline
func runRows(c *codes, g *rowGroup) {
	rows := g.rows
	out := c[g.first:][:len(rows)]
	switch {
	case g.or && g.width == 2:
		for i := range rows {
			r := &rows[i]
			out[i] = c[r[0]] | c[r[1]]
		}
	case g.or && g.width == 3:
		for i := range rows {
			r := &rows[i]
			out[i] = c[r[0]] | c[r[1]] | c[r[2]]
		}
	case g.or:
		for i := range rows {
			r := &rows[i]
			out[i] = c[r[0]] | c[r[1]] | c[r[2]] | c[r[3]]
		}
	case g.width == 2:
		for i := range rows {
			r := &rows[i]
			out[i] = c[r[0]] & c[r[1]]
		}
	case g.width == 3:
		for i := range rows {
			r := &rows[i]
			out[i] = c[r[0]] & c[r[1]] & c[r[2]]
		}
	default:
		for i := range rows {
			r := &rows[i]
			out[i] = c[r[0]] & c[r[1]] & c[r[2]] & c[r[3]]
		}
	}
}

// judgeRules joins the parts of every rule.
//
//go:noinline
func judgeRules(c *codes, first int, verdicts []uint64) {
	out := c[first:][:len(verdicts)]
	for i, x := range verdicts {
		out[i] = c[uint16(x)] & c[uint16(x>>16)] & c[uint16(x>>32)] & c[uint16(x>>48)]
	}
}

// lowBits has the lowest bit of each of eight codes.
const lowBits = 0x0101010101010101

// places holds, for each byte, which of its bits are set, lowest first.
var places = func() (t [256][8]uint8) {
	for b := range t {
		n := 0
		for k := range uint8(8) {
			if b>>k&1 == 1 {
				t[b][n] = k
				n++
			}
		}
	}
	return t
}()

// collect lists the rules that are true and those that are undecided, eight
// codes at a time. All eight places of a list are written and the end moves by
// as many as belong there, so that nothing depends on which they were. Only
// that no rule of the eight is undecided is worth a look: it is the rule where
// everything is known.
//
//go:noinline
func collect(c *codes, first, n int, fired, undecided []int) (nFired, nOpen int) {
	for i := 0; i < n; i += 8 {
		w := binary.LittleEndian.Uint64(c[first+i:])
		if left := n - i; left < 8 {
			w &= 1<<(8*left) - 1
		}
		nFired += pick((*[8]int)(fired[nFired:]), i, w>>1&lowBits)
		if u := (w ^ w>>1) & lowBits; u != 0 {
			nOpen += pick((*[8]int)(undecided[nOpen:]), i, u)
		}
	}
	return nFired, nOpen
}

// pick writes the numbers of those of eight rules whose bit is set. The
// multiplication gathers the eight low bits in the top byte.
func pick(out *[8]int, i int, low uint64) int {
	b := uint8(low * 0x0102040810204080 >> 56)
	at := &places[b]
	out[0], out[1], out[2], out[3] = i+int(at[0]), i+int(at[1]), i+int(at[2]), i+int(at[3])
	out[4], out[5], out[6], out[7] = i+int(at[4]), i+int(at[5]), i+int(at[6]), i+int(at[7])
	return bits.OnesCount8(b)
}
