package loop

import (
	"cmp"
	"math"
	"slices"

	"ferrule/knowledge/units"
)

// Reading is what a meter shows on the loop, disconnected from the panel.
type Reading struct {
	Ohms        float64
	Uncertainty float64 // ohm, plus and minus
	Over        bool    // the meter shows overload, so that the numbers mean nothing
}

func (r Reading) check() error {
	if r.Over {
		return nil
	}
	if err := units.Within("resistance read", r.Ohms, "ohm", 0, mostRead); err != nil {
		return err
	}
	return units.Within("uncertainty of the meter", r.Uncertainty, "ohm", 0, mostRead)
}

const mostRead = 1e12 // ohm

// Verdict says how a reading lies to the states.
type Verdict uint8

// The verdicts.
const (
	One     Verdict = iota + 1 // one state alone can give the reading
	Several                    // more than one can
	Between                    // none can; it lies between two
)

func (v Verdict) String() string {
	switch v {
	case One:
		return "one state"
	case Several:
		return "several states"
	case Between:
		return "between states"
	}
	return "no verdict"
}

// Result is a reading judged twice: by what the loop can measure in each state
// (Verdict to Upper), and by what the panel makes of it (Panel to Next).
type Result struct {
	Verdict      Verdict
	State        State // with One, else 0
	Possible     Set   // the states that can give the reading; none with Between
	Lower, Upper Set   // with Between: the nearest state below and above

	Panel Set // the level of the panel in which the reading lies
	// Margin is how far the reading is from the nearest threshold of the
	// panel, in ohm, less the uncertainty: below 0 the meter can't tell on
	// which side it is. MarginPercent is the same in % of the reading, or of
	// the short limit where the reading is less. Next is the level beyond that
	// threshold. A reading of overload has no margin: they are 0.
	Margin, MarginPercent float64
	Next                  Set
}

// band is where readings of a state lie; the high end of an open one is
// infinite.
type band struct {
	state     State
	low, high float64
}

// Classifier judges readings of one loop. It is made by NewClassifier, is
// read-only, and safe for use by several goroutines.
type Classifier struct {
	bands      [states]band
	n          int
	levels     levels
	shortLimit float64
}

// NewClassifier works out the states of the loop and the thresholds. Bad
// components are refused as by Loop.States; limits outside 0.001 to 1e9 ohm or
// in the wrong order, and thresholds that don't rise, give a *units.OutOfRange.
//
// Source: middles between the nominal resistances as thresholds are common
// practice, no source.
func NewClassifier(l Loop, s Settings) (*Classifier, error) {
	if err := l.check(); err != nil {
		return nil, err
	}
	if err := s.check(); err != nil {
		return nil, err
	}
	t := l.table()
	c := &Classifier{n: t.n, shortLimit: s.ShortLimit}
	for i, state := range t.list[:t.n] {
		b := band{state.State, state.Resistance.Low, state.Resistance.High}
		switch {
		case state.Resistance.Open:
			b.low, b.high = s.OpenLimit, math.Inf(1)
		case state.State == Short:
			b.high = max(b.high, s.ShortLimit)
		}
		c.bands[i] = b
	}
	if c.levels = middles(&t, s); len(s.Steps) > 0 {
		c.levels = given(s.Steps)
	}
	return c, nil
}

// Levels returns what the panel makes of the resistances, from 0 upwards.
func (c *Classifier) Levels() []Level { return slices.Clone(c.levels.list[:c.levels.n]) }

// Classify judges a reading; it allocates nothing. A resistance or uncertainty
// that is negative, above 1e12 ohm or no number gives a *units.OutOfRange; a
// meter's overload is said by Reading.Over.
//
// Source: own definition; worst-case intervals by Loop.States.
func (c *Classifier) Classify(r Reading) (Result, error) {
	if err := r.check(); err != nil {
		return Result{}, err
	}
	low, high := r.Ohms-r.Uncertainty, r.Ohms+r.Uncertainty
	if r.Over {
		low, high = math.Inf(1), math.Inf(1)
	}
	var out Result
	var below, above float64 = math.Inf(-1), math.Inf(1)
	for _, b := range c.bands[:c.n] {
		set := setOf(b.state)
		switch {
		case b.high < low:
			out.Lower, below = nearer(out.Lower, below, set, b.high, b.high > below)
		case b.low > high:
			out.Upper, above = nearer(out.Upper, above, set, b.low, b.low < above)
		default:
			out.Possible |= set
			out.State = b.state
		}
	}
	switch out.Possible {
	case 0:
		out.Verdict = Between
	case setOf(out.State):
		out.Verdict, out.Lower, out.Upper = One, 0, 0
	default:
		out.Verdict, out.State, out.Lower, out.Upper = Several, 0, 0, 0
	}
	c.panel(r, &out)
	return out, nil
}

// nearer keeps the state with the nearest end, or all that share it.
func nearer(have Set, end float64, set Set, candidate float64, closer bool) (Set, float64) {
	switch {
	case closer:
		return set, candidate
	case candidate == end:
		return have | set, end
	}
	return have, end
}

func (c *Classifier) panel(r Reading, out *Result) {
	l := &c.levels
	if r.Over {
		out.Panel = l.list[l.n-1].States
		return
	}
	i := l.at(r.Ohms)
	out.Panel = l.list[i].States
	margin := math.Inf(1)
	if i > 0 {
		margin, out.Next = r.Ohms-l.list[i].From, l.list[i-1].States
	}
	if i+1 < l.n {
		if up := l.list[i+1].From - r.Ohms; up < margin {
			margin, out.Next = up, l.list[i+1].States
		}
	}
	out.Margin = margin - r.Uncertainty
	out.MarginPercent = 100 * out.Margin / max(r.Ohms, c.shortLimit)
}

// Gap is the room between the readings of two states, A the lower one: the
// least of one less the most of the other, in ohm. Where it is 0 or less, Apart
// is false: the two can't be told apart with these resistors and tolerances. A
// meter needs more than twice its uncertainty.
type Gap struct {
	A, B  State
	Ohms  float64
	Apart bool
}

// Gaps returns the gaps of all pairs of states, the smallest first. Short and
// open count up and down to their limits; two states that are both open have a
// gap of 0.
//
// Source: own definition; worst-case intervals by Loop.States.
func (c *Classifier) Gaps() []Gap {
	var gaps []Gap
	for i, a := range c.bands[:c.n] {
		for _, b := range c.bands[i+1 : c.n] {
			gaps = append(gaps, gap(a, b))
		}
	}
	slices.SortStableFunc(gaps, func(a, b Gap) int { return cmp.Compare(a.Ohms, b.Ohms) })
	return gaps
}

func gap(a, b band) Gap {
	if a.low > b.low || a.low == b.low && a.high > b.high {
		a, b = b, a
	}
	g := Gap{A: a.state, B: b.state}
	if most := min(a.high, b.high); !math.IsInf(most, 1) {
		g.Ohms = b.low - most
	}
	g.Apart = g.Ohms > 0
	return g
}
