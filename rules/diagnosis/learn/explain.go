package learn

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
)

// About is what a number says.
type About string

// The numbers.
const (
	AboutCause   About = "cause"   // the share of a cause behind a symptom
	AboutRow     About = "row"     // P(band | cause)
	AboutMends   About = "mends"   // the share of repairs that mend their cause
	AboutMinutes About = "minutes" // the median minutes of a repair
	AboutStep    About = "step"    // the median minutes of a reading
)

// Line explains one number: what the pack says, what the cases say, and what
// comes of it.
type Line struct {
	About     About
	Symptom   string
	Equipment string // kind or model; empty for all
	Cause     string // empty in a row: all causes that the table does not name
	Evidence  string
	Band      int // from 1
	Reading   string

	Pack   float64
	Before float64 // what the cases are added to: Pack, or what other equipment says
	Like   float64 // the number of cases that Before counts as
	Seen   int     // cases that show it
	Cases  int     // cases that speak to it
	Weight float64 // what those count together
	Now    float64
}

// String returns the line as one reads it: "weak_signal: place_too_weak: the pack
// says 0.4 (as 20 cases), 9 of 12 cases do (they count as 10.5), now 0.526".
func (l Line) String() string {
	what := ""
	switch l.About {
	case AboutCause:
		what = l.Symptom
		if l.Equipment != "" {
			what += ", " + l.Equipment
		}
		what += ": " + l.Cause
	case AboutRow:
		what = fmt.Sprintf("%s, band %d: %s", l.Evidence, l.Band, cmp.Or(l.Cause, "any other cause"))
	case AboutMends:
		what = "the repair of " + l.Cause + " mends it"
	case AboutMinutes:
		what = "minutes for the repair of " + l.Cause
	case AboutStep:
		what = "minutes for the reading " + l.Reading
	}
	before := fmt.Sprintf("the pack says %.3g", l.Pack)
	if l.Equipment != "" {
		before += fmt.Sprintf(", other equipment %.3g", l.Before)
	}
	cases := "no case speaks to it"
	switch {
	case l.Cases == 0:
	case l.About == AboutMinutes || l.About == AboutStep:
		cases = fmt.Sprintf("%d timed", l.Cases)
	default:
		cases = fmt.Sprintf("%d of %d cases do (they count as %.4g)", l.Seen, l.Cases, l.Weight)
	}
	return fmt.Sprintf("%s: %s (as %.4g cases), %s, now %.3g", what, before, l.Like, cases, l.Now)
}

// Explain returns a line for every number, in the order of the pack. The numbers
// of an equipment are there where it has cases of its own; those of kinds and
// models stand after those of all, by name.
func (n *Numbers) Explain() []Line {
	var lines []Line
	for i := range n.pack.Symptoms {
		lines = append(lines, n.explainSymptom(n.pack.Symptoms[i].Name.S)...)
	}
	for i := range n.pack.Evidence {
		lines = append(lines, n.explainTable(n.tables[n.pack.Evidence[i].Name.S])...)
	}
	for i := range n.pack.Causes {
		lines = append(lines, n.explainRepair(n.pack.Causes[i].Name.S)...)
	}
	for i := range n.pack.Readings {
		name := n.pack.Readings[i].Name.S
		if m, ok := n.StepMinutes(name); ok {
			lines = append(lines, n.timeLine(Line{About: AboutStep, Reading: name, Pack: n.steps[name]}, m))
		}
	}
	return lines
}

func (n *Numbers) explainSymptom(name string) []Line {
	var lines []Line
	s := n.symptoms[name]
	for _, equipment := range slices.Sorted(maps.Keys(withAll(s.cases))) {
		before, like, cases := n.above(s, equipment)
		line := Line{About: AboutCause, Symptom: name, Equipment: equipment, Like: like}
		lines = append(lines, n.shareLines(line, s.pack, before, cases, func(l *Line, i int) { l.Cause = s.causes[i] })...)
	}
	return lines
}

// withAll adds the node of all equipment where no case made it.
func withAll(cases map[string][]counts) map[string][]counts {
	if cases[""] != nil {
		return cases
	}
	return map[string][]counts{"": nil}
}

func (n *Numbers) explainTable(t *table) []Line {
	var lines []Line
	for i, cause := range t.names() {
		line := Line{About: AboutRow, Evidence: t.of.Name.S, Cause: cause, Like: n.learned.settings.RowCases}
		lines = append(lines, n.shareLines(line, t.pack[i], t.pack[i], t.cases[i], func(l *Line, b int) { l.Band = b + 1 })...)
	}
	return lines
}

// shareLines gives a line for each share of a group that sums to 1.
func (n *Numbers) shareLines(line Line, pack, before []float64, cases []counts, name func(*Line, int)) []Line {
	now := shrunk(before, line.Like, cases, n.learned.settings)
	var all counts
	for _, c := range cases {
		all = all.plus(c)
	}
	lines := make([]Line, len(pack))
	for i := range pack {
		l := line
		name(&l, i)
		l.Pack, l.Before, l.Now = pack[i], before[i], now[i]
		l.Seen, l.Cases, l.Weight = cases[i].number(), all.number(), all.weight(n.learned.settings)
		lines[i] = l
	}
	return lines
}

func (n *Numbers) explainRepair(cause string) []Line {
	s := n.learned.settings
	mended, lost := n.learned.mended[cause], n.learned.lost[cause]
	all := mended.plus(lost)
	lines := []Line{{
		About: AboutMends, Cause: cause, Pack: s.MendPrior, Before: s.MendPrior, Like: s.MendCases,
		Seen: mended.number(), Cases: all.number(), Weight: all.weight(s), Now: n.Mends(cause),
	}}
	if m, ok := n.Minutes(cause); ok {
		lines = append(lines, n.timeLine(Line{About: AboutMinutes, Cause: cause, Pack: n.fixes[cause]}, m))
	}
	return lines
}

func (n *Numbers) timeLine(l Line, m Minutes) Line {
	l.Before, l.Like, l.Seen, l.Cases, l.Weight, l.Now = l.Pack, n.learned.settings.MinutesCases, m.Cases, m.Cases, float64(m.Cases), m.Median
	return l
}
