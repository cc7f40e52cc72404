package intake

import (
	"slices"
	"strings"
	"time"

	"ferrule/knowledge/units"
)

// visit reads what a message says of the visit: the site, being on test, how
// something was confirmed. Its tokens hold no readings.
func (s *scan) visit() {
	s.site()
	switch s.out.Command {
	case OnTest:
		s.testEnd()
		s.reference()
	case OffTest:
		s.offTest()
		return
	}
	for _, c := range []struct {
		role role
		how  string
	}{
		{confirmSwapBack, "swap_back"}, {confirmUnproven, "unproven"}, {confirmMeasurement, "measurement"}, {confirmSymptomGone, "symptom_gone"},
	} {
		if s.out.Confirmed == "" && s.saysRole(c.role) {
			s.out.Confirmed = c.how
		}
	}
}

// doneOnTest takes "on test" behind a complaint for the circumstances of it:
// "siren wont sound on test" puts nothing on test. An end or a reference says
// that it is meant.
func (s *scan) doneOnTest() {
	if s.out.Command != OnTest || s.out.UntilSet || s.out.For > 0 || s.out.Reference != "" {
		return
	}
	c := s.clause(s.commandMatch.first)
	for _, x := range s.out.Symptoms {
		if at := s.tokenAt(x.Start); at >= c.first && at < s.commandMatch.first {
			s.out.Command = NoCommand
		}
	}
}

// tokenAt is the token at a place of the text.
func (s *scan) tokenAt(place int) int {
	return slices.IndexFunc(s.tokens, func(t token) bool { return t.start <= place && place < t.end })
}

func (s *scan) saysRole(r role) bool {
	for i := range s.found.by[speech] {
		if m := &s.found.by[speech][i]; m.has(r) && !s.clause(m.first).question && (r == confirmUnproven || !s.negatedBefore(m.first)) {
			return true
		}
	}
	return false
}

func (s *scan) offTest() {
	switch {
	case s.saysRole(testUnmonitored):
		s.out.Confirmed = "unmonitored"
	case s.saysRole(testConfirmed):
		s.out.Confirmed = "signal read back by the centre"
	}
}

// testEnd reads "until 16:00", "till 4pm", "for 2h" behind "on test".
func (s *scan) testEnd() {
	for i := range s.found.by[speech] {
		m := &s.found.by[speech][i]
		if m.has(until) {
			if at, ok := s.clock(m.last); ok {
				s.take(m.first, at)
				return
			}
		}
		if m.has(forTime) {
			s.testFor(m)
		}
	}
}

// clock reads a time of day at token i.
func (s *scan) clock(i int) (end int, ok bool) {
	if s.is(i, "at") || s.is(i, "las") {
		i++
	}
	if s.kind(i) != number {
		return 0, false
	}
	hour, minute, _ := strings.Cut(strings.ReplaceAll(s.tokens[i].text, ",", "."), ".")
	end = i + 1
	if (s.is(end, ":") || s.is(end, "h")) && s.glued(end) && s.kind(end+1) == number && s.glued(end+1) {
		minute, end = s.tokens[end+1].text, end+2
	} else if len(hour) == 4 && minute == "" {
		hour, minute = hour[:2], hour[2:] // 1600
	}
	h, okHour := parseNumber(hour)
	m, okMinute := parseNumber("0" + minute)
	switch {
	case (s.is(end, "pm") || s.is(end, "p")) && h < 12:
		h, end = h+12, end+1
	case s.is(end, "am") || s.is(end, "pm") || s.is(end, "uhr") || s.is(end, "h"):
		end++
	}
	if !okHour || !okMinute || h > 23 || m > 59 || len(hour) > 2 {
		return 0, false
	}
	s.out.Until, s.out.UntilSet = time.Duration(h)*time.Hour+time.Duration(m)*time.Minute, true
	return end, true
}

func (s *scan) testFor(m *match) {
	i := m.last
	x, end, text := 0.0, i+1, s.textAt(i)
	switch n, ok := s.numberWord(text); {
	case s.kind(i) == number:
		x, _ = parseNumber(text)
	case ok:
		x = n
	case text == "an" || text == "a":
		x = 1
	case text == "half":
		x = 0.5
		for s.is(end, "an") || s.is(end, "a") {
			end++
		}
	default:
		return
	}
	u, end, ok := s.unitAt(end)
	if !ok || x <= 0 || x > 1000 {
		return
	}
	for _, u := range u {
		if u.Dimension() == units.Duration {
			seconds, _ := u.In(units.Second, x)
			s.out.For = time.Duration(seconds * float64(time.Second))
			s.take(m.first, end)
			return
		}
	}
}

// reference reads the centre's reference, as typed.
func (s *scan) reference() {
	for i := range s.found.by[speech] {
		m := &s.found.by[speech][i]
		if !m.has(reference) {
			continue
		}
		at := m.last
		for s.is(at, ":") || s.is(at, "#") || s.is(at, ".") || s.roleOf(at).has(filler) || s.roleOf(at).has(numberSign) && !s.glued(at+1) {
			at++
		}
		end := at
		for end < len(s.tokens) && (end == at || s.glued(end)) && (s.kind(end) != mark || s.is(end, "-") || s.is(end, "/")) {
			end++
		}
		if ref := s.raw(at, min(end, len(s.tokens))); ref != "" && len(ref) <= 20 {
			s.out.Reference = ref
			s.take(m.first, end)
			return
		}
	}
}

// take marks tokens as understood, and their numbers as no values.
func (s *scan) take(first, last int) {
	for i := first; i < min(last, len(s.tokens)); i++ {
		s.taken[i] = true
		s.index[i] = true
	}
}

// mostSiteWords is how long a site's reference is at most.
const mostSiteWords = 4

// site reads "at site lantern-12" and "site 12 Tallow Row".
func (s *scan) site() {
	for i := range s.found.by[speech] {
		m := &s.found.by[speech][i]
		if !m.has(onSite) || s.clause(m.first).question {
			continue
		}
		at := m.last
		for s.is(at, ":") || s.is(at, "#") || s.is(at, "=") || s.is(at, "is") {
			at++
		}
		end := s.siteEnd(at)
		if end == at {
			continue
		}
		s.giveSite(at, end)
		s.take(m.first, at)
		return
	}
	s.address()
}

// address reads "at 12 mill lane": a number, one or two names and a word for a
// street, or the other way round as in "via Roma 5".
func (s *scan) address() {
	for i := range s.tokens {
		if !s.roleOf(i).has(street) {
			continue
		}
		first, last := i, i+1
		for first > 0 && i-first < 2 && s.kind(first-1) == word && !s.tokens[first].line {
			first--
		}
		for ; first < i; first++ {
			if s.kind(first-1) == number && !s.taken[first-1] && !s.glued(first) {
				s.giveSite(first-1, last)
				return
			}
		}
		for last < len(s.tokens) && last-i < 3 && s.kind(last) == word && !s.tokens[last].line && !s.roleOf(last).has(filler) {
			last++
		}
		if last > i+1 && s.kind(last) == number && !s.taken[last] {
			if _, _, measured := s.unitAt(last + 1); !measured {
				s.giveSite(i, last+1)
				return
			}
		}
	}
}

func (s *scan) giveSite(first, last int) {
	s.out.Site = strings.Join(strings.Fields(strings.ToLower(s.raw(first, last))), "-")
	s.take(first, last)
}

// siteEnd returns the end of a reference at a token, or the token itself. A
// reference has a number in it, or a hyphen, or is all that the clause says;
// "the site had trouble before" is none.
func (s *scan) siteEnd(at int) int {
	if at >= len(s.tokens) || s.kind(at) == mark {
		return at
	}
	c := s.clause(at)
	end, words, sure := at, 0, false
	for end < c.last && words < mostSiteWords {
		switch {
		case s.kind(end) == number:
			sure = true
		case s.is(end, "-") && s.glued(end) && s.glued(end+1):
			sure = true
		case s.kind(end) == mark, s.plainWord(end):
			return s.sureEnd(at, end, sure, c)
		}
		if end == at || !s.glued(end) {
			words++
		}
		end++
	}
	for end < c.last && s.glued(end) && s.kind(end) != mark {
		end++
	}
	return s.sureEnd(at, end, sure, c)
}

func (s *scan) sureEnd(at, end int, sure bool, c *clause) int {
	if sure || end >= c.last && end > at && end <= at+3 {
		return end
	}
	return at
}

// plainWord tells whether a token goes on with the sentence instead of naming
// the site.
func (s *scan) plainWord(i int) bool {
	if s.roleOf(i)&^(1<<stateOn|1<<stateOff|1<<street) != 0 && len(s.tokens[i].text) > 1 {
		return true
	}
	for _, y := range []layer{complaint, answer} {
		if s.found.covering(y, i) != nil {
			return true
		}
	}
	switch s.tokens[i].text {
	case "had", "visit", "survey", "with", "at", "in", "today", "manager", "side", "before", "on", "off", "again", "for", "where", "yesterday":
		return true
	}
	return false
}
