package loop

import (
	"cmp"
	"slices"

	"ferrule/knowledge/units"
)

// Settings are what a loop's description doesn't say. All of it is the panel's
// or the caller's own: there is no source.
type Settings struct {
	ShortLimit float64 // ohm, more than 0: at and below, a reading is a short
	OpenLimit  float64 // ohm, above the short limit: at and above, a reading is open
	// Steps are the thresholds of the panel, rising, at most seven; what is
	// above the last is a cut to it. Without them the thresholds are the two
	// limits and the middles between the nominal resistances.
	Steps []Step
}

// Step is one threshold of a panel: up to it, and above the step before, the
// panel shows the state.
type Step struct {
	UpTo  float64 // ohm
	State State
}

// Level is a band of resistance that a panel takes for one thing: it begins
// above From, in ohm (the first at 0), and ends where the next begins. States
// that the panel can't tell apart share a level.
type Level struct {
	From   float64
	States Set
}

const maxSteps = 7

func (s Settings) check() error {
	if err := units.Within("short limit", s.ShortLimit, "ohm", leastOhms, mostFitted); err != nil {
		return err
	}
	if err := units.Within("open limit", s.OpenLimit, "ohm", leastOhms, mostFitted); err != nil {
		return err
	}
	if err := units.Above("open limit", s.OpenLimit, "ohm", s.ShortLimit); err != nil {
		return err
	}
	if err := units.Within("number of thresholds", float64(len(s.Steps)), "", 0, maxSteps); err != nil {
		return err
	}
	last := 0.0
	for _, step := range s.Steps {
		if err := units.Within("threshold of the panel", step.UpTo, "ohm", 0, mostFitted); err != nil {
			return err
		}
		if err := units.Above("threshold of the panel", step.UpTo, "ohm", last); err != nil {
			return err
		}
		if err := units.Within("state of a threshold", float64(step.State), "", float64(Short), float64(Cut)); err != nil {
			return err
		}
		last = step.UpTo
	}
	return nil
}

// levels fills the table of the panel.
type levels struct {
	list [maxSteps + 1]Level
	n    int
}

func (l *levels) add(from float64, states Set) {
	l.list[l.n] = Level{from, states}
	l.n++
}

func given(steps []Step) (l levels) {
	from := 0.0
	for _, step := range steps {
		l.add(from, setOf(step.State))
		from = step.UpTo
	}
	l.add(from, setOf(Cut))
	return l
}

// middles puts a threshold between each two nominal resistances. What is within
// the limits for short and open can't be told from those.
func middles(t *table, s Settings) (l levels) {
	short, open := setOf(Short), setOf(Cut)
	var inside []StateResistance
	for _, state := range t.list[:t.n] {
		switch r := state.Resistance; {
		case r.Open || r.Nominal >= s.OpenLimit:
			open |= setOf(state.State)
		case r.Nominal <= s.ShortLimit:
			short |= setOf(state.State)
		default:
			inside = append(inside, state)
		}
	}
	slices.SortStableFunc(inside, func(a, b StateResistance) int { return cmp.Compare(a.Resistance.Nominal, b.Resistance.Nominal) })
	l.add(0, short)
	last := 0.0
	for _, state := range inside {
		switch r := state.Resistance.Nominal; {
		case r == last:
			l.list[l.n-1].States |= setOf(state.State)
			continue
		case l.n == 1:
			l.add(s.ShortLimit, setOf(state.State))
		default:
			l.add((last+r)/2, setOf(state.State))
		}
		last = state.Resistance.Nominal
	}
	if l.n == 1 { // no state between the limits
		l.add((s.ShortLimit+s.OpenLimit)/2, open)
		return l
	}
	l.add(s.OpenLimit, open)
	return l
}

// at returns the level of a reading; one on a threshold belongs below it.
func (l *levels) at(ohms float64) int {
	i := l.n - 1
	for i > 0 && ohms <= l.list[i].From {
		i--
	}
	return i
}
