package intake

import "ferrule/knowledge/units"

// quantity is a number with what stands around it: a unit, a range, a bound.
type quantity struct {
	first, last int // tokens, with sign, bound and unit; the end left out
	low, high   float64
	units       []units.Unit // what its unit may be; none is no unit
	share       float64
	bound       bound
	takenBack   bool // "not 83"
	instead     int  // of the quantity that it corrects ("38 not 83"): its place in the list, plus 1
	ordinal     bool // 2nd
	unsure      bool // "35?"
}

// bound says that only one end of a quantity was given: over, below.
type bound struct {
	up, down bool
	with     bool // the end itself belongs to it: at least
}

// aboutShare is how far "about 40" may be off: common practice, no source.
const aboutShare = 0.10

// findQuantities reads the numbers of the message that are not part of a
// phrase or the number of a thing.
func (s *scan) findQuantities() {
	for i := 0; i < len(s.tokens); {
		q, ok := s.quantityAt(i)
		if !ok {
			i++
			continue
		}
		i = q.last
		if n := len(s.quantities); n > 0 && q.first < s.quantities[n-1].last {
			q.first = s.quantities[n-1].last
		}
		s.quantities = append(s.quantities, q)
		if !q.takenBack {
			s.values++
		}
		if c := s.clause(q.first); c.firstValue == 0 {
			c.firstValue = q.first + 1
		}
	}
	for i := range s.quantities {
		s.pairWrong(i)
	}
}

// pairWrong finds the right value for one that is taken back: before it in
// the clause ("38 not 83"), else behind it ("not 83, 38"), else before it.
func (s *scan) pairWrong(i int) {
	q := &s.quantities[i]
	if !q.takenBack {
		return
	}
	c := s.clause(q.first)
	right := -1
	for _, n := range []int{i - 1, i + 1} {
		if n < 0 || n >= len(s.quantities) || s.quantities[n].takenBack || s.clause(s.quantities[n].first).sentence != c.sentence {
			continue
		}
		if right < 0 || s.clause(s.quantities[right].first) != c {
			right = n
		}
	}
	if right >= 0 {
		s.quantities[right].instead = i + 1
		q.instead = right + 1
	}
}

func (s *scan) quantityAt(i int) (quantity, bool) {
	if s.kind(i) == word {
		return s.spelledQuantity(i)
	}
	if s.kind(i) != number || s.index[i] || s.taken[i] && !s.onlyGap(i) || s.partOfMore(i) {
		return quantity{}, false
	}
	q, ok := s.oneNumber(i)
	if !ok {
		return q, false
	}
	q = s.ranged(q)
	s.bounds(&q)
	if s.is(q.last, "?") && s.glued(q.last) {
		q.unsure = true
	}
	return q, true
}

// ranged reads the other end of a range: 35-40 %, 35 to 40, 5..8 m.
func (s *scan) ranged(q quantity) quantity {
	at, dots := q.last, 0
	for s.is(at, ".") && dots < 3 {
		at, dots = at+1, dots+1
	}
	dash := dots == 0 && s.is(at, "-") && s.tokens[at].spaced == (at+1 < len(s.tokens) && s.tokens[at+1].spaced)
	words := s.roleOf(at).has(to) && (!s.joinsThings(at) || s.between(q.first))
	if dash || words {
		at++
	} else if dots < 2 {
		return q
	}
	if s.kind(at) != number || s.index[at] || s.taken[at] || q.ordinal || s.tokens[at].line {
		return q
	}
	other, ok := s.oneNumber(at)
	switch {
	case !ok:
		return q
	case len(q.units) == 0:
		q.units = other.units
	case len(other.units) == 0:
		if dash || dots > 0 {
			break // "35 % - 40"
		}
	case other.units[0].Dimension() != q.units[0].Dimension():
		return q
	case other.units[0] != q.units[0]:
		return q // "900 mA to 1.2 A" are two
	}
	switch {
	case other.low > q.low:
		q.high = other.high
	case other.low < q.low && words && s.roleOf(q.first-1).has(from):
		q.low, q.high = other.low, other.high // "from 83 to 38": 38 now
	default:
		return q
	}
	q.last = other.last
	return q
}

// joinsThings tells whether a range word is also the word for "and".
func (s *scan) joinsThings(i int) bool {
	switch s.tokens[i].text {
	case "and", "und", "i", "y", "et", "e", "en":
		return true
	}
	return false
}

func (s *scan) between(i int) bool { return s.roleOf(i - 1).has(from) }

// bounds reads what stands in front of a number and behind it: a sign, a
// bound, a word for about.
func (s *scan) bounds(q *quantity) {
	s.sign(q)
	if s.roleOf(q.first-1).has(from) && q.low != q.high {
		q.first--
	}
	for range 3 { // "about > 40"
		if !s.boundBefore(q) {
			break
		}
	}
	m := s.found.covering(speech, q.last)
	if m != nil && m.first != q.last {
		m = nil
	}
	if m != nil && m.has(aboutAfter) && q.low == q.high {
		q.share, q.last = aboutShare, m.last
	} else if m != nil && m.words > 1 && (m.has(atLeast) || m.has(atMost)) {
		q.bound, q.last = bound{up: m.has(atLeast), down: m.has(atMost), with: true}, m.last // 40 or more
	} else if s.is(q.last, "-") && s.is(q.last+1, "ish") {
		q.share, q.last = aboutShare, q.last+2
	} else if s.is(q.last, "+") && s.glued(q.last) && s.kind(q.last+1) != number {
		q.bound, q.last = bound{up: true, with: true}, q.last+1
	}
}

// sign reads a minus that no digit or word stands before.
func (s *scan) sign(q *quantity) {
	i := q.first - 1
	if !s.is(i, "-") || !s.glued(q.first) {
		return
	}
	free := i == 0 || s.tokens[i].spaced || s.kind(i-1) == mark
	logarithmic := len(q.units) > 0 && q.units[0].Dimension() == units.Level && s.kind(i-1) == word
	if free || logarithmic {
		q.low, q.high = -q.high, -q.low
		if q.low > q.high {
			q.low, q.high = q.high, q.low
		}
		q.first--
	}
}

func (s *scan) boundBefore(q *quantity) bool {
	i := q.first - 1
	if s.is(i, "=") && (s.is(i-1, ">") || s.is(i-1, "<")) {
		i--
	}
	switch {
	case s.is(i, ">"):
		q.bound = bound{up: true, with: i < q.first-1}
	case s.is(i, "≥"):
		q.bound = bound{up: true, with: true}
	case s.is(i, "<"):
		q.bound = bound{down: true, with: i < q.first-1}
	case s.is(i, "≤"):
		q.bound = bound{down: true, with: true}
	case s.is(i, "~"):
		q.share = aboutShare
	case s.is(i, "±"):
	default:
		return s.boundWord(q, i)
	}
	q.first = i
	return true
}

// notWholePhrase tells whether no bound ends with the token at i: the "de" of
// "moins de 30" is a small word too.
func (s *scan) notWholePhrase(i int) bool {
	m := s.found.covering(speech, i)
	return m == nil || m.last != i+1 || m.words == 1
}

func (s *scan) boundWord(q *quantity, i int) bool {
	for i > 0 && s.notWholePhrase(i) && (s.is(i, ".") && s.glued(i) || s.roleOf(i).has(filler) && i > q.first-2) && s.found.covering(speech, i-1) != nil && !s.roleOf(i-1).has(filler) {
		i-- // "ca. 40", "at least a 40"
	}
	m := s.found.covering(speech, i)
	if m == nil || m.last != i+1 || s.clauseOf[i] != s.clauseOf[q.first] {
		return false
	}
	switch {
	case m.has(above):
		q.bound = bound{up: true}
	case m.has(atLeast):
		q.bound = bound{up: true, with: true}
	case m.has(below):
		q.bound = bound{down: true}
	case m.has(atMost):
		q.bound = bound{down: true, with: true}
	case m.has(about):
		q.share = aboutShare
	case m.has(notNumber):
		q.takenBack = true
	default:
		return false
	}
	q.first = m.first
	return true
}
