// Package review says what a week was like: which faults were mended and what
// they cost, against the eight weeks before; what came back; what is left to
// do. It reads the case book and never changes it.
package review

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"ferrule/knowledge"
	"ferrule/store"
)

const (
	// weeksBefore are those that a week is held against.
	weeksBefore = 8
	// comesBack is how soon a new case at a site counts as a repeat visit.
	comesBack = 30 * 24 * time.Hour
)

// Report is the review of a week.
type Report struct {
	Week     Week      `json:"week"`
	From     time.Time `json:"from"`
	To       time.Time `json:"to"`
	Total    Count     `json:"total"`
	Causes   []Count   `json:"causes"`    // by minutes, most first
	Sites    []Count   `json:"sites"`     // with two cases or more
	Models   []Count   `json:"equipment"` // by cases
	Repeats  []Repeat  `json:"repeats"`   // opened this week
	Open     []Waiting `json:"open"`      // at the end of the week, oldest first
	Reduced  []Waiting `json:"reduced"`   // left with reduced protection, or waiting for a part
	OnTest   []Waiting `json:"on_test"`   // still on test
	Things   []string  `json:"things"`    // at most five, as one would say them
	ToDo     []string  `json:"to_do"`
	Unproven int       `json:"unproven"` // closed without proof
}

// Count is how much there was of something.
type Count struct {
	Name    string  `json:"name"`
	Title   string  `json:"title"`
	Cases   int     `json:"cases"`
	Minutes float64 `json:"minutes"`
	// Of the weeks before, as a mean for each of them.
	CasesBefore   float64 `json:"cases_before"`
	MinutesBefore float64 `json:"minutes_before"`
}

// Repeat is a case that was opened soon after another at the same site.
type Repeat struct {
	Case   store.CaseID  `json:"case"`
	Before store.CaseID  `json:"before"`
	Site   store.SiteRef `json:"site"`
	Days   int           `json:"days"`
	Cause  string        `json:"cause"` // of the earlier case
	Title  string        `json:"title"`
	Same   bool          `json:"same"` // the same cause, or the same complaint while it is open
}

// Waiting is a case that somebody has to look at.
type Waiting struct {
	Case    store.CaseID  `json:"case"`
	Site    store.SiteRef `json:"site"`
	Symptom string        `json:"symptom"`
	Days    int           `json:"days"` // at the end of the week
	Note    string        `json:"note,omitempty"`
}

// LastWhole is the last week of which the case book has the end: that of its
// newest event if that was on a Sunday, else the week before.
func LastWhole(ctx context.Context, st store.Store) (Week, error) {
	newest := time.Time{}
	page, err := st.Cases(ctx, store.Query{Newest: true, Limit: 200}, "")
	if err != nil {
		return "", fmt.Errorf("looking for the newest case: %w", err)
	}
	for _, c := range page.Cases {
		if c.Last.After(newest) {
			newest = c.Last
		}
	}
	if newest.IsZero() {
		return "", ErrEmpty
	}
	if newest.UTC().Weekday() == time.Sunday {
		return WeekOf(newest), nil
	}
	return WeekOf(newest).Before(1), nil
}

// ErrEmpty says that there is nothing to review.
var ErrEmpty = fmt.Errorf("there are no cases yet: %w", store.ErrNotFound)

// Make reviews a week. Titles of causes are those of the pack.
func Make(ctx context.Context, st store.Store, p *knowledge.Pack, w Week) (*Report, error) {
	g := gathering{pack: p, week: w, report: &Report{
		Week: w, From: w.From(), To: w.To(), Causes: []Count{}, Sites: []Count{}, Models: []Count{},
		Repeats: []Repeat{}, Open: []Waiting{}, Reduced: []Waiting{}, OnTest: []Waiting{}, Things: []string{}, ToDo: []string{},
	}, causes: counts{}, sites: counts{}, models: counts{}, bySite: map[store.SiteRef][]store.Case{}}
	for after := store.Cursor(""); ; {
		page, err := st.Cases(ctx, store.Query{Before: w.To(), Limit: 1000}, after)
		if err != nil {
			return nil, fmt.Errorf("reading the cases: %w", err)
		}
		for i := range page.Cases {
			g.add(page.Cases[i])
		}
		if after = page.Next; after == "" {
			break
		}
	}
	g.finish()
	return g.report, nil
}

// counts are what is counted, by name.
type counts map[string]*Count

func (c counts) of(name, title string) *Count {
	if c[name] == nil {
		c[name] = &Count{Name: name, Title: title}
	}
	return c[name]
}

// gathering is the making of a report.
type gathering struct {
	pack                  *knowledge.Pack
	week                  Week
	report                *Report
	causes, sites, models counts
	bySite                map[store.SiteRef][]store.Case
}

func (g *gathering) add(c store.Case) {
	if c.Site != "" {
		g.bySite[c.Site] = append(g.bySite[c.Site], light(c))
	}
	closed := c.State == store.Closed && c.Closed.Before(g.week.To())
	if !closed {
		g.report.Open = append(g.report.Open, g.waiting(c, ""))
		if c.OnTest != nil && c.OnTest.On {
			g.report.OnTest = append(g.report.OnTest, g.waiting(c, "until "+c.OnTest.Until.UTC().Format("2 January 15:04")))
		}
	}
	if c.Visit != nil && (c.Visit.Left == "reduced_protection" || c.Visit.Left == "waiting_part" || c.Visit.Left == "temporary") && !closed {
		g.report.Reduced = append(g.report.Reduced, g.waiting(c, strings.ReplaceAll(c.Visit.Left, "_", " ")))
	}
	if !closed || c.Outcome == nil {
		return
	}
	switch at := WeekOf(c.Closed); {
	case at == g.week:
		g.count(c, func(n *Count, minutes float64) { n.Cases++; n.Minutes += minutes })
		if c.Outcome.Confirmed == "unproven" {
			g.report.Unproven++
		}
	case at >= g.week.Before(weeksBefore) && at < g.week:
		g.count(c, func(n *Count, minutes float64) {
			n.CasesBefore += 1.0 / weeksBefore
			n.MinutesBefore += minutes / weeksBefore
		})
	}
}

// light is a case without its events, which are long.
func light(c store.Case) store.Case {
	c.Events, c.Readings, c.Findings, c.Steps = nil, nil, nil, nil
	return c
}

func (g *gathering) count(c store.Case, by func(*Count, float64)) {
	minutes := c.Outcome.Minutes
	by(&g.report.Total, minutes)
	by(g.causes.of(c.Outcome.Cause, g.title(c.Outcome.Cause)), minutes)
	if c.Site != "" {
		by(g.sites.of(string(c.Site), string(c.Site)), minutes)
	}
	for _, m := range modelsOf(c) {
		by(g.models.of(m, m), minutes)
	}
}

// modelsOf are the models that were named in a case, each once.
func modelsOf(c store.Case) []string {
	var out []string
	for _, r := range c.Readings {
		if strings.HasSuffix(r.Name, ".model") && r.Text != "" && !slices.Contains(out, r.Text) {
			out = append(out, r.Text)
		}
	}
	return out
}

func (g *gathering) title(cause string) string {
	if c := g.pack.Cause(cause); c != nil {
		return c.Title
	}
	switch cause {
	case "no_fault":
		return "no fault was found"
	case "something_else":
		return "it was something else"
	}
	return cause
}

func (g *gathering) waiting(c store.Case, note string) Waiting {
	symptom := c.Symptom
	if first, _, _ := strings.Cut(symptom, ","); first != "" {
		if s := g.pack.Symptom(first); s != nil {
			symptom = s.Title
		}
	}
	return Waiting{c.ID, c.Site, symptom, int(g.week.To().Sub(c.Opened).Hours() / 24), note}
}

func (g *gathering) finish() {
	r := g.report
	r.Causes = sorted(g.causes, func(a, b *Count) int { return cmp.Compare(b.Minutes, a.Minutes) })
	r.Sites = slices.DeleteFunc(sorted(g.sites, func(a, b *Count) int { return cmp.Compare(b.Cases, a.Cases) }), func(c Count) bool { return c.Cases < 2 })
	r.Models = sorted(g.models, func(a, b *Count) int { return cmp.Compare(b.Cases, a.Cases) })
	for _, list := range [][]Waiting{r.Open, r.Reduced, r.OnTest} {
		slices.SortStableFunc(list, func(a, b Waiting) int { return cmp.Compare(b.Days, a.Days) })
	}
	g.repeats()
	g.things()
	g.toDo()
}

// sorted are the counts that have a case this week or had some before.
func sorted(c counts, by func(a, b *Count) int) []Count {
	var all []*Count
	for _, x := range c {
		if x.Cases > 0 {
			all = append(all, x)
		}
	}
	slices.SortFunc(all, func(a, b *Count) int { return cmp.Or(by(a, b), strings.Compare(a.Name, b.Name)) })
	out := make([]Count, len(all))
	for i, x := range all {
		out[i] = *x
	}
	return out
}

// repeats finds the cases opened this week at sites that were visited shortly
// before.
func (g *gathering) repeats() {
	for site, cases := range g.bySite {
		slices.SortFunc(cases, func(a, b store.Case) int { return a.Opened.Compare(b.Opened) })
		for i, c := range cases {
			if c.Opened.Before(g.week.From()) || i == 0 {
				continue
			}
			before := cases[i-1]
			if before.Outcome == nil || c.Opened.Sub(before.Closed) > comesBack || before.Closed.After(c.Opened) {
				continue
			}
			same := c.Symptom == before.Symptom
			if c.Outcome != nil {
				same = c.Outcome.Cause == before.Outcome.Cause
			}
			g.report.Repeats = append(g.report.Repeats, Repeat{
				c.ID, before.ID, site, int(c.Opened.Sub(before.Closed).Hours() / 24), before.Outcome.Cause, g.title(before.Outcome.Cause), same,
			})
		}
	}
	slices.SortFunc(g.report.Repeats, func(a, b Repeat) int { return cmp.Compare(a.Case, b.Case) })
}
