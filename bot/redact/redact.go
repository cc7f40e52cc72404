// Package redact takes codes, passwords, tokens, telephone numbers and e-mail
// addresses out of a text before anything else sees it. A number is taken for
// a code only in context, so that serial numbers, voltages, years, versions
// and resistor values stay.
package redact

import (
	"regexp"
	"slices"
)

// Kind says what was taken out.
type Kind string

// The kinds.
const (
	Code    Kind = "code"
	Token   Kind = "token"
	Phone   Kind = "phone number"
	Address Kind = "address"
)

// span is a secret by its place.
type span struct {
	start, end int
	kind       Kind
}

// The words in front of a code, in seven languages. Words that make a harmless
// number of what follows (error code, event code) are looked for first.
const codeWords = `(?:installer code|engineer code|user code|master code|access code|alarm code|pass ?code|pass ?word|pass ?phrase|pin ?code|pin ?number|pincode|passwd|pwd|pin|code|kennwort|passwort|zugangscode|benutzercode|kod|hasło|haslo|clave|código|codigo|contraseña|mot de passe|codice|parola d'ordine|wachtwoord)`

var (
	token    = regexp.MustCompile(`\bx(?:ox[a-z]|app)-[A-Za-z0-9-]{6,}|(?i:\bbearer\s+)([A-Za-z0-9._~+/=-]{8,})|\beyJ[A-Za-z0-9_-]{10,}(?:\.[A-Za-z0-9_-]+)*|\bgh[pousr]_[A-Za-z0-9]{16,}`)
	mail     = regexp.MustCompile(`[A-Za-z0-9._%+-]+@[A-Za-z0-9.-]+\.[A-Za-z]{2,}`)
	phone    = regexp.MustCompile(`\+\d[\d ()/.-]{6,18}\d|(?i:\b(?:tel|telephone|phone|mobile|call me on|call|ring|handy|telefon|tel\.|téléphone|teléfono|telefono|telefoon)[ .:]*)(\(?0[\d ()/-]{6,18}\d)`)
	harmless = regexp.MustCompile(`(?i)\b(?:error|event|fault|colou?r|date|post|bar|zip|product|type|model|fehler|farb|datum|erreur|couleur|errore|foutmelding)[ -]?code\b|\bcodes? (?:lock|is locked)`)
	code     = regexp.MustCompile(`(?i)(?:^|[^\p{L}\p{N}])` + codeWords + `s?\b(?:[ \t]*(?:is|was|ist|war|lautet|jest|to|es|est|è|e|=|:|-|#|no\.?|number)){0,3}[ \t]*["'(]?([0-9](?:[ .-]?[0-9]){3,9}[^\s"',;()\[\]]*|[^\s"',;()\[\]]*\d[^\s"',;()\[\]]*)`)
	word     = regexp.MustCompile(`(?i)\b(?:pass ?word|passwd|pwd|kennwort|passwort|hasło|haslo|contraseña|mot de passe|wachtwoord)\b[ \t]*(?:is|ist|jest|es|est|è|=|:)[ \t]*["']?([^\s"',;()\[\]]+)`)
	unit     = regexp.MustCompile(`(?i)^(?:\d+(?:[.,]\d+)?\s*(?:%|v|mv|a|ma|ah|ohm|ohms|k|kohm|m|mm|db|dbm|min|minutes?|s|h)|\d+[kr]\d+|[a-z]-?\d?)$`)
)

// Redact returns the text with each secret replaced by words, and what was
// taken out. It takes time linear in the length of the text, and leaves its
// own result as it is.
func Redact(text string) (clean string, removed []Kind) {
	// Taking one secret out can lay another bare: a token that began inside
	// a number, say.
	for {
		found := find(text)
		if len(found) == 0 {
			return text, removed
		}
		text = replace(text, found)
		for _, f := range found {
			removed = append(removed, f.kind)
		}
	}
}

func find(text string) []span {
	var found []span
	add := func(start, end int, kind Kind) { found = append(found, span{start, end, kind}) }
	for _, m := range token.FindAllStringIndex(text, -1) {
		add(m[0], m[1], Token)
	}
	for _, m := range mail.FindAllStringIndex(text, -1) {
		add(m[0], m[1], Address)
	}
	for _, m := range phone.FindAllStringSubmatchIndex(text, -1) {
		start, end := group(m)
		add(start, end, Phone)
	}
	shadow := harmless.ReplaceAllStringFunc(text, blank)
	for _, re := range []*regexp.Regexp{code, word} {
		for _, m := range re.FindAllStringSubmatchIndex(shadow, -1) {
			start, end := group(m)
			if !unit.MatchString(shadow[start:end]) && !measured(shadow[end:]) {
				add(start, end, Code)
			}
		}
	}
	slices.SortStableFunc(found, func(a, b span) int { return a.start - b.start })
	return disjoint(found)
}

// disjoint joins spans that overlap, so that no rest of a secret stays.
func disjoint(found []span) []span {
	out := found[:0]
	for _, f := range found {
		if n := len(out); n > 0 && f.start < out[n-1].end {
			out[n-1].end = max(out[n-1].end, f.end)
			continue
		}
		out = append(out, f)
	}
	return out
}

// measured tells whether a unit follows, so that the number before it is a
// measurement.
var unitAfter = regexp.MustCompile(`(?i)^\s*(?:%|volts?\b|v\b|mv\b|ma\b|ohms?\b|dbm?\b|min(?:utes)?\b)`)

func measured(rest string) bool { return unitAfter.MatchString(rest) }

func group(m []int) (start, end int) {
	if len(m) > 2 && m[2] >= 0 {
		return m[2], m[3]
	}
	return m[0], m[1]
}

func blank(s string) string {
	b := []byte(s)
	for i := range b {
		b[i] = ' '
	}
	return string(b)
}

func replace(text string, found []span) string {
	out := make([]byte, 0, len(text))
	end := 0
	for _, f := range found {
		out = append(out, text[end:f.start]...)
		out = append(out, "["+string(f.kind)+" removed]"...)
		end = f.end
	}
	return string(append(out, text[end:]...))
}
