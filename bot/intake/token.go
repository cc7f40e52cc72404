package intake

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// token is a word, a number or a mark, with its place in the text.
type token struct {
	text       string // lower case, apostrophes left out
	start, end int
	kind       tokenKind
}

type tokenKind uint8

const (
	word tokenKind = iota
	number
	mark
)

// tokenize splits a text in one pass. Digits and letters that stand together
// are parted (72mV, kp1), except in a resistor code or a voltage such as 10v8.
func tokenize(text string) []token {
	var tokens []token
	for i := 0; i < len(text); {
		r, size := utf8.DecodeRuneInString(text[i:])
		end := i + size
		switch {
		case unicode.IsSpace(r):
		case r >= '0' && r <= '9': // the digits of other scripts are marks
			end = numberEnd(text, i)
			tokens = append(tokens, token{text[i:end], i, end, number})
		case unicode.IsLetter(r):
			end = wordEnd(text, i)
			tokens = append(tokens, token{normalWord(text[i:end]), i, end, word})
		default:
			tokens = append(tokens, token{normalMark(r), i, end, mark})
		}
		i = end
	}
	return tokens
}

func numberEnd(text string, i int) int {
	for i < len(text) {
		c := text[i]
		inside := (c == '.' || c == ',') && i+1 < len(text) && text[i+1] >= '0' && text[i+1] <= '9'
		if (c < '0' || c > '9') && !inside {
			break
		}
		i++
	}
	return i
}

func wordEnd(text string, i int) int {
	for i < len(text) {
		r, size := utf8.DecodeRuneInString(text[i:])
		if !unicode.IsLetter(r) && !unicode.Is(unicode.Mn, r) {
			next, _ := utf8.DecodeRuneInString(text[i+size:])
			if r != '\'' && r != '’' || !unicode.IsLetter(next) {
				break
			}
		}
		i += size
	}
	return i
}

func normalWord(s string) string {
	s = strings.ToLower(s)
	s = strings.ReplaceAll(s, "'", "")
	return strings.ReplaceAll(s, "’", "")
}

func normalMark(r rune) string {
	switch r {
	case '−', '–', '—':
		return "-"
	case '≥', '≤':
		return map[rune]string{'≥': ">", '≤': "<"}[r]
	}
	return string(r)
}

// ends tells whether a mark ends a clause.
func (t token) ends() bool {
	return t.kind == mark && strings.ContainsAny(t.text, ",;.!?\n:") && t.text != ":" || t.kind == word && t.text == "but"
}
