package firmware

import "strings"

const wantDate = "a build date, if that is what follows, as 20260311, 2026-03-11 or 11.03.2026; and a version as "

// Parse reads a version. It fails with an *AmbiguousError when the text stands
// for several versions and with a *SyntaxError when it stands for none.
func (s Scheme) Parse(text string) (Version, error) {
	if len(text) > maxText || s.id == none {
		return Version{}, s.syntax(text, s.spec().want)
	}
	if s.id == semVer {
		return s.parseSemver(text)
	}
	r, want := s.scan(text)
	if want != "" {
		return Version{}, s.syntax(text, want)
	}
	minors, n := s.minors(r.parts[1], r.minorDigits)
	if n == 0 {
		return Version{}, s.syntax(text, s.spec().want)
	}
	if n > 1 || r.dates.n > 1 {
		return Version{}, s.ambiguous(text, r, minors[:n])
	}
	return s.version(r, minors[0], r.dates.list[0]), nil
}

// scan reads the whole text, or says what would be right.
func (s Scheme) scan(text string) (r raw, want string) {
	sc := scanner{text: strings.TrimSpace(text)}
	sc.prefix()
	spec := s.spec()
	if !sc.numbers(&r) || r.n > spec.parts {
		return r, spec.want
	}
	if spec.letters {
		sc.spacedLetter(&r)
	}
	if sc.done() {
		return r, ""
	}
	if r.dates = sc.buildDate(); !sc.done() {
		return r, wantDate + spec.want
	}
	return r, ""
}

// spacedLetter reads a letter, also after space: "2.04 b".
func (s *scanner) spacedLetter(r *raw) {
	start := s.pos
	s.spaces()
	if s.letter(r); r.letter == 0 {
		s.pos = start
	}
}

// minors returns what a minor as written can mean, in rising order; nothing
// when it has more digits than the scheme knows. A missing minor has 0 digits.
func (s Scheme) minors(value uint64, digits int) (list [2]uint64, n int) {
	switch s.id {
	case twoDigit:
		switch {
		case digits > 2:
			return list, 0
		case digits == 1 && value != 0: // 3.0 is 3.00 either way
			return [2]uint64{value, value * 10}, 2
		}
	case shortMinor:
		if digits > 2 {
			return list, 0
		}
	case decimal:
		if digits > decimalPlaces {
			return list, 0
		}
		for ; digits < decimalPlaces; digits++ {
			value *= 10
		}
	}
	return [2]uint64{value}, 1
}

func (s Scheme) version(r raw, minor uint64, date buildDate) Version {
	v := Version{scheme: s, parts: r.parts, letter: r.letter, date: date}
	v.parts[1] = minor
	return v
}

func (s Scheme) ambiguous(text string, r raw, minors []uint64) *AmbiguousError {
	e := &AmbiguousError{Text: text, Scheme: s.Name()}
	for _, minor := range minors {
		for _, date := range r.dates.list[:max(r.dates.n, 1)] {
			e.Candidates = append(e.Candidates, s.version(r, minor, date).String())
		}
	}
	return e
}
