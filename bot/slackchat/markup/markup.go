// Package markup turns the text of a Slack message into what its writer typed.
package markup

import (
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"
)

var (
	// token is a mention, a link or a date as Slack writes it: a bare < or >
	// that somebody typed arrives escaped.
	token = regexp.MustCompile(`<([^<>]*)>`)
	// entities are the only three; each is undone once.
	entities = strings.NewReplacer("&amp;", "&", "&lt;", "<", "&gt;", ">")
	// stray signs are no part of a token; Slack sends none.
	stray = strings.NewReplacer("<", "", ">", "")
)

// Plain gives the text of a message without Slack's markup: links by what was
// typed, people and channels by name where Slack tells it, the marks of bold,
// italic, struck and code text taken off. A mention of self, the bot's own
// user ID, is left out. Calls to everybody in a channel lose their mark, so
// that repeating them calls nobody.
func Plain(text, self string) string {
	var out strings.Builder
	last := 0
	for _, m := range token.FindAllStringSubmatchIndex(text, -1) {
		out.WriteString(typed(text[last:m[0]]))
		out.WriteString(entities.Replace(spoken(text[m[2]:m[3]], self)))
		last = m[1]
	}
	out.WriteString(typed(text[last:]))
	return strings.TrimSpace(out.String())
}

// typed is what was typed between tokens.
func typed(s string) string { return entities.Replace(unmarked(stray.Replace(s))) }

// spoken is what stands for a token.
func spoken(inner, self string) string {
	target, label, labelled := strings.Cut(inner, "|")
	switch {
	case strings.HasPrefix(target, "@"):
		switch {
		case self != "" && target[1:] == self:
			return ""
		case labelled && label != "":
			return "@" + strings.TrimPrefix(label, "@")
		}
		return target
	case strings.HasPrefix(target, "#"):
		if labelled && label != "" {
			return "#" + label
		}
		return target
	case strings.HasPrefix(target, "!"):
		if labelled {
			return strings.TrimPrefix(label, "@")
		}
		return target[1:]
	case labelled && label != "":
		return label
	}
	return strings.TrimPrefix(strings.TrimPrefix(target, "mailto:"), "tel:")
}

// marks format what stands between two of them.
const marks = "*_~`"

// unmarked takes the marks off words that stand between two of the same. A
// mark counts as the first when something other than a space follows it and no
// letter or digit precedes it, and as the second the other way round: "5*3"
// and "~35 %" stay as they are.
func unmarked(s string) string {
	if !strings.ContainsAny(s, marks) {
		return s
	}
	drop := map[int]bool{}
	opened := map[rune]int{}
	for i, r := range s {
		switch {
		case r == '\n': // formatting ends with its line
			clear(opened)
			continue
		case !strings.ContainsRune(marks, r):
			continue
		}
		before, _ := utf8.DecodeLastRuneInString(s[:i])
		after, _ := utf8.DecodeRuneInString(s[i+1:])
		if start, ok := opened[r]; ok && i > start+1 && !space(before) && !word(after) {
			drop[start], drop[i] = true, true
			delete(opened, r)
		} else if !word(before) && !space(after) {
			opened[r] = i
		}
	}
	var out strings.Builder
	for i := range len(s) { // the marks are of one byte each
		if !drop[i] {
			out.WriteByte(s[i])
		}
	}
	return out.String()
}

// space also tells the end of the text, where no rune can be read.
func space(r rune) bool { return unicode.IsSpace(r) || r == utf8.RuneError }

func word(r rune) bool {
	return r != utf8.RuneError && (unicode.IsLetter(r) || unicode.IsDigit(r))
}
