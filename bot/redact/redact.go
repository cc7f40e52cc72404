// Package redact takes codes, passwords, tokens, telephone numbers and e-mail
// addresses out of a text before anything else sees it.
//
// A number is a secret only in context: behind a word such as code, PIN or
// Kennwort and the few words that may stand between, in front of "is the
// code", or written as a telephone number. Everything else stays, since a
// serial number, a voltage, a year or a version that is taken away costs the
// technician a question: precision counts as much as recall.
//
// The text is cut into tokens, and each rule walks over the tokens with a
// bounded view, so that the time is linear in the length of the text. What
// was removed before counts as a secret again, and so a second pass finds
// nothing new.
package redact

import "strings"

// Kind says what was taken out.
type Kind string

// The kinds of secret.
const (
	Code     Kind = "code"
	Password Kind = "password"
	Token    Kind = "token"
	Phone    Kind = "phone number"
	Email    Kind = "e-mail address"
)

// Found is a secret by its place in the text as it was given.
type Found struct {
	Start, End int
	Kind       Kind
}

// removed is what stands in place of a secret.
func removed(k Kind) string { return "[" + string(k) + " removed]" }

// mostPasses bounds the work on texts made to keep it busy; a message that a
// person writes needs one pass.
const mostPasses = 8

// Redact returns the text with each secret replaced by words, and where the
// secrets stood in the text as given, from left to right and without overlap.
func Redact(text string) (clean string, found []Found) {
	clean = text
	for range mostPasses {
		// Taking one secret out can lay another bare.
		more := pass(clean)
		if len(more) == 0 {
			break
		}
		clean = replace(clean, more)
		found = merge(found, more)
	}
	return clean, found
}

// pass finds the secrets of a text.
func pass(text string) []Found {
	s := &scanner{text: text, tokens: tokenize(text)}
	for i := 0; i < len(s.tokens); {
		end, kind := s.secretAt(i)
		if end == i {
			i++
			continue
		}
		s.found = append(s.found, Found{s.tokens[i].start, s.tokens[end-1].end, kind})
		i = end
	}
	return s.found
}

// merge adds what was found in a text of which the old secrets were replaced.
func merge(old, more []Found) []Found {
	out := make([]Found, 0, len(old)+len(more))
	shift, i := 0, 0 // place in the given text less place in the replaced one
	for _, f := range more {
		for ; i < len(old) && old[i].Start <= f.Start+shift; i++ {
			shift += old[i].End - old[i].Start - len(removed(old[i].Kind))
			out = append(out, old[i])
		}
		out = append(out, Found{f.Start + shift, f.End + shift, f.Kind})
	}
	return append(out, old[i:]...)
}

// scanner is the work on one text.
type scanner struct {
	text   string
	tokens []token
	found  []Found

	// The end of a row of secrets in front of the present token: "code 1234
	// and 5678".
	chainEnd int
	// The secret that belongs to the noun seen last.
	value, valueEnd int
	valueKind       Kind
	// No e-mail address begins before this token.
	noEmail int
}

// secretAt returns the end of the secret that begins at token i, or i.
func (s *scanner) secretAt(i int) (int, Kind) {
	if end := s.tokenSecret(i); end > i {
		return end, Token
	}
	if end := s.email(i); end > i {
		return end, Email
	}
	if s.value == i && i > 0 {
		s.chainEnd = s.valueEnd
		return s.valueEnd, s.valueKind
	}
	s.noun(i)
	if end := s.phone(i); end > i {
		return end, Phone
	}
	if end := s.chained(i); end > i {
		s.chainEnd = end
		return end, Code
	}
	if end := s.codeBefore(i); end > i {
		s.chainEnd = end
		return end, Code
	}
	return i, ""
}

// Marks returns where the marks of removed secrets stand in a clean text, each
// as its beginning and end in bytes.
func Marks(clean string) [][2]int {
	var out [][2]int
	for at := 0; ; {
		open := strings.IndexByte(clean[at:], '[')
		if open < 0 {
			return out
		}
		at += open
		for _, k := range []Kind{Code, Password, Token, Phone, Email} {
			if strings.HasPrefix(clean[at:], removed(k)) {
				out = append(out, [2]int{at, at + len(removed(k))})
			}
		}
		at++
	}
}

func replace(text string, found []Found) string {
	var b strings.Builder
	b.Grow(len(text))
	end := 0
	for _, f := range found {
		b.WriteString(text[end:f.Start])
		b.WriteString(removed(f.Kind))
		end = f.End
	}
	b.WriteString(text[end:])
	return b.String()
}
