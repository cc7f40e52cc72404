package intake

import (
	"math"
	"strconv"
	"strings"
)

// quantity is a number with what stands around it: a unit, a range, a bound.
type quantity struct {
	first, last int // tokens, the end left out
	low, high   float64
	unit        string // canonical; "" where none was given
	dropped     bool   // "not 83"
}

// unitOf gives the canonical unit and the factor of what people write.
// Sources: SI prefixes; foot and inch exactly (NIST SP 811, appendix B.8).
var unitOf = map[string]struct {
	unit   string
	factor float64
}{
	"%": {"%", 1}, "percent": {"%", 1}, "pct": {"%", 1}, "prozent": {"%", 1}, "per cent": {"%", 1},
	"v": {"V", 1}, "volt": {"V", 1}, "volts": {"V", 1}, "vdc": {"V", 1}, "mv": {"V", 1e-3},
	"a": {"A", 1}, "amp": {"A", 1}, "amps": {"A", 1}, "ma": {"mA", 1},
	"ohm": {"ohm", 1}, "ohms": {"ohm", 1}, "ω": {"ohm", 1}, "kohm": {"ohm", 1e3}, "kohms": {"ohm", 1e3}, "k": {"ohm", 1e3},
	"m": {"m", 1}, "metre": {"m", 1}, "metres": {"m", 1}, "meter": {"m", 1}, "meters": {"m", 1}, "cm": {"m", 1e-2},
	"mm": {"m", 1e-3}, "ft": {"m", 0.3048}, "feet": {"m", 0.3048}, "inch": {"m", 0.0254}, "inches": {"m", 0.0254},
	"db": {"dB", 1}, "dbm": {"dBm", 1}, "min": {"min", 1}, "mins": {"min", 1}, "minutes": {"min", 1}, "minute": {"min", 1},
	"h": {"h", 1}, "hr": {"h", 1}, "hrs": {"h", 1}, "hour": {"h", 1}, "hours": {"h", 1}, "s": {"s", 1}, "sec": {"s", 1}, "seconds": {"s", 1},
	"ah": {"Ah", 1}, "c": {"C", 1}, "°c": {"C", 1},
}

// aboutShare is how far "about 40" may be off: common practice, no source.
const aboutShare = 0.10

// quantities finds the numbers of a text. Numbers inside a phrase of the pack
// (generation 2 hub) and behind a subject's name (keypad 2) are taken already.
func quantities(tokens []token, taken []bool) []quantity {
	var out []quantity
	for i := 0; i < len(tokens); i++ {
		if tokens[i].kind != number || taken[i] {
			continue
		}
		q, ok := quantityAt(tokens, taken, i)
		if !ok {
			continue
		}
		out = append(out, q)
		i = q.last - 1
	}
	return out
}

func quantityAt(tokens []token, taken []bool, i int) (quantity, bool) {
	low, ok := parseNumber(tokens[i].text)
	if !ok {
		return quantity{}, false
	}
	q := quantity{first: i, last: i + 1, low: low, high: low}
	at := func(n int) string {
		if n < 0 || n >= len(tokens) || taken[n] {
			return ""
		}
		return tokens[n].text
	}
	adjacent := func(n int) bool { return n < len(tokens) && tokens[n].start == tokens[n-1].end }
	// 10v8, 2k2, 4r7: the letter stands for the point.
	if l := at(i + 1); (l == "v" || l == "k" || l == "r") && adjacent(i+1) && adjacent(i+2) && i+2 < len(tokens) && tokens[i+2].kind == number {
		if v, ok := parseNumber(tokens[i].text + "." + tokens[i+2].text); ok {
			u := map[string]string{"v": "v", "k": "k", "r": "ohm"}[l]
			return quantity{i, i + 3, v * unitOf[u].factor, v * unitOf[u].factor, unitOf[u].unit, false}, true
		}
	}
	q.readUnit(tokens, at)
	if sep := at(q.last); (sep == "-" || sep == "to" || sep == "bis") && q.last+1 < len(tokens) && tokens[q.last+1].kind == number && !taken[q.last+1] {
		if high, ok := parseNumber(tokens[q.last+1].text); ok && high > low {
			q.high = high
			q.last += 2
			if q.unit == "" {
				q.readUnit(tokens, at)
			}
		}
	}
	q.bounds(tokens, at)
	return q, true
}

// readUnit takes the unit behind the number.
func (q *quantity) readUnit(tokens []token, at func(int) string) {
	u, ok := unitOf[at(q.last)]
	if at(q.last) == "°" && at(q.last+1) == "c" {
		u, ok = unitOf["c"], true
		q.last++
	}
	// A letter alone is a unit only where it stands against the number, or as
	// a volt, metre or hour with a space.
	if single := len(at(q.last)) == 1 && strings.Contains("acsk", at(q.last)); single && q.last < len(tokens) && tokens[q.last].start != tokens[q.last-1].end {
		ok = false
	}
	if ok {
		q.unit = u.unit
		q.low *= u.factor
		q.high *= u.factor
		q.last++
	}
}

// bounds takes what stands in front: a sign, a bound, or a word for about.
func (q *quantity) bounds(tokens []token, at func(int) string) {
	if at(q.first-1) == "-" && (q.first < 2 || tokens[q.first-1].start > tokens[q.first-2].end) && tokens[q.first].start == tokens[q.first-1].end {
		q.low, q.high = -q.high, -q.low
		q.first--
	}
	if at(q.first-1) == "than" || at(q.first-1) == "=" {
		q.first--
	}
	switch at(q.first - 1) {
	case ">", "over", "above", "more", "über", "greater", "powyżej", "oltre":
		q.low, q.high = math.Nextafter(q.low, math.Inf(1)), math.Inf(1)
	case "<", "under", "below", "less", "unter", "poniżej", "sotto", "onder":
		q.low, q.high = math.Inf(-1), math.Nextafter(q.high, math.Inf(-1))
	case "about", "around", "roughly", "approx", "approximately", "~", "ca", "circa", "etwa", "ungefähr", "około", "environ", "ongeveer", "unos":
		d := math.Abs(q.high) * aboutShare
		q.low, q.high = q.low-d, q.high+d
	case "not", "nicht", "nie", "no", "pas", "non", "niet":
		q.dropped = true
	default:
		return
	}
	q.first--
}

// parseNumber reads digits with a decimal point or comma.
func parseNumber(s string) (float64, bool) {
	f, err := strconv.ParseFloat(strings.ReplaceAll(s, ",", "."), 64)
	return f, err == nil && !math.IsInf(f, 0)
}
