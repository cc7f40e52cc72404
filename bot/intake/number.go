package intake

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"ferrule/knowledge/units"
)

// partOfMore tells whether a number is a piece of a clock time, a date, a
// cable size or a word.
func (s *scan) partOfMore(i int) bool {
	for _, m := range []string{":", "/"} {
		if s.is(i+1, m) && s.glued(i+1) && s.kind(i+2) == number && s.glued(i+2) || s.is(i-1, m) && s.glued(i) && s.kind(i-2) == number && s.glued(i-1) {
			return !s.isFraction(i)
		}
	}
	if s.glued(i) && s.kind(i-1) == word && !s.joinsValue(i-1) || s.glued(i) && s.kind(i-1) == number {
		return true
	}
	if s.is(i-1, "#") || s.isHour(i) {
		return true
	}
	hyphen := func(i int) bool { return s.is(i, "-") && s.glued(i) && s.glued(i+1) }
	return hyphen(i+1) && hyphen(i+3) && s.kind(i+2) == number || hyphen(i-1) && hyphen(i-3) && s.kind(i-2) == number || // 2026-03-01
		hyphen(i-1) && hyphen(i+1) && s.kind(i-2) == number && s.kind(i+2) == number
}

// isHour tells whether a bare number is an hour, by the time of day beside it:
// every night around 3, at 3 in the morning.
func (s *scan) isHour(i int) bool {
	hour, ok := parseNumber(s.tokens[i].text)
	if !ok || len(s.tokens[i].text) > 2 || hour > 24 || hour != math.Trunc(hour) {
		return false
	}
	before := s.roleOf(i - 1)
	if s.roleOf(i+1).has(timeOfDay) && before.has(timeBefore) && !before.has(about) {
		return true
	}
	if _, _, unit := s.unitAt(i + 1); unit {
		return false
	}
	j := i - 1
	for s.roleOf(j).has(timeBefore) || s.roleOf(j).has(about) {
		j--
	}
	return j < i-1 && s.roleOf(j).has(timeOfDay)
}

// joinsValue tells whether the word against a number names a value: sig35.
func (s *scan) joinsValue(i int) bool {
	m := s.found.covering(name, i)
	return m != nil && m.last == i+1 || s.roleOf(i).has(about)
}

// isFraction tells whether i begins or ends a fraction with a unit, such as
// 1/2 h. They are few; anything else with a stroke is no single number.
func (s *scan) isFraction(i int) bool {
	if !s.is(i+1, "/") || s.kind(i+2) != number {
		return false
	}
	_, _, ok := s.unitAt(i + 3)
	return ok && len(s.tokens[i].text) == 1 && len(s.tokens[i+2].text) == 1 && s.tokens[i+2].text != "0"
}

// oneNumber reads a number and its unit, without what stands in front.
func (s *scan) oneNumber(i int) (quantity, bool) {
	q := quantity{first: i, last: i + 1}
	for _, read := range []func(int) (quantity, bool){s.letterPoint, s.gauge, s.coresTimes} {
		if coded, ok := read(i); ok {
			return coded, true
		}
	}
	x, ok := parseNumber(s.tokens[i].text)
	if !ok {
		return q, false
	}
	if s.is(i+1, "/") && s.isFraction(i) {
		d, _ := parseNumber(s.tokens[i+2].text)
		x, q.last = x/d, i+3
	}
	q.low, q.high = x, x
	if s.glued(q.last) && s.roleOf(q.last).has(ordinalTail) {
		q.ordinal = true
		q.last++
		return q, true
	}
	if u, end, ok := s.unitAt(q.last); ok {
		q.units, q.last = u, end
	}
	return q, true
}

// letterPoint reads a number with a letter in place of the point: 10v8, and
// the resistor codes of IEC 60062 (4k7, 2R2, 1M0).
func (s *scan) letterPoint(i int) (quantity, bool) {
	if !(s.glued(i+1) && s.glued(i+2) && s.kind(i+1) == word && s.kind(i+2) == number) || s.glued(i+3) && s.kind(i+3) == word {
		return quantity{}, false
	}
	var u units.Unit
	switch s.tokens[i+1].text {
	case "v":
		u = units.Volt
	case "r":
		u = units.Ohm
	case "k":
		u = units.Kiloohm
	case "m":
		if s.raw(i+1, i+2) != "M" {
			return quantity{}, false
		}
		u = units.Megaohm
	case "a":
		u = units.Ampere
	default:
		return quantity{}, false
	}
	x, err := strconv.ParseFloat(s.tokens[i].text+"."+s.tokens[i+2].text, 64)
	if err != nil || strings.ContainsAny(s.tokens[i].text+s.tokens[i+2].text, ".,") {
		return quantity{}, false
	}
	q := quantity{first: i, last: i + 3, low: x, high: x, units: []units.Unit{u}}
	if more, end, ok := s.unitAt(q.last); ok && more[0].Dimension() == u.Dimension() {
		q.last = end // 4k7 ohm
	}
	return q, true
}

// parseNumber reads digits with a decimal point or comma. Three digits behind
// a comma are thousands ("1,500 ohm"), unless nothing stands before it.
func parseNumber(s string) (float64, bool) {
	if whole, rest, ok := strings.Cut(s, ","); ok {
		switch {
		case strings.ContainsAny(rest, ".,"):
			if strings.Contains(whole, ".") || len(whole) > 3 {
				return 0, false
			}
			s = whole + strings.Replace(rest, ",", "", 1) // 1,200.5
			if strings.Contains(s, ",") {
				return 0, false
			}
		case len(rest) == 3 && len(whole) <= 3 && strings.Trim(whole, "0") != "":
			s = whole + rest
		default:
			s = whole + "." + rest
		}
	}
	x, err := strconv.ParseFloat(s, 64)
	return x, err == nil && !math.IsInf(x, 0)
}

// unitAt reads the unit at token i.
func (s *scan) unitAt(i int) ([]units.Unit, int, bool) {
	if i >= len(s.tokens) || s.tokens[i].line {
		return nil, 0, false
	}
	t := s.tokens[i]
	switch {
	case t.text == "°" && s.glued(i+1) && (s.is(i+1, "c") || s.is(i+1, "f")):
		return unitsWritten[s.tokens[i+1].text], i + 2, true
	case (s.is(i, "per") || s.is(i, "por") || s.is(i, "pour")) && (s.is(i+1, "cent") || s.is(i+1, "ciento") || s.is(i+1, "cento")):
		return []units.Unit{units.Percent}, i + 2, true
	case s.is(i, "deg") && (s.is(i+1, "c") || s.is(i+1, "f")):
		return unitsWritten[s.tokens[i+1].text], i + 2, true
	case (s.is(i, "kilo") || s.is(i, "k")) && (s.is(i+1, "ohm") || s.is(i+1, "ohms")):
		return []units.Unit{units.Kiloohm}, i + 2, true
	case s.is(i, "m") && s.raw(i, i+1) == "M" && (s.is(i+1, "ohm") || s.is(i+1, "ohms")):
		return []units.Unit{units.Megaohm}, i + 2, true
	case s.is(i, "sq") && s.is(i+1, "mm") || s.is(i, "mm") && s.glued(i+1) && (s.is(i+1, "2") || s.is(i+1, "²")):
		return []units.Unit{units.SquareMillimetre}, i + 2, true
	}
	u, ok := unitsWritten[t.text]
	if !ok {
		if u, end, ok := s.unitWord(i); ok {
			return []units.Unit{u}, end, true
		}
	}
	if !ok || t.kind == word && len(t.text) == 1 && !s.letterIsUnit(i) || t.text == "in" && !s.inchAt(i) || t.text == "\"" && t.spaced {
		return nil, 0, false
	}
	if t.text == "kbit" && s.is(i+1, "/") && s.is(i+2, "s") {
		return u, i + 3, true
	}
	return u, i + 1, true
}

// letterIsUnit tells whether a single letter is a unit. It has to touch its
// number, or be one of those that nobody takes for a word.
func (s *scan) letterIsUnit(i int) bool {
	t := s.tokens[i]
	if !t.spaced {
		return !s.glued(i+1) || s.kind(i+1) == mark
	}
	upper := s.raw(i, i+1) == strings.ToUpper(t.text)
	return letterUnits[t.text] || upper && (t.text == "a" || t.text == "c" || t.text == "f" || t.text == "r")
}

// inchAt keeps "35 in the hall" from being a length.
func (s *scan) inchAt(i int) bool {
	return s.glued(i) || i+1 == len(s.tokens) || s.kind(i+1) == mark
}

// spelledQuantity reads "ten volts" and "half": a number word needs a unit
// behind it, since one is everywhere.
func (s *scan) spelledQuantity(i int) (quantity, bool) {
	if s.index[i] {
		return quantity{}, false
	}
	if m := s.found.covering(speech, i); m != nil && m.first == i && m.has(half) {
		at := m.last
		if s.is(at, "an") || s.is(at, "a") {
			at++
		}
		if u, end, ok := s.unitAt(at); ok {
			return quantity{first: i, last: end, low: 0.5, high: 0.5, units: u}, true
		}
		if s.kind(m.last) == word && (s.roleOf(m.last).has(filler) || s.is(m.last, "of")) && s.kind(m.last+1) == word {
			return quantity{}, false // half the detectors
		}
		q := quantity{first: i, last: m.last, low: 50, high: 50, units: []units.Unit{units.Percent}, share: aboutShare}
		s.bounds(&q)
		return q, true
	}
	x, ok := s.numberWord(s.tokens[i].text)
	if !ok && s.isArticle(i) && s.counted(i+1) {
		return quantity{first: i, last: i + 1, low: 1, high: 1}, true
	}
	if !ok || s.glued(i+1) {
		return quantity{}, false
	}
	at := i + 1
	if ones, ok := s.numberWord(s.textAt(at)); ok && x >= 20 && x < 100 && ones > 0 && ones < 10 {
		x, at = x+ones, at+1
	}
	if s.counted(at) {
		return quantity{first: i, last: at, low: x, high: x}, true
	}
	u, end, ok := s.unitAt(at)
	if !ok || len(s.tokens[at].text) == 1 && s.kind(at) == word {
		return quantity{}, false
	}
	q := quantity{first: i, last: end, low: x, high: x, units: u}
	s.bounds(&q)
	return q, true
}

// counted tells whether the name of something that is counted begins at a
// token: brick walls.
func (s *scan) counted(i int) bool {
	m := s.found.covering(name, i)
	return m != nil && m.first == i && slices.ContainsFunc(m.senses, func(x sense) bool { return x.reading != nil && x.reading.Counted })
}

func (s *scan) isArticle(i int) bool { return s.is(i, "a") || s.is(i, "an") }

func (s *scan) textAt(i int) string {
	if i < 0 || i >= len(s.tokens) {
		return ""
	}
	return s.tokens[i].text
}
