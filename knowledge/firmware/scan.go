package firmware

import "unicode/utf8"

const (
	maxParts  = 6
	maxText   = 256       // as in node-semver; a longer text is a pasted page
	maxNumber = 1<<53 - 1 // as in node-semver
)

// raw is a version as written, before a scheme says what it means.
type raw struct {
	parts       [maxParts]uint64
	n           int
	minorDigits int
	letter      byte // 1 for a to 26 for z, 0 for none
	dates       dates
}

// scanner reads one version from pos on. Its methods leave pos where they
// stopped, so that Find never reads a stretch of text more than a few times.
type scanner struct {
	text string
	pos  int
}

func (s *scanner) done() bool { return s.pos >= len(s.text) }

// peek returns 0 at the end.
func (s *scanner) peek() byte { return s.at(s.pos) }

func (s *scanner) at(i int) byte {
	if i < 0 || i >= len(s.text) {
		return 0
	}
	return s.text[i]
}

func (s *scanner) spaces() {
	for c := s.peek(); c == ' ' || c == '\t'; c = s.peek() {
		s.pos++
	}
}

// word takes a word in any case, a point or colon after it, and space. The
// word must end there: fw takes no part of "fwd".
func (s *scanner) word(word string) bool {
	end := s.pos + len(word)
	if end > len(s.text) {
		return false
	}
	for i := range len(word) {
		if s.text[s.pos+i]|0x20 != word[i] {
			return false
		}
	}
	if isLetter(s.at(end)) || s.at(end) >= utf8.RuneSelf {
		return false
	}
	s.pos = end
	if c := s.peek(); c == '.' || c == ':' {
		s.pos++
	}
	s.spaces()
	return true
}

// prefix takes "fw", "v", "firmware version" and the like.
func (s *scanner) prefix() bool {
	device := s.word("firmware") || s.word("fw")
	return s.word("version") || s.word("ver") || s.word("v") || device
}

// number reads digits. It fails on none, and on more than maxNumber.
func (s *scanner) number() (value uint64, digits int, ok bool) {
	start := s.pos
	for !s.done() && isDigit(s.text[s.pos]) {
		if value <= maxNumber {
			value = value*10 + uint64(s.text[s.pos]-'0')
		}
		s.pos++
	}
	digits = s.pos - start
	return value, digits, digits > 0 && value <= maxNumber
}

// numbers reads the numeric parts. It fails on an unreadable number and on
// more than maxParts.
func (s *scanner) numbers(r *raw) bool {
	for {
		value, digits, ok := s.number()
		if !ok {
			return false
		}
		r.parts[r.n] = value
		if r.n == 1 {
			r.minorDigits = digits
		}
		r.n++
		if s.peek() != '.' || !isDigit(s.at(s.pos+1)) {
			return true
		}
		if r.n == maxParts {
			return false
		}
		s.pos++
	}
}

// letter reads one letter that is not the start of a word.
func (s *scanner) letter(r *raw) {
	c := s.peek()
	if !isLetter(c) {
		return
	}
	s.pos++
	if s.insideWord() {
		s.pos--
		return
	}
	r.letter = c | 0x20 - 'a' + 1
}

// insideWord says that what was read goes on as a word or a number.
func (s *scanner) insideWord() bool {
	c := s.peek()
	return isLetter(c) || isDigit(c) || c >= utf8.RuneSelf || c == '.' && isDigit(s.at(s.pos+1))
}

func isDigit(c byte) bool  { return '0' <= c && c <= '9' }
func isLetter(c byte) bool { return 'a' <= c|0x20 && c|0x20 <= 'z' }
