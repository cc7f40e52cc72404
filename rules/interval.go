package rules

import "math"

// interval is what is known of a number: it lies between lo and hi, both
// included. Rounding of floating point is monotone, so that the bounds
// computed here hold for the computed result of every number in between.
type interval struct{ lo, hi float64 }

// anything is a number of which nothing is known.
var anything = interval{math.Inf(-1), math.Inf(1)}

func point(x float64) interval { return interval{x, x} }

func (x interval) isPoint() bool { return x.lo == x.hi }

// empty tells that the bounds are no interval: not a number, or swapped.
func (x interval) empty() bool { return !(x.lo <= x.hi) }

type numOp uint8

const (
	opReading numOp = iota
	opConst
	opAdd
	opSub
	opMul
	opDiv
	opMin
	opMax
	opNeg
	opAbs
	opRound
	opFormula // over any number of operands; see formula.go
)

// apply computes x op y; ok is false for a division by exactly zero, which no
// completion of unknown readings could mend.
func (op numOp) apply(x, y interval) (z interval, ok bool) {
	switch op {
	case opAdd:
		return tidy(interval{x.lo + y.lo, x.hi + y.hi}), true
	case opSub:
		return tidy(interval{x.lo - y.hi, x.hi - y.lo}), true
	case opMul:
		return spanOf(mul(x.lo, y.lo), mul(x.lo, y.hi), mul(x.hi, y.lo), mul(x.hi, y.hi)), true
	case opDiv:
		if y.lo <= 0 && y.hi >= 0 {
			return anything, y.lo != 0 || y.hi != 0
		}
		return spanOf(div(x.lo, y.lo), div(x.lo, y.hi), div(x.hi, y.lo), div(x.hi, y.hi)), true
	case opMin:
		return interval{min(x.lo, y.lo), min(x.hi, y.hi)}, true
	case opMax:
		return interval{max(x.lo, y.lo), max(x.hi, y.hi)}, true
	case opNeg:
		return interval{-x.hi, -x.lo}, true
	case opAbs:
		if x.lo >= 0 {
			return x, true
		}
		if x.hi <= 0 {
			return interval{-x.hi, -x.lo}, true
		}
		return interval{0, max(-x.lo, x.hi)}, true
	case opRound:
		return interval{math.Round(x.lo), math.Round(x.hi)}, true
	}
	return anything, true
}

// applyPoints is the short way for the common operators on exact values; ok
// is false where the long way is needed.
func (op numOp) applyPoints(x, y interval) (z float64, ok bool) {
	if x.lo != x.hi || y.lo != y.hi {
		return 0, false
	}
	switch op {
	case opAdd:
		z = x.lo + y.lo
	case opSub:
		z = x.lo - y.lo
	case opMul:
		z = x.lo * y.lo
	default:
		return 0, false
	}
	return z, z-z == 0 // neither overflowed nor an open end
}

// mul takes 0 times an open end as 0: the other factor is finite, whatever it is.
func mul(a, b float64) float64 {
	if a == 0 || b == 0 {
		return 0
	}
	return a * b
}

// div takes open end by open end as 0, the limit on that side; the other
// corners span the rest.
func div(a, b float64) float64 {
	if math.IsInf(a, 0) && math.IsInf(b, 0) {
		return 0
	}
	return a / b
}

func spanOf(a, b, c, d float64) interval {
	return tidy(interval{min(a, b, c, d), max(a, b, c, d)})
}

// tidy widens a bound that is not a number, or that overflowed to the wrong
// end, to the open end.
func tidy(x interval) interval {
	if x.lo != x.lo || x.lo > math.MaxFloat64 {
		x.lo = math.Inf(-1)
	}
	if x.hi != x.hi || x.hi < -math.MaxFloat64 {
		x.hi = math.Inf(1)
	}
	return x
}

type cmpOp uint8

const (
	cmpLT cmpOp = iota
	cmpLE
	cmpGT
	cmpGE
	cmpEQ
	cmpNE
)

var (
	cmpNames = [...]string{"<", "<=", ">", ">=", "==", "!="}
	// cmpNot is the complementary operator, cmpSwap the one with sides changed.
	cmpNot  = [...]cmpOp{cmpGE, cmpGT, cmpLE, cmpLT, cmpNE, cmpEQ}
	cmpSwap = [...]cmpOp{cmpGT, cmpGE, cmpLT, cmpLE, cmpEQ, cmpNE}
)

func cmpOf(operator string) (cmpOp, bool) {
	for i, name := range cmpNames {
		if name == operator {
			return cmpOp(i), true
		}
	}
	return 0, false
}

// compare is the three-valued comparison of two intervals.
func (op cmpOp) compare(x, y interval) Truth { return compareBounds(op, x.lo, x.hi, y.lo, y.hi) }

func compareBounds[T float64 | uint64](op cmpOp, xlo, xhi, ylo, yhi T) Truth {
	switch op {
	case cmpLT:
		return truthOf(xlo < yhi, xhi < ylo)
	case cmpLE:
		return truthOf(xlo <= yhi, xhi <= ylo)
	case cmpGT:
		return truthOf(xhi > ylo, xlo > yhi)
	case cmpGE:
		return truthOf(xhi >= ylo, xlo >= yhi)
	case cmpEQ:
		return truthOf(xlo <= yhi && ylo <= xhi, xlo == yhi && ylo == xhi)
	}
	return truthOf(xlo != yhi || ylo != xhi, xlo > yhi || ylo > xhi)
}
