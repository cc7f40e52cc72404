package blocks

import (
	"fmt"
	"slices"
	"strings"

	"github.com/slack-go/slack"
)

// kindOf is what a line of details is.
type kindOf int

const (
	sentence kindOf = iota
	heading         // ends with a colon
	bullet          // begins with a dash
	numbered        // begins with its number in the list
)

// details are drawn so that they can be skimmed: headings stand out, several
// sentences in a row are a list, and lists are lists.
func (d *drawing) details(ss []string) {
	ss = slices.DeleteFunc(slices.Clone(ss), func(s string) bool { return strings.TrimSpace(s) == "" })
	for len(ss) > 0 {
		kind, n := run(ss)
		var items []string
		for i, s := range ss[:n] {
			items = append(items, strings.TrimSpace(strings.TrimPrefix(strings.TrimSpace(s), mark(kind, i))))
		}
		switch {
		case kind == heading:
			d.add(line(items[0], bold))
		case kind == numbered:
			d.list(slack.RTEListOrdered, items)
		case kind == sentence && n == 1:
			d.lines(items)
		default:
			d.list(slack.RTEListBullet, items)
		}
		ss = ss[n:]
	}
}

// run is what the first lines are, and how many of them are alike.
func run(ss []string) (kind kindOf, n int) {
	kind = kindOfLine(ss[0], 0)
	for n = 1; n < len(ss) && kind != heading && kindOfLine(ss[n], n) == kind; n++ {
	}
	return kind, n
}

// kindOfLine tells what a line is; only what is at its place in a list counts
// as numbered, since Slack numbers it anew.
func kindOfLine(s string, place int) kindOf {
	s = strings.TrimSpace(s)
	switch {
	case strings.HasPrefix(s, mark(bullet, place)):
		return bullet
	case strings.HasPrefix(s, mark(numbered, place)):
		return numbered
	case strings.HasSuffix(s, ":"):
		return heading
	}
	return sentence
}

// mark is what stands before a line in plain text.
func mark(kind kindOf, place int) string {
	switch kind {
	case bullet:
		return "- "
	case numbered:
		return fmt.Sprintf("%d. ", place+1)
	}
	return ""
}
