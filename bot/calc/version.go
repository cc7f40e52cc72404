package calc

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"ferrule/knowledge/firmware"
)

func versionKind() Kind {
	names := firmware.SchemeNames()
	schemes := make([]Choice, len(names))
	for i, name := range names {
		schemes[i] = Choice{name, []string{strings.ReplaceAll(name, "-", " "), name}}
	}
	return Kind{
		Name:  "version",
		Short: "Which of two firmware versions is the newer one",
		Long: `Version compares two versions by the scheme of the product line. The scheme decides:
2.9 is newer than 2.10 in one and older in another; without a scheme all are shown.`,
		Examples: []string{"2.9 2.10", "3.05 3.1 two-digit"},
		Fields:   []Field{{Name: "scheme", Help: "scheme of the product line; " + strings.Join(names, ", "), Choices: schemes}},
		raw:      true,
		work:     workVersion,
	}
}

// fillers are words of a question about versions that are no version.
var fillers = []string{"is", "older", "newer", "than", "and", "or", "to", "version", "firmware", "vs", "the", "same", "as", "from", "scheme", "has", "have", "needs", "need", "at", "least", "is", "panel", "hub", "device", "which", "minimum", "by", "a", "on", "with", "for", "it", "v", "fw", "then", "but", "ok", "enough", "required", "requires"}

func workVersion(in *Input) (*Sheet, error) {
	names := firmware.SchemeNames()
	var written []string
	for _, w := range strings.FieldsFunc(in.text, func(r rune) bool { return r == ' ' || r == ',' || r == ';' || r == '?' || r == '\t' || r == '\n' }) {
		switch lower := strings.ToLower(w); {
		case slices.Contains(names, lower):
			in.choices["scheme"] = lower
		case strings.ContainsAny(w, "0123456789"):
			written = append(written, strings.TrimRight(w, ".:"))
		case !slices.Contains(fillers, lower):
			in.unused = append(in.unused, w)
		}
	}
	if len(written) != 2 {
		return nil, &Missing{"two versions", "2.9 2.10"}
	}
	if one := in.choices["scheme"]; one != "" {
		names = []string{one}
	}
	s := &Sheet{}
	said := map[string][]string{}
	for _, name := range names {
		verdict, order, read := compared(name, written[0], written[1])
		if !read && len(names) > 1 && anyReads(names, written) {
			continue
		}
		about := ""
		if scheme, ok := firmware.LookupScheme(name); ok {
			about = scheme.About()
		}
		s.Steps = append(s.Steps, Step{Name: "by the scheme " + name, Formula: about, Value: float64(order), Text: verdict})
		said[verdict] = append(said[verdict], name)
	}
	if len(names) == 1 {
		for verdict := range said {
			s.say(fmt.Sprintf("By the scheme %s %s.", names[0], verdict))
		}
		return s, nil
	}
	if len(said) == 1 && len(s.Steps) > 0 {
		s.say(strings.ToUpper(s.Steps[0].Text[:1]) + s.Steps[0].Text[1:] + ", by every scheme that can read them.")
		return s, nil
	}
	s.say("It depends on the scheme of the product line; the equipment's sheet or the pack tells it.")
	for _, verdict := range sortedByFirst(said, names) {
		s.say(fmt.Sprintf("%s by %s.", strings.ToUpper(verdict[:1])+verdict[1:], strings.Join(said[verdict], ", ")))
	}
	return s, nil
}

// sortedByFirst lists the verdicts in the order of the schemes.
func sortedByFirst(said map[string][]string, names []string) []string {
	var out []string
	for _, name := range names {
		for verdict, by := range said {
			if slices.Contains(by, name) && !slices.Contains(out, verdict) {
				out = append(out, verdict)
			}
		}
	}
	return out
}

// anyReads tells whether one of the schemes can compare the two.
func anyReads(names, written []string) bool {
	return slices.ContainsFunc(names, func(name string) bool {
		_, _, read := compared(name, written[0], written[1])
		return read
	})
}

// compared words how two versions stand under a scheme, and tells whether it
// can read them.
func compared(name, a, b string) (verdict string, order int, read bool) {
	scheme, _ := firmware.LookupScheme(name)
	x, err := scheme.Parse(a)
	if err != nil {
		return unread(a, err), 0, false
	}
	y, err := scheme.Parse(b)
	if err != nil {
		return unread(b, err), 0, false
	}
	order, err = x.Compare(y)
	switch {
	case err != nil:
		return "the two can't be compared", 0, false
	case order < 0:
		return a + " is older than " + b, -1, true
	case order > 0:
		return a + " is newer than " + b, 1, true
	}
	return a + " and " + b + " are the same", 0, true
}

func unread(version string, err error) string {
	var ambiguous *firmware.AmbiguousError
	if errors.As(err, &ambiguous) {
		return version + " can be " + strings.Join(ambiguous.Candidates, " or ")
	}
	return version + " is no version"
}
