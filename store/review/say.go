package review

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
)

const (
	mostThings = 5
	mostToDo   = 8
	// Something is worth saying when it is at least so many cases, and so many
	// times what is usual.
	leastCases = 3
	unusual    = 1.5
	longOpen   = 7 // days
)

// things are at most five sentences, as one would say them in a meeting: what
// was unusual first, then what cost most, then what came back.
func (g *gathering) things() {
	r := g.report
	say := func(format string, args ...any) {
		if len(r.Things) < mostThings {
			r.Things = append(r.Things, fmt.Sprintf(format, args...))
		}
	}
	var rising []Count
	for _, c := range r.Causes {
		if c.Cases >= leastCases && float64(c.Cases) >= unusual*c.CasesBefore && c.Name != "no_fault" {
			rising = append(rising, c)
		}
	}
	slices.SortStableFunc(rising, func(a, b Count) int {
		return cmp.Compare(float64(b.Cases)-b.CasesBefore, float64(a.Cases)-a.CasesBefore)
	})
	said := map[string]bool{}
	for _, c := range rising[:min(3, len(rising))] {
		said[c.Name] = true
		say("%s: %s this week, %s; usually %s a week.", upperFirst(c.Title), cases(c.Cases), hours(c.Minutes), mean(c.CasesBefore))
	}
	if len(r.Causes) > 0 && !said[r.Causes[0].Name] {
		c := r.Causes[0]
		say("Most time went where %s: %s, %s; usually %s a week.", c.Title, cases(c.Cases), hours(c.Minutes), hours(c.MinutesBefore))
	}
	same := 0
	for _, x := range r.Repeats {
		if x.Same {
			same++
		}
	}
	if len(r.Repeats) > 0 {
		say("%s came within 30 days of the one before at the same site, %s with the same fault.", upperFirst(cases(len(r.Repeats))), number(same))
	}
	if len(r.Sites) > 0 && r.Sites[0].Cases >= leastCases {
		say("%s had %s this week.", r.Sites[0].Name, cases(r.Sites[0].Cases))
	}
	if r.Unproven > 0 && float64(r.Unproven) > 0.1*float64(r.Total.Cases) {
		say("%s closed without proof: they teach little.", upperFirst(areCases(r.Unproven)))
	}
}

// toDo is what somebody should do next week.
func (g *gathering) toDo() {
	r := g.report
	do := func(format string, args ...any) {
		if len(r.ToDo) < mostToDo {
			r.ToDo = append(r.ToDo, fmt.Sprintf(format, args...))
		}
	}
	for _, w := range r.OnTest {
		do("%s (case %d): still on test, %s. Take it off test, or extend it.", site(w), w.Case, w.Note)
	}
	for _, w := range r.Reduced {
		do("%s (case %d): left with %s for %s.", site(w), w.Case, w.Note, days(w.Days))
	}
	for _, x := range r.Repeats {
		if x.Same {
			do("%s: the fault is back after %s (case %d, before it case %d: %s). Look at it with a second pair of eyes.", x.Site, days(x.Days), x.Case, x.Before, x.Title)
		}
	}
	for _, w := range r.Open {
		if w.Days >= longOpen {
			do("%s (case %d): open for %s, %s.", site(w), w.Case, days(w.Days), w.Symptom)
		}
	}
}

// Text is the review as it is read aloud, with the figures behind it.
func (r *Report) Text() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %s closed, %s. In the eight weeks before: %s and %s a week.\n",
		upperFirst(r.Week.String()), cases(r.Total.Cases), hours(r.Total.Minutes), mean(r.Total.CasesBefore), hours(r.Total.MinutesBefore))
	list(&b, "Worth saying", r.Things)
	list(&b, "To do", r.ToDo)
	for _, t := range []struct {
		title  string
		counts []Count
	}{{"By cause", r.Causes}, {"By site, with two cases or more", r.Sites}, {"By equipment", r.Models}} {
		if len(t.counts) == 0 {
			continue
		}
		fmt.Fprintf(&b, "\n%s:\n", t.title)
		for i, c := range t.counts {
			if i == mostRows {
				fmt.Fprintf(&b, "  and %d more\n", len(t.counts)-i)
				break
			}
			fmt.Fprintf(&b, "  %s: %s, %s; usually %s and %s a week\n", c.Title, cases(c.Cases), hours(c.Minutes), mean(c.CasesBefore), hours(c.MinutesBefore))
		}
	}
	fmt.Fprintf(&b, "\nOpen at the end of the week: %s.\n", cases(len(r.Open)))
	return b.String()
}

const mostRows = 12

func list(b *strings.Builder, title string, lines []string) {
	if len(lines) == 0 {
		return
	}
	fmt.Fprintf(b, "\n%s:\n", title)
	for i, l := range lines {
		fmt.Fprintf(b, "%d. %s\n", i+1, l)
	}
}

func site(w Waiting) string {
	if w.Site == "" {
		return "A site without a name"
	}
	return string(w.Site)
}

func cases(n int) string {
	if n == 1 {
		return "1 case"
	}
	return fmt.Sprintf("%d cases", n)
}

func areCases(n int) string {
	if n == 1 {
		return "1 case was"
	}
	return fmt.Sprintf("%d cases were", n)
}

func days(n int) string {
	switch n {
	case 0:
		return "less than a day"
	case 1:
		return "1 day"
	}
	return fmt.Sprintf("%d days", n)
}

// number is a small number in words.
func number(n int) string {
	if words := []string{"none", "one", "two", "three", "four", "five", "six"}; n < len(words) {
		return words[n]
	}
	return fmt.Sprint(n)
}

// hours are whole from ten on, and with a half below.
func hours(minutes float64) string {
	switch h := minutes / 60; {
	case minutes < 1:
		return "no time"
	case h < 1:
		return fmt.Sprintf("%.0f min", minutes)
	case h < 10:
		half := math.Round(2*h) / 2
		if half == 1 {
			return "1 hour"
		}
		return fmt.Sprintf("%g hours", half)
	default:
		return fmt.Sprintf("%.0f hours", h)
	}
}

// mean is a mean number of cases, as one says it.
func mean(x float64) string {
	switch {
	case x < 0.1:
		return "none"
	case x < 0.75:
		return "less than one"
	}
	return cases(int(math.Round(x)))
}

func upperFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
