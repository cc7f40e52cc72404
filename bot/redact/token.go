package redact

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

type kind uint8

const (
	word   kind = iota // letters
	digits             // a run of digits
	mark               // anything else that is no space
	gone               // what a secret was replaced by
)

// token is a run of letters, a run of digits or a single mark.
type token struct {
	start, end int
	kind       kind
	spaced     bool   // a space stands before it
	line       bool   // a new line begins before it
	text       string // folded to lower case for words
}

func tokenize(text string) []token {
	tokens := make([]token, 0, len(text)/4+8)
	spaced, line := false, false
	for i := 0; i < len(text); {
		r, size := utf8.DecodeRuneInString(text[i:])
		if unicode.IsSpace(r) {
			spaced = true
			line = line || r == '\n' || r == '\r'
			i += size
			continue
		}
		end, k := i+size, mark
		switch {
		case r == '[' && marker(text[i:]) > 0:
			end, k = i+marker(text[i:]), gone
		case unicode.IsDigit(r):
			k, end = digits, run(text, i, unicode.IsDigit)
		case isLetter(r):
			k, end = word, run(text, i, isLetter)
		}
		t := token{start: i, end: end, kind: k, spaced: spaced, line: line, text: text[i:end]}
		if k == word {
			t.text = fold(t.text)
		}
		tokens = append(tokens, t)
		spaced, line = false, false
		i = end
	}
	return tokens
}

func isLetter(r rune) bool { return unicode.IsLetter(r) || unicode.Is(unicode.Mn, r) }

func run(text string, i int, in func(rune) bool) int {
	for i < len(text) {
		r, size := utf8.DecodeRuneInString(text[i:])
		if !in(r) {
			break
		}
		i += size
	}
	return i
}

// marker returns the length of the words that a secret was replaced by, if
// the text begins with them.
func marker(text string) int {
	for _, k := range []Kind{Code, Password, Token, Phone, Email} {
		if w := removed(k); strings.HasPrefix(text, w) {
			return len(w)
		}
	}
	return 0
}

var foldRunes = strings.NewReplacer(
	"ą", "a", "ć", "c", "ę", "e", "ł", "l", "ń", "n", "ó", "o", "ś", "s", "ź", "z", "ż", "z",
	"á", "a", "é", "e", "í", "i", "ú", "u", "ñ", "n", "è", "e", "à", "a", "ì", "i", "ò", "o", "ù", "u",
	"ê", "e", "ç", "c", "ä", "a", "ö", "o", "ü", "u", "ß", "ss",
	"\u0300", "", "\u0301", "", "\u0303", "", "\u0308", "", "\u0327", "", "\u0328", "", "\u0307", "",
)

// fold lowers the case and takes the accents off, as phones often do.
func fold(s string) string {
	for i := 0; i < len(s); i++ {
		if s[i] >= utf8.RuneSelf {
			return foldRunes.Replace(strings.ToLower(s))
		}
	}
	return strings.ToLower(s)
}

func (s *scanner) at(i int) token {
	if i < 0 || i >= len(s.tokens) {
		return token{kind: mark, spaced: true, line: true}
	}
	return s.tokens[i]
}

// glued tells whether a token stands against the one before it.
func (s *scanner) glued(i int) bool {
	return i > 0 && i < len(s.tokens) && !s.tokens[i].spaced
}
