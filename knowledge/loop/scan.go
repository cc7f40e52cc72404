package loop

import (
	"strings"
	"unicode/utf8"
)

const (
	maxText   = 64
	maxDigits = 15 // so that the digits are a whole number that float64 holds

	wantCode     = "a code or a number, as 4K7, 470R, 2k2, 4700, 4.7k or 10 kohm"
	wantDigits   = "at most 15 digits, as 4K7 or 4700"
	wantFraction = "one decimal sign, and digits after it: 4.7k or 4K7"
	wantUpper    = "the tolerance letter in upper case, one of B C D F G J K M, or the tolerance in %, as 4K7J or 4k7 5 %"
	wantPercent  = "the tolerance as a number in %, as 4K7 5 %"
	wantOneOf    = "the tolerance once, as a letter or in %: 4K7J or 4K7 5 %"
	wantMilli    = "a thousandth of an ohm with upper-case L, as 4L7, or a thousand with k, as 4k7"
	wantGiga     = "a thousand million with upper-case G, as 1G0, or ohm, thousand and million with R, k and M"
	wantNoSign   = "a resistance without a sign, as 4K7"
)

// scanner reads a resistance from the front of the rest.
type scanner struct {
	rest      string
	digits    uint64
	n         int  // digits read
	before    int  // digits before the sign or letter
	fraction  int  // digits after it
	zero      bool // a single 0 stands before the sign
	sign      bool // a point or a comma was read
	letter    byte // multiplier, 0 for none
	small     bool // the letter is a small m
	exponent  int  // of the letter
	tolerance float64
}

// scan reads the whole text, or says what would be right.
func (s *scanner) scan() (want string) {
	if strings.HasPrefix(s.rest, "-") || strings.HasPrefix(s.rest, "+") {
		return wantNoSign
	}
	s.before = s.number()
	s.zero = s.before == 1 && s.digits == 0
	if s.take(".") || s.take(",") {
		s.sign = true
		if s.fraction = s.number(); s.fraction == 0 {
			return wantFraction
		}
	}
	if want := s.multiplier(); want != "" {
		return want
	}
	switch {
	case s.n == 0:
		return wantCode
	case s.n > maxDigits:
		return wantDigits
	}
	return s.tail()
}

// multiplier reads the letter and, where no sign was, the digits after it.
func (s *scanner) multiplier() (want string) {
	start := *s
	s.spaces()
	if s.rest == "" {
		return ""
	}
	letter := s.rest[0]
	switch letter {
	case 'R', 'r':
	case 'K', 'k':
		s.exponent = 3
	case 'M':
		s.exponent = 6
	case 'm':
		s.exponent, s.small = 6, true
	case 'G':
		s.exponent = 9
	case 'L':
		s.exponent = -3
	case 'l':
		return wantMilli
	case 'g':
		return wantGiga
	default:
		*s = start
		return ""
	}
	spaced := len(s.rest) != len(start.rest)
	s.letter, s.rest = letter, s.rest[1:]
	if n := s.number(); n > 0 {
		if s.sign {
			return wantFraction
		}
		if spaced {
			return wantCode
		}
		s.fraction = n
	}
	return ""
}

// tail reads tolerance letter, unit and tolerance in %, each of which may be
// missing.
func (s *scanner) tail() (want string) {
	s.spaces()
	letter := s.toleranceLetter()
	s.spaces()
	s.unit()
	s.spaces()
	if s.rest == "" {
		return ""
	}
	if s.letter != 0 && !letter && len(s.rest) == 1 && strings.Contains("bcdfgjkm", s.rest) {
		return wantUpper
	}
	text, ok := strings.CutSuffix(s.rest, "%")
	if !ok {
		return wantCode
	}
	if letter {
		return wantOneOf
	}
	return s.percent(text)
}

func (s *scanner) percent(text string) (want string) {
	for _, prefix := range []string{"±", "+/-", "+-"} {
		if after, ok := strings.CutPrefix(text, prefix); ok {
			text = after
			break
		}
	}
	p := scanner{rest: strings.TrimSpace(text)}
	p.before = p.number()
	if p.take(".") || p.take(",") {
		p.fraction = p.number()
	}
	if p.before == 0 || p.n > maxDigits || strings.TrimSpace(p.rest) != "" {
		return wantPercent
	}
	s.tolerance = p.ohms(0)
	return ""
}

// toleranceLetter reads one; it needs a multiplier before it, since a number
// alone is no code.
func (s *scanner) toleranceLetter() bool {
	if s.letter == 0 || s.rest == "" {
		return false
	}
	percent := tolerance(s.rest[0])
	if percent == 0 {
		return false
	}
	s.tolerance, s.rest = percent, s.rest[1:]
	return true
}

// tolerance is in %, 0 for a letter that is none. Source: see Parse.
func tolerance(letter byte) float64 {
	switch letter {
	case 'B':
		return 0.1
	case 'C':
		return 0.25
	case 'D':
		return 0.5
	case 'F':
		return 1
	case 'G':
		return 2
	case 'J':
		return 5
	case 'K':
		return 10
	case 'M':
		return 20
	}
	return 0
}

func (s *scanner) unit() {
	if s.take("Ω") || s.take("\u2126") { // Greek letter or ohm sign
		return
	}
	for _, word := range []string{"ohms", "ohm"} {
		if len(s.rest) >= len(word) && strings.EqualFold(s.rest[:len(word)], word) {
			s.rest = s.rest[len(word):]
			return
		}
	}
}

// number reads digits and counts them. Above 15 they only count.
func (s *scanner) number() (n int) {
	for ; n < len(s.rest) && s.rest[n] >= '0' && s.rest[n] <= '9'; n++ {
		if s.n++; s.n <= maxDigits {
			s.digits = s.digits*10 + uint64(s.rest[n]-'0')
		}
	}
	s.rest = s.rest[n:]
	return n
}

func (s *scanner) take(prefix string) (ok bool) {
	s.rest, ok = strings.CutPrefix(s.rest, prefix)
	return ok
}

func (s *scanner) spaces() {
	for s.take(" ") || s.take("\u00a0") || s.take("\u202f") {
	}
}

func (s *scanner) ohms(exponent int) float64 { return decimalValue(s.digits, exponent-s.fraction) }

// thousands reports whether the sign may part thousands: 4,700 or 4.700. With
// a letter nobody writes them.
func (s *scanner) thousands() bool {
	return s.sign && s.letter == 0 && s.fraction == 3 && s.before >= 1 && s.before <= 3 && !s.zero
}

func (s *scanner) ambiguous(text string) error {
	first, second := s.ohms(0), s.ohms(3)
	if s.small {
		first, second = s.ohms(-3), s.ohms(6)
	}
	e := &AmbiguousError{Text: text}
	for _, ohms := range []float64{first, second} {
		if code, err := Format(ohms); err == nil {
			e.Candidates = append(e.Candidates, code)
		}
	}
	if len(e.Candidates) < 2 || !utf8.ValidString(text) {
		return &SyntaxError{text, wantCode}
	}
	return e
}
