package rules

import (
	"math"
	"strconv"
	"strings"

	"ferrule/knowledge"
)

func joined(names []string) string { return strings.Join(names, ", ") }

// Format writes a value as it is read aloud: "38 %", "35-40 %", "> 30 m",
// "yes", "3.05", "keypad bus: yes, expander bus: no".
func Format(r *knowledge.Reading, v Value) string {
	switch v.State {
	case Unknown:
		return "unknown"
	case Unavailable:
		return "not available"
	}
	switch r.Kind {
	case knowledge.Number:
		return formatInterval(interval{v.Low, v.High}, r.Unit)
	case knowledge.YesNo:
		switch {
		case v.Low == 1 && v.High == 1:
			return "yes"
		case v.Low == 0 && v.High == 0:
			return "no"
		}
		return "yes or no"
	case knowledge.Set:
		return formatSet(r, v)
	case knowledge.Choice:
		return choiceTitle(r, v.Text)
	}
	return v.Text
}

func choiceTitle(r *knowledge.Reading, name string) string {
	for _, c := range r.Choices {
		if c.Name.S == name && c.Title != "" {
			return c.Title
		}
	}
	return name
}

func formatSet(r *knowledge.Reading, v Value) string {
	var parts []string
	for _, name := range v.Has {
		parts = append(parts, choiceTitle(r, name)+": yes")
	}
	for _, name := range v.HasNot {
		parts = append(parts, choiceTitle(r, name)+": no")
	}
	if parts == nil {
		return "unknown"
	}
	return strings.Join(parts, ", ")
}

func formatInterval(x interval, unit string) string {
	if unit != "" {
		unit = " " + unit
	}
	lowOpen, highOpen := math.IsInf(x.lo, -1), math.IsInf(x.hi, 1)
	switch {
	case lowOpen && highOpen:
		return "unknown"
	case highOpen:
		if bound, exclusive := openBound(x.lo, math.Inf(-1)); exclusive {
			return "> " + figure(bound) + unit
		}
		return figure(x.lo) + unit + " or more"
	case lowOpen:
		if bound, exclusive := openBound(x.hi, math.Inf(1)); exclusive {
			return "< " + figure(bound) + unit
		}
		return figure(x.hi) + unit + " or less"
	}
	low, high := figure(x.lo), figure(x.hi)
	switch {
	case low == high:
		return low + unit
	case x.lo < 0 || x.hi < 0:
		return low + " to " + high + unit
	}
	return low + "-" + high + unit
}

// openBound tells whether a bound stands just beside a short number, which
// is how "more than 30" is kept.
func openBound(x, towards float64) (bound float64, exclusive bool) {
	beside := math.Nextafter(x, towards)
	return beside, len(strconv.FormatFloat(beside, 'g', -1, 64)) < len(strconv.FormatFloat(x, 'g', -1, 64))
}

// figure writes at most six figures, and no exponent for what people measure.
func figure(x float64) string {
	short, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 6, 64), 64)
	if err != nil {
		short = x
	}
	if a := math.Abs(short); a != 0 && (a < 1e-6 || a >= 1e15) {
		return strconv.FormatFloat(short, 'g', -1, 64)
	}
	return strconv.FormatFloat(short+0, 'f', -1, 64)
}
