package intake

import (
	"strconv"
	"strings"

	"ferrule/knowledge"
	"ferrule/knowledge/firmware"
	"ferrule/knowledge/units"
	"ferrule/rules"
)

// versions binds what looks like a version to the version readings: one named
// before it, or "fw 1.06" for the thing that the clause is about.
func (s *scan) versions() {
	for n := range s.clauses {
		c := &s.clauses[n]
		if c.conditional {
			continue
		}
		bound := false
		for i := c.first; i < c.last; i++ {
			if m := s.found.covering(name, i); m != nil && m.first == i {
				if r := s.versionNamed(m, c); r != nil {
					bound = s.versionBehind(r, m, c) || bound
				}
			} else if g := s.found.covering(speech, i); g != nil && g.first == i && g.has(versionWord) {
				if r := s.versionAbout(c, i); r != nil {
					bound = s.versionBehind(r, g, c) || bound
				}
			} else if m := s.found.covering(equipment, i); m != nil && m.first == i {
				bound = s.versionBeside(m, c) || bound
			}
		}
		if !bound {
			s.versionAsked(c)
		}
	}
}

func (s *scan) versionNamed(m *match, c *clause) *knowledge.Reading {
	var found *knowledge.Reading
	for _, x := range m.senses {
		if x.reading.Kind != knowledge.Version {
			continue
		}
		if found == nil || s.isAsked(x.reading) || c.classes.has(x.reading.Class) && !s.isAsked(found) {
			found = x.reading
		}
	}
	return found
}

// versionAbout returns the version reading of the thing that a clause, or the
// message before it, speaks about.
func (s *scan) versionAbout(c *clause, at int) *knowledge.Reading {
	if r := s.versionOf(s.classBefore(at, c.first)); r != nil {
		return r
	}
	for i := at; i < min(c.last, at+window); i++ {
		if m := s.found.covering(equipment, i); m != nil {
			if r := s.versionOf(m.senses[0].class); r != nil {
				return r
			}
		}
	}
	if r := s.asked(knowledge.Version); r != nil {
		return r
	}
	return s.versionOf(s.classBefore(at, 0))
}

func (s *scan) classBefore(at, first int) knowledge.Class {
	for i := at - 1; i >= max(first, at-3*window); i-- {
		if m := s.found.covering(equipment, i); m != nil && s.versionOf(m.senses[0].class) != nil {
			return m.senses[0].class
		}
	}
	return ""
}

// versionOf returns the firmware of a class, or else the only version reading
// that can be asked of it.
func (s *scan) versionOf(class knowledge.Class) *knowledge.Reading {
	if r := s.pack.Reading(string(class) + ".firmware"); r != nil && r.Kind == knowledge.Version {
		return r
	}
	var found *knowledge.Reading
	for i := range s.pack.Readings {
		if r := &s.pack.Readings[i]; r.Kind == knowledge.Version && r.Class == class && r.Askable() {
			if found != nil {
				return nil
			}
			found = r
		}
	}
	return found
}

// versionBehind takes the version behind a name, before the next name.
func (s *scan) versionBehind(r *knowledge.Reading, m *match, c *clause) bool {
	last := min(c.last, m.last+window)
	for i := m.last; i < min(c.last, m.last+window); i++ {
		if o := s.found.covering(name, i); o != nil && o.first == i && o != m {
			last = i
			break
		}
	}
	first, end := s.versionIn(m.last, last, true)
	if first < 0 {
		first, end = s.versionIn(max(c.first, m.first-8), m.first, false) // "1.06 on the hub fw"
		if first < 0 {
			return false
		}
	}
	s.giveVersion(r, m.first, first, end)
	return true
}

// greatestMajor keeps volts apart from versions: "panel 13.2".
const greatestMajor = 8

// versionBeside reads a version right behind a thing that has one: "panel is
// on 5.4", "moor large 5.0".
func (s *scan) versionBeside(m *match, c *clause) bool {
	r := s.versionOf(m.senses[0].class)
	if r == nil || m.senses[0].class == knowledge.Site {
		return false
	}
	at := m.last
	for at < min(c.last, m.last+4) && s.kind(at) == word && (s.roleOf(at).has(filler) || s.roleOf(at).has(runsOn)) {
		at++
	}
	first, end := s.versionIn(at, min(c.last, at+5), false)
	if first != at {
		return false
	}
	major, _, dotted := strings.Cut(s.raw(first, end), ".")
	if n, err := strconv.Atoi(strings.TrimLeft(major, "vV ")); err != nil || !dotted || n > greatestMajor {
		return false
	}
	for _, g := range s.out.Readings {
		if g.Reading == r.Name.S && g.Subject == s.subject(r.Class, first) {
			return false
		}
	}
	s.giveVersion(r, m.first, first, end)
	return true
}

func (s *scan) versionAsked(c *clause) {
	r := s.asked(knowledge.Version)
	if r == nil {
		return
	}
	if first, end := s.versionIn(c.first, c.last, s.bareClause(c)); first >= 0 {
		s.giveVersion(r, first, first, end)
	}
}

// bareClause tells whether a clause is a number and small words.
func (s *scan) bareClause(c *clause) bool {
	for i := c.first; i < c.last; i++ {
		if s.kind(i) == word && !s.taken[i] && !s.roleOf(i).has(filler) && len(s.tokens[i].text) > 1 {
			return false
		}
	}
	return true
}

func (s *scan) giveVersion(r *knowledge.Reading, from, first, end int) {
	text := strings.TrimRight(s.raw(first, end), ".,;")
	s.give(r, s.subject(r.Class, first), rules.Named(text), min(from, first), max(end, from+1))
	for i := first; i < end; i++ {
		s.taken[i] = true
	}
}

// versionIn returns the tokens of the first version among tokens first to
// last. A whole number counts only where it must be one.
func (s *scan) versionIn(first, last int, whole bool) (from, end int) {
	if first >= last {
		return -1, -1
	}
	base := s.tokens[first].start
	for _, span := range firmware.Find(s.text[base:s.tokens[last-1].end]) {
		from, end := s.tokensOf(base+span.Start, base+span.End, first, last)
		if from >= 0 && s.freeForVersion(from, end) {
			return from, end
		}
	}
	if !whole {
		return -1, -1
	}
	for i := first; i < last && i < first+4; i++ {
		if s.kind(i) == number && s.freeForVersion(i, i+1) {
			return i, i + 1
		}
		if s.kind(i) == word && !s.roleOf(i).has(filler) && len(s.tokens[i].text) > 1 && s.found.covering(speech, i) == nil {
			break
		}
	}
	return -1, -1
}

// freeForVersion tells whether tokens are not taken, and no measurement.
func (s *scan) freeForVersion(from, end int) bool {
	inside := s.glued(from) && s.kind(from-1) == number // the v8 of 10v8
	behind := s.glued(from) && s.kind(from-1) == word && s.glued(from-1) && s.kind(from-2) == number
	if inside || behind {
		return false
	}
	for i := from; i < end; i++ {
		if s.index[i] || s.kind(i) == number && s.taken[i] && !s.onlyGap(i) {
			return false
		}
	}
	u, _, ok := s.unitAt(end)
	return !ok || u[0].Dimension() == units.Length && s.tokens[end].spaced && len(s.tokens[end].text) == 1
}

// tokensOf returns the tokens that a span of the text covers.
func (s *scan) tokensOf(start, stop, first, last int) (from, end int) {
	from = -1
	for i := first; i < last && s.tokens[i].start < stop; i++ {
		if s.tokens[i].end > start {
			if from < 0 {
				from = i
			}
			end = i + 1
		}
	}
	return from, end
}
