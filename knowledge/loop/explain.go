package loop

import (
	"cmp"
	"math"
	"slices"
)

// Cause is a kind of explanation; its String is a short title.
type Cause uint8

// The causes, in the order in which equally good ones are listed.
const (
	SecondInSeries   Cause = iota + 1 // a second end-of-line resistor
	SecondInParallel                  // the same across the end or the terminals
	Swapped                           // end-of-line and alarm resistor
	OtherEndOfLine                    // of another value of the E24 series
	OtherAlarm
	OtherFault
	AddedSeries // a joint or contact with resistance
	Leakage     // water or damaged insulation
)

var causeNames = [...]string{
	"no cause", "second end-of-line resistor in series", "second end-of-line resistor in parallel",
	"end-of-line and alarm resistor swapped", "end-of-line resistor of another value", "alarm resistor of another value",
	"fault resistor of another value", "added resistance in series", "leakage across the loop",
}

func (c Cause) String() string {
	if int(c) >= len(causeNames) {
		c = 0
	}
	return causeNames[c]
}

// Explanation is one thing that could be behind a reading.
type Explanation struct {
	Cause Cause
	State State // that the loop is in otherwise
	// Ohms is what the cause consists of: the resistor that would be fitted,
	// the resistance added in series, or the leakage resistance across the
	// terminals. 0 with Swapped.
	Ohms float64
	// Would is what the loop then measures. For Leakage and AddedSeries, whose
	// Ohms are worked out from the reading, it is the reading and its
	// uncertainty.
	Would Interval
	Fits  bool // the reading lies within Would
	// Misfit ranks, the best first; it is no probability. See Explain.
	Misfit float64
}

const nearMiss = 0.05 // share of the reading by which an explanation may miss

// Explain lists what could explain a reading that no state gives, the best fit
// first. It supposes the contacts in each of the loop's states in turn, and one
// thing wrong; parts that come in addition have the tolerance of the
// end-of-line resistor, parts of another value that of the part they replace.
// Leakage across a cut and a short with resistance are on the list too. A
// reading of overload has no explanation but a cut: the list is empty.
//
// Misfit is, for a definite part, how far the reading is from the nominal
// value, 0 to 1 at the end of the interval; and for leakage and added
// resistance, which fit any reading, 1 and the share by which they change the
// loop (0 to 1). Where the part doesn't fit but misses by no more than 5 % of
// the reading, it is 2 and that share. Any state but normal is one more
// supposition, and adds 1.
//
// Bad parts are refused as by Loop.States and readings as by Classify.
//
// Source: series and parallel resistance; IEC 60063, E24 table, for other
// values; that these are the usual causes is common practice, no source; the
// order is our own.
func Explain(l Loop, r Reading) ([]Explanation, error) {
	if err := l.check(); err != nil {
		return nil, err
	}
	if err := r.check(); err != nil {
		return nil, err
	}
	if r.Over {
		return nil, nil
	}
	x := explainer{loop: l, reading: r}
	t := l.table()
	for _, state := range t.list[1 : t.n-1] { // all but short and cut
		if state.Resistance.Open {
			continue
		}
		x.second(state)
		x.swapped(state)
		x.otherValues(state)
		x.free(state)
	}
	x.ends(&t)
	slices.SortStableFunc(x.list, func(a, b Explanation) int {
		if c := cmp.Compare(a.Misfit, b.Misfit); c != 0 {
			return c
		}
		return int(a.Cause) - int(b.Cause)
	})
	return x.list, nil
}

type explainer struct {
	loop    Loop
	reading Reading
	list    []Explanation
}

// add puts a definite part on the list if it fits or nearly does.
func (x *explainer) add(cause Cause, state State, ohms float64, would Interval) {
	e := Explanation{Cause: cause, State: state, Ohms: ohms, Would: would}
	if x.judge(&e) {
		x.list = append(x.list, e)
	}
}

func (x *explainer) judge(e *Explanation) bool {
	off, room := x.reading.Ohms-e.Would.Nominal, e.Would.High-e.Would.Nominal
	if off < 0 {
		off, room = -off, e.Would.Nominal-e.Would.Low
	}
	room += x.reading.Uncertainty
	switch {
	case off == 0:
		e.Fits = true
	case off <= room:
		e.Fits, e.Misfit = true, off/room
	case off-room <= nearMiss*x.reading.Ohms:
		e.Misfit = 2 + (off-room)/x.reading.Ohms
	default:
		return false
	}
	e.Misfit += supposed(e.State)
	return true
}

func supposed(s State) float64 {
	if s == Normal {
		return 0
	}
	return 1
}

// second tries an end-of-line resistor more: in the cable, or across the end or
// the terminals, whichever is nearer the reading.
func (x *explainer) second(s StateResistance) {
	part := x.loop.EndOfLine
	if part.Ohms == 0 {
		return
	}
	x.add(SecondInSeries, s.State, part.Ohms, s.Resistance.add(part.interval()))
	double := x.loop
	double.EndOfLine.Ohms /= 2
	atEnd := Explanation{Cause: SecondInParallel, State: s.State, Ohms: part.Ohms, Would: double.in(s.State)}
	atPanel := atEnd
	atPanel.Would = s.Resistance.parallel(part.interval())
	end, panel := x.judge(&atEnd), x.judge(&atPanel)
	switch {
	case end && (!panel || atEnd.Misfit <= atPanel.Misfit):
		x.list = append(x.list, atEnd)
	case panel:
		x.list = append(x.list, atPanel)
	}
}

func (x *explainer) swapped(s StateResistance) {
	l := x.loop
	if l.EndOfLine.Ohms == 0 || l.Alarm.Contact == 0 || l.Alarm.Resistor.Ohms == 0 {
		return
	}
	l.EndOfLine, l.Alarm.Resistor = l.Alarm.Resistor, l.EndOfLine
	if would := l.in(s.State); would.Nominal != s.Resistance.Nominal {
		x.add(Swapped, s.State, 0, would)
	}
}

func (x *explainer) otherValues(s StateResistance) {
	for _, p := range [...]struct {
		cause Cause
		part  func(*Loop) *Resistor
		there bool
	}{
		{OtherEndOfLine, func(l *Loop) *Resistor { return &l.EndOfLine }, true},
		{OtherAlarm, func(l *Loop) *Resistor { return &l.Alarm.Resistor }, x.loop.Alarm.Contact != 0},
		{OtherFault, func(l *Loop) *Resistor { return &l.Fault.Resistor }, x.loop.Fault.Contact != 0},
	} {
		if p.there && p.part(&x.loop).Ohms > 0 {
			x.otherValue(p.cause, p.part, s.State)
		}
	}
}

// The values that a fitted resistor is looked for in, ohm. Common practice, no
// source: panels take about 1 k to 22 k.
const leastValue, mostValue = 100.0, 100e3

// otherValue looks for the value of one part that gives the reading, by halving
// the decades, and tries its neighbour in the series.
func (x *explainer) otherValue(cause Cause, part func(*Loop) *Resistor, state State) {
	l := x.loop
	fitted := part(&l).Ohms
	with := func(ohms float64) Interval {
		part(&l).Ohms = ohms
		return l.in(state)
	}
	least, most := leastValue, mostValue
	if low, high := with(least), with(most); low.Open || low.Nominal == high.Nominal ||
		x.reading.Ohms < low.Nominal || x.reading.Ohms > high.Nominal {
		return
	}
	for range 50 { // 3 decades to the last bit
		if middle := math.Sqrt(least * most); with(middle).Nominal < x.reading.Ohms {
			least = middle
		} else {
			most = middle
		}
	}
	near, err := E24.Nearest(most)
	if err != nil || near.Nearest == fitted {
		return
	}
	x.add(cause, state, near.Nearest, with(near.Nearest))
}

// free is what fits any reading above or below a state's interval.
func (x *explainer) free(s StateResistance) {
	r := s.Resistance
	switch {
	case x.reading.Ohms-x.reading.Uncertainty > r.High:
		x.addFree(AddedSeries, s.State, x.reading.Ohms-r.Nominal, r.Nominal)
	case x.reading.Ohms+x.reading.Uncertainty < r.Low:
		x.addFree(Leakage, s.State, beside(x.reading.Ohms, r.Nominal), r.Nominal)
	}
}

// addFree has the resistance that was expected, to see how much the cause
// changes it.
func (x *explainer) addFree(cause Cause, state State, ohms, expected float64) {
	read := x.reading
	change := math.Abs(read.Ohms-expected) / max(read.Ohms, expected)
	x.list = append(x.list, Explanation{
		Cause: cause, State: state, Ohms: ohms, Fits: true, Misfit: 1 + change + supposed(state),
		Would: Interval{Low: max(0, read.Ohms-read.Uncertainty), Nominal: read.Ohms, High: read.Ohms + read.Uncertainty},
	})
}

// beside is the resistance which in parallel with the greater whole gives the
// total.
func beside(total, whole float64) float64 { return total * whole / (whole - total) }

// ends are the readings beyond all states: above them an open loop that leaks,
// below them a short that isn't a good one.
func (x *explainer) ends(t *table) {
	lowest, highest := math.Inf(1), 0.0
	open := setOf(Cut)
	for _, s := range t.list[1 : t.n-1] {
		if s.Resistance.Open {
			open |= setOf(s.State)
			continue
		}
		lowest, highest = min(lowest, s.Resistance.Low), max(highest, s.Resistance.High)
	}
	low, high := x.reading.Ohms-x.reading.Uncertainty, x.reading.Ohms+x.reading.Uncertainty
	if high < lowest && low > t.list[0].Resistance.High {
		x.addFree(AddedSeries, Short, x.reading.Ohms, 0)
	}
	if low <= highest {
		return
	}
	for s := Normal; s <= Cut; s++ {
		if open.Has(s) {
			x.addFree(Leakage, s, x.reading.Ohms, math.MaxFloat64)
		}
	}
}

// in is the resistance of the loop with the contacts of a state.
func (l *Loop) in(s State) Interval {
	return l.interval(s == Alarm || s == AlarmAndFault, s == Fault || s == AlarmAndFault)
}
