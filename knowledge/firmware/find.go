package firmware

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// Span is a piece of a text in bytes: text[Start:End].
type Span struct{ Start, End int }

// Find returns the pieces of a text that can be versions, from left to right
// and without overlap. Each is read by the Parse of some scheme, if only as
// ambiguous. It takes time linear in the length of the text.
//
// A number counts when it has a point in it or a word such as v or fw before
// it, which belongs to the piece; so do a letter and a build date behind it.
// Find is generous: "13.8" of "13.8 V" is among its answers, and the message
// intake, which knows units and what was asked, takes those away. A signed
// number, a number inside a word, a date on its own and the 0.2 of a cable
// "7/0.2" are left out, and so is a point, plus or hyphen at the end.
func Find(text string) []Span {
	var spans []Span
	for i := 0; i < len(text); {
		if !mayStart(text, i) {
			i++
			continue
		}
		s := scanner{text: text, pos: i}
		if s.span() {
			spans = append(spans, Span{i, s.pos})
		}
		i = max(s.pos, i+1)
	}
	return spans
}

// mayStart says whether a version or its prefix can begin at i.
func mayStart(text string, i int) bool {
	switch c := text[i] | 0x20; {
	case isDigit(text[i]):
	case c == 'v' || c == 'f':
	default:
		return false
	}
	before, size := utf8.DecodeLastRuneInString(text[:i])
	if size == 0 {
		return true
	}
	if isWord(before) {
		return false
	}
	beforeThat, _ := utf8.DecodeLastRuneInString(text[:i-size])
	switch before {
	case '-', '+', '−':
		return isWord(beforeThat) // else a sign
	case '.', ',', '/':
		return !unicode.IsDigit(beforeThat)
	}
	return true
}

func isWord(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) || r == '_' }

// span reads one candidate. Whether it is one or not, pos is where to go on.
func (s *scanner) span() bool {
	start := s.pos
	prefixed := s.attachedPrefix()
	first := s.pos
	var r raw
	if !s.numbers(&r) || r.n == 1 && !prefixed {
		return false
	}
	if !prefixed && s.isDate(first) {
		return false
	}
	s.letter(&r)
	if s.insideWord() {
		return false
	}
	if end, ok := s.semverTail(start, &r); ok {
		s.pos = end
	} else {
		s.buildDate()
	}
	return true
}

// attachedPrefix is prefix, but a v on its own must touch the number: in
// "at 12 v 2 zones" it is a unit.
func (s *scanner) attachedPrefix() bool {
	start := s.pos
	ok := s.prefix()
	if ok && s.pos-start > 1 && s.at(start)|0x20 == 'v' && (s.at(start+1) == ' ' || s.at(start+1) == '\t') {
		return false
	}
	return ok
}

// isDate says whether the numbers from start to pos are a date by themselves.
func (s *scanner) isDate(start int) bool {
	d := scanner{text: s.text[:s.pos], pos: start}
	return d.date().n > 0 && d.done()
}

// semverTail finds the end of a prerelease or build metadata, which only the
// semver scheme reads.
func (s *scanner) semverTail(start int, r *raw) (end int, ok bool) {
	if c := s.peek(); r.n != 3 || r.letter != 0 || c != '-' && c != '+' {
		return 0, false
	}
	for end = s.pos; end < len(s.text) && end-start <= maxText && isTail(s.text[end]); end++ {
	}
	token := strings.TrimRight(s.text[start:end], ".-+")
	_, err := Scheme{semVer}.parseSemver(token)
	return start + len(token), err == nil && len(token) > s.pos-start
}

func isTail(c byte) bool { return isDigit(c) || isLetter(c) || c == '.' || c == '-' || c == '+' }
