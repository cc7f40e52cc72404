package intake

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

type tokenKind uint8

const (
	word tokenKind = iota
	number
	mark
)

// token is a word, a number or a mark. A word ends where digits begin, so
// that kp1, 72mV and 10v8 are parted; spaced tells them from "kp 1".
type token struct {
	text       string // words folded, marks made plain
	start, end int
	word       int32 // in the lexicon; 0 is none
	form       int32 // another form of it (singular, plural) that is in the lexicon as well
	kind       tokenKind
	roles      roles // what it is by itself, in the languages of the message
	spaced     bool  // white space stands before it
	line       bool  // a new line begins before it
}

func tokenize(text string) []token {
	tokens := make([]token, 0, len(text)/4+8)
	spaced, line := true, false
	for i := 0; i < len(text); {
		c := text[i]
		if c < utf8.RuneSelf && asciiSpace[c] {
			spaced, line = true, line || c == '\n'
			i++
			continue
		}
		r, size := utf8.DecodeRuneInString(text[i:])
		t := token{start: i, end: i + size, spaced: spaced, line: line, kind: mark}
		switch {
		case unicode.IsSpace(r) || unicode.Is(unicode.Cf, r):
			spaced = true
			i += size
			continue
		case r >= '0' && r <= '9':
			t.kind, t.end = number, numberEnd(text, i)
			t.text = text[i:t.end]
		case r == '.' && spaced && i+1 < len(text) && text[i+1] >= '0' && text[i+1] <= '9':
			t.kind, t.end = number, numberEnd(text, i+1)
			t.text = "0" + text[i:t.end]
		case unicode.IsLetter(r) && r != 'º' && r != 'ª':
			t.kind, t.end = word, wordEnd(text, i)
			t.text = fold(text[i:t.end])
			if t.text == "ω" {
				t.text = "ohm" // U+2126 folds to it as well
			}
		default:
			t.text = plainMark(r, text[i:t.end])
		}
		tokens = append(tokens, t)
		spaced, line = false, false
		i = t.end
	}
	return tokens
}

var asciiSpace = [utf8.RuneSelf]bool{' ': true, '\t': true, '\n': true, '\r': true, '\v': true, '\f': true}

func numberEnd(text string, i int) int {
	digit := func(i int) bool { return i < len(text) && text[i] >= '0' && text[i] <= '9' }
	for digit(i) || i < len(text) && (text[i] == '.' || text[i] == ',') && digit(i+1) {
		i++
	}
	return i
}

// wordEnd finds the end of a word. An apostrophe inside belongs to it.
func wordEnd(text string, i int) int {
	for i < len(text) {
		c := text[i]
		if c|0x20 >= 'a' && c|0x20 <= 'z' {
			i++
			continue
		}
		r, size := utf8.DecodeRuneInString(text[i:])
		if apostrophe(r) {
			next, _ := utf8.DecodeRuneInString(text[i+size:])
			if !unicode.IsLetter(next) {
				return i
			}
		} else if c < utf8.RuneSelf || !unicode.IsLetter(r) && !unicode.Is(unicode.Mn, r) {
			return i
		}
		i += size
	}
	return i
}

func apostrophe(r rune) bool { return r == '\'' || r == '’' || r == '‘' || r == '`' || r == '´' }

// fold makes a word independent of case, accents and apostrophes: people type
// "haslo" for "hasło", and "wont" for "won't".
func fold(s string) string {
	plain := true
	for i := 0; i < len(s); i++ {
		if s[i] < 'a' || s[i] > 'z' {
			plain = false
			break
		}
	}
	if plain {
		return s
	}
	var b strings.Builder
	b.Grow(len(s))
	for _, r := range s {
		foldRune(&b, r)
	}
	return b.String()
}

func foldRune(b *strings.Builder, r rune) {
	switch {
	case apostrophe(r):
	case r < utf8.RuneSelf:
		b.WriteByte(byte(unicode.ToLower(r)))
	default:
		r = unicode.ToLower(r)
		if plain, ok := noMarks[r]; ok {
			b.WriteString(plain)
			return
		}
		var buf [utf8.UTFMax]byte
		for _, d := range string(norm.NFKD.Bytes(buf[:utf8.EncodeRune(buf[:], r)])) {
			if !unicode.Is(unicode.Mn, d) {
				b.WriteRune(unicode.ToLower(d))
			}
		}
	}
}

// noMarks are letters that Unicode does not take apart.
var noMarks = map[rune]string{'ł': "l", 'ß': "ss", 'ø': "o", 'æ': "ae", 'œ': "oe", 'đ': "d", 'ı': "i"}

func plainMark(r rune, s string) string {
	switch r {
	case '−', '–', '—', '‐', '‑', '‒':
		return "-"
	case '≈', '∼', '≅':
		return "~"
	case '％':
		return "%"
	case 'º', '˚':
		return "°"
	case '’', '‘', '`', '´':
		return "'"
	case '，':
		return ","
	}
	return s
}

// is tells whether token i is this mark or word.
func (s *scan) is(i int, text string) bool {
	return i >= 0 && i < len(s.tokens) && s.tokens[i].text == text
}

// glued tells whether token i stands against the one before it.
func (s *scan) glued(i int) bool { return i > 0 && i < len(s.tokens) && !s.tokens[i].spaced }

func (s *scan) kind(i int) tokenKind {
	if i < 0 || i >= len(s.tokens) {
		return mark
	}
	return s.tokens[i].kind
}

// raw is the text of tokens first to last, the end left out.
func (s *scan) raw(first, last int) string {
	if first >= last {
		return ""
	}
	return s.text[s.tokens[first].start:s.tokens[last-1].end]
}
