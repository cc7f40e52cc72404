package dialogue

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"ferrule/bot"
	"ferrule/store"
)

// after is what there is to look at when a message was answered.
type after struct {
	reply bot.Reply
	state bot.Snapshot
	kept  store.Case
}

// stopCheck is the only check with nothing behind it.
const stopCheck = "stop"

// checks return what is wrong with an expectation, or "".
var checks = map[string]func(after, string) string{
	"~": func(a after, text string) string {
		if !says(a.reply.Text(), text) {
			return "not said"
		}
		return ""
	},
	"!": func(a after, text string) string {
		if says(a.reply.Text(), text) {
			return "said"
		}
		return ""
	},
	"symptom":  symptom,
	"noted":    noted,
	"found":    found,
	"not":      notFound,
	"next":     next,
	"first":    func(a after, cause string) string { return among(a, "1 "+cause) },
	"among":    among,
	"declined": declined,
	"careful":  careful,
	stopCheck:  stop,
	"closed":   closed,
}

func says(text, want string) bool {
	return strings.Contains(strings.ToLower(text), strings.ToLower(want))
}

func symptom(a after, want string) string {
	if slices.Contains(strings.Split(a.state.Symptom, ","), want) {
		return ""
	}
	return fmt.Sprintf("the complaint is %q", a.state.Symptom)
}

func noted(a after, want string) string {
	var got []string
	for _, u := range append(slices.Clone(a.state.Understood), a.state.Questioned...) {
		line := fmt.Sprintf("%s %s %v", u.Reading, u.Subject, u.Value)
		if line == want {
			return ""
		}
		got = append(got, line)
	}
	return "noted: " + strings.Join(got, "; ")
}

func holds(a after, rule string) bool {
	return slices.ContainsFunc(a.state.Findings, func(p bot.Point) bool { return p.Rule == rule })
}

func found(a after, rule string) string {
	if holds(a, rule) {
		return ""
	}
	var names []string
	for _, f := range a.state.Findings {
		names = append(names, f.Rule)
	}
	return fmt.Sprintf("found %v", names)
}

func notFound(a after, rest string) string {
	switch rule, ok := strings.CutPrefix(rest, "found "); {
	case !ok:
		return "not what? (write not found RULE)"
	case holds(a, strings.TrimSpace(rule)):
		return "found"
	}
	return ""
}

func next(a after, rest string) string {
	want := strings.Fields(rest)
	switch {
	case len(want) == 0:
		return "which kind of step?"
	case a.state.Next.Kind != want[0]:
		return "next is " + a.state.Next.Kind
	case len(want) > 1 && !slices.Contains(a.state.Next.Readings, want[1]) && (a.reply.Step == nil || a.reply.Step.Cause != want[1]):
		return fmt.Sprintf("next is %v", a.state.Next.Readings)
	}
	return ""
}

func among(a after, rest string) string {
	number, cause, _ := strings.Cut(rest, " ")
	n, err := strconv.Atoi(number)
	if err != nil || n < 1 {
		return "among how many?"
	}
	var names []string
	for _, c := range a.state.Causes[:min(n, len(a.state.Causes))] {
		if c.Cause == cause {
			return ""
		}
		names = append(names, fmt.Sprintf("%s %.2f", c.Cause, c.Probability))
	}
	return fmt.Sprintf("got %v", names)
}

func declined(a after, reason string) string {
	if a.reply.Declined != reason {
		return fmt.Sprintf("declined %q", a.reply.Declined)
	}
	return ""
}

func careful(a after, text string) string {
	if slices.ContainsFunc(a.reply.Cautions, func(c string) bool { return says(c, text) }) {
		return ""
	}
	return fmt.Sprintf("the cautions are %q", a.reply.Cautions)
}

// stop: a danger is answered with nothing but hands off.
func stop(a after, _ string) string {
	if !says(a.reply.Headline, "stop") || len(a.reply.Findings) > 0 {
		return fmt.Sprintf("the headline is %q", a.reply.Headline)
	}
	return ""
}

func closed(a after, cause string) string {
	if a.kept.State != store.Closed || a.kept.Outcome == nil || a.kept.Outcome.Cause != cause {
		return fmt.Sprintf("the case is %s with %+v", a.kept.State, a.kept.Outcome)
	}
	return ""
}
