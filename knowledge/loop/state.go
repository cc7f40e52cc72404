package loop

import (
	"math"
	"slices"
	"strings"

	"ferrule/knowledge/units"
)

// State is what a loop can be in. A tamper contact that opens is a cut.
type State uint8

// The states.
const (
	Short State = iota + 1 // the cores touch, anywhere on the cable
	Normal
	Alarm
	Fault // fault or masking
	AlarmAndFault
	Cut
)

const states = int(Cut)

var stateNames = [states + 1]string{"no state", "short", "normal", "alarm", "fault", "alarm and fault", "cut"}

func (s State) String() string {
	if int(s) > states {
		s = 0
	}
	return stateNames[s]
}

// Set is a set of states.
type Set uint8

func setOf(s State) Set { return 1 << s }

// Has reports whether a state is in the set.
func (s Set) Has(state State) bool { return state >= Short && state <= Cut && s&setOf(state) != 0 }

func (s Set) String() string {
	var names []string
	for state := Short; state <= Cut; state++ {
		if s.Has(state) {
			names = append(names, state.String())
		}
	}
	if names == nil {
		return stateNames[0]
	}
	return strings.Join(names, " or ")
}

// Interval is what a resistance can be, in ohm. Open says that no current
// flows: the numbers are then 0 and mean nothing.
type Interval struct {
	Low, Nominal, High float64
	Open               bool
}

func (i Interval) add(o Interval) Interval {
	return Interval{Low: i.Low + o.Low, Nominal: i.Nominal + o.Nominal, High: i.High + o.High}
}

func (i Interval) parallel(o Interval) Interval {
	return Interval{Low: parallel(i.Low, o.Low), Nominal: parallel(i.Nominal, o.Nominal), High: parallel(i.High, o.High)}
}

func (r Resistor) interval() Interval {
	return Interval{Low: low.of(r), Nominal: r.Ohms, High: high.of(r)}
}

// StateResistance is the resistance of a loop in one state.
type StateResistance struct {
	State      State
	Resistance Interval
}

// States returns the resistance, in ohm at the terminals, of each state that
// the loop knows, in the order of the constants: short and cut always, alarm
// and fault where there is a contact for them. Nominal has the resistors and
// the cable as given and closed contacts without resistance; a short is at the
// terminals nominally, and at the far end at most.
//
// A resistor outside 0 to 1e9 ohm, a tolerance outside 0 to 50 %, a cable or
// closed contact outside 0 to 1e6 ohm, and an unknown contact or place give a
// *units.OutOfRange.
//
// Source: series and parallel resistance; the ends of the interval are those of
// the components, since a network of resistors rises with each of them.
func (l Loop) States() ([]StateResistance, error) {
	if err := l.check(); err != nil {
		return nil, err
	}
	t := l.table()
	return slices.Clone(t.list[:t.n]), nil
}

// table is a list of states without an allocation.
type table struct {
	list [states]StateResistance
	n    int
}

func (t *table) add(s State, r Interval) {
	t.list[t.n] = StateResistance{s, r}
	t.n++
}

func (l *Loop) table() (t table) {
	t.add(Short, Interval{High: l.Cable})
	t.add(Normal, l.interval(false, false))
	if l.Alarm.Contact != 0 {
		t.add(Alarm, l.interval(true, false))
	}
	if l.Fault.Contact != 0 {
		t.add(Fault, l.interval(false, true))
	}
	if l.Alarm.Contact != 0 && l.Fault.Contact != 0 {
		t.add(AlarmAndFault, l.interval(true, true))
	}
	t.add(Cut, Interval{Open: true})
	return t
}

// interval is open on all sides or on none: contacts open and close whatever
// the tolerances are.
func (l *Loop) interval(alarm, fault bool) Interval {
	i := Interval{Nominal: l.ohms(alarm, fault, nominal)}
	if math.IsInf(i.Nominal, 1) {
		return Interval{Open: true}
	}
	i.Low, i.High = l.ohms(alarm, fault, low), l.ohms(alarm, fault, high)
	return i
}

const (
	mostFitted = 1e9 // ohm
	mostPath   = 1e6 // ohm, of a cable or a contact
)

// part has the words for one resistor, which also name its contact.
type part struct{ ohms, tolerance, kind, place string }

var (
	endPart   = part{ohms: "resistance of the end-of-line resistor", tolerance: "tolerance of the end-of-line resistor"}
	alarmPart = part{"resistance of the alarm resistor", "tolerance of the alarm resistor", "kind of the alarm contact", "place of the alarm contact"}
	faultPart = part{"resistance of the fault resistor", "tolerance of the fault resistor", "kind of the fault contact", "place of the fault contact"}
)

func (p part) resistor(r Resistor) error {
	if err := units.Within(p.ohms, r.Ohms, "ohm", 0, mostFitted); err != nil {
		return err
	}
	return units.Within(p.tolerance, r.Tolerance, "%", 0, mostTolerance)
}

func (p part) branch(b Branch) error {
	if err := units.Within(p.kind, float64(b.Contact), "", 0, float64(NormallyOpen)); err != nil {
		return err
	}
	if err := units.Within(p.place, float64(b.Place), "", 0, float64(AcrossDetector)); err != nil {
		return err
	}
	return p.resistor(b.Resistor)
}

func (l *Loop) check() error {
	if err := endPart.resistor(l.EndOfLine); err != nil {
		return err
	}
	if err := alarmPart.branch(l.Alarm); err != nil {
		return err
	}
	if err := faultPart.branch(l.Fault); err != nil {
		return err
	}
	if err := units.Within("resistance of the cable", l.Cable, "ohm", 0, mostPath); err != nil {
		return err
	}
	return units.Within("resistance of a closed contact", l.ClosedContact, "ohm", 0, mostPath)
}
