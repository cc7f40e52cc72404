package cable

import (
	"cmp"
	"ferrule/knowledge/units"
)

// inputOhms is the least input resistance of a receiver of one unit load.
// Source: TIA-485-A.
const inputOhms = 12000

// Pair is a data pair that is an RS-485 segment, as it is installed.
type Pair struct {
	Length      float64 // m, from end to end; 0 to 100000
	Rate        float64 // bit/s; more than 0 where it is checked, to 1e9
	UnitLoads   float64 // of all receivers together; 0 to 10000
	Terminators int     // resistors across the pair; 0 to 100
	Low, High   float64 // lowest and highest voltage of a line against the local 0 V, V; -10000 to 10000
	Bias        float64 // between the lines while nobody sends, V; not less than 0, to 100
}

// PairLimits is what a data pair is held against. A limit of 0 isn't checked:
// take it out for what isn't known of the pair.
type PairLimits struct {
	Length      float64 // m
	RateLength  float64 // bit/s times m
	UnitLoads   float64
	Terminators int
	Low, High   float64 // common mode, V
	Bias        float64 // V
}

// TIA485 returns the usual limits. From TIA-485-A: 32 unit loads, a common mode
// of -7 to +12 V, a receiver threshold of 0.2 V, which an idle pair must exceed.
// From application guidance and not limits of the standard: 1200 m, and two
// terminators, one at each end. From memory: rate times length at most 1e8, a
// rule of thumb.
func TIA485() PairLimits {
	return PairLimits{Length: 1200, RateLength: 1e8, UnitLoads: 32, Terminators: 2, Low: -7, High: 12, Bias: 0.2}
}

// Rule is a rule for a data pair.
type Rule uint8

// The rules.
const (
	PairLength       Rule = iota + 1 // m
	PairRateLength                   // bit/s times m
	PairUnitLoads                    // a number
	PairTooFewEnds                   // terminators: signals are reflected
	PairTooManyEnds                  // terminators: the drivers are overloaded
	PairCommonLow                    // V
	PairCommonHigh                   // V
	PairBiasTooSmall                 // V: a pair at rest has no certain state
)

// Finding is a rule that a pair breaks, with what it has and what is allowed,
// both in the unit of the rule.
type Finding struct {
	Rule         Rule
	Value, Limit float64
}

// Check returns the rules that the pair breaks, in their order. It is for a bus
// that is RS-485; other buses have rules of their own. Sources: TIA485. It fails
// with a *units.OutOfRange.
func (p Pair) Check(limits PairLimits) ([]Finding, error) {
	if err := p.problem(); err != nil {
		return nil, err
	}
	if err := limits.problem(); err != nil {
		return nil, err
	}
	if err := units.Above("rate of the bus", p.Rate, "bit/s", 0); err != nil && limits.RateLength > 0 {
		return nil, err
	}
	var found []Finding
	for _, c := range [...]struct {
		broken bool
		Finding
	}{
		{limits.Length > 0 && p.Length > limits.Length, Finding{PairLength, p.Length, limits.Length}},
		{limits.RateLength > 0 && p.Rate*p.Length > limits.RateLength, Finding{PairRateLength, p.Rate * p.Length, limits.RateLength}},
		{limits.UnitLoads > 0 && p.UnitLoads > limits.UnitLoads, Finding{PairUnitLoads, p.UnitLoads, limits.UnitLoads}},
		{p.Terminators < limits.Terminators, Finding{PairTooFewEnds, float64(p.Terminators), float64(limits.Terminators)}},
		{limits.Terminators > 0 && p.Terminators > limits.Terminators, Finding{PairTooManyEnds, float64(p.Terminators), float64(limits.Terminators)}},
		{limits.Low != 0 && p.Low < limits.Low, Finding{PairCommonLow, p.Low, limits.Low}},
		{limits.High != 0 && p.High > limits.High, Finding{PairCommonHigh, p.High, limits.High}},
		{p.Bias < limits.Bias, Finding{PairBiasTooSmall, p.Bias, limits.Bias}},
	} {
		if c.broken {
			found = append(found, c.Finding)
		}
	}
	return found, nil
}

func (p Pair) problem() error {
	return cmp.Or(
		units.Within("length of the cable", p.Length, "m", 0, mostLength),
		units.Within("rate of the bus", p.Rate, "bit/s", 0, 1e9),
		unitLoads(p.UnitLoads),
		terminators(p.Terminators),
		units.Within("lowest voltage of the line", p.Low, "V", -mostVolts, mostVolts),
		units.Within("highest voltage of the line", p.High, "V", p.Low, mostVolts),
		units.Within("voltage between the lines at rest", p.Bias, "V", 0, 100),
	)
}

func (l PairLimits) problem() error {
	return cmp.Or(
		units.Within("greatest length of the cable", l.Length, "m", 0, mostLength),
		units.Within("greatest rate times length", l.RateLength, "bit/s m", 0, 1e14),
		units.Within("greatest number of unit loads", l.UnitLoads, "", 0, 1e4),
		terminators(l.Terminators),
		units.Within("lowest common-mode voltage", l.Low, "V", -mostVolts, mostVolts),
		units.Within("highest common-mode voltage", l.High, "V", -mostVolts, mostVolts),
		units.Within("least voltage between the lines at rest", l.Bias, "V", 0, 100),
	)
}

func unitLoads(n float64) error { return units.Within("number of unit loads", n, "", 0, 1e4) }

func terminators(n int) error {
	return units.Within("number of terminators", float64(n), "", 0, 100)
}
