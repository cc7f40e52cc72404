package bot

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"ferrule/rules/diagnosis"
	"ferrule/store"
	"ferrule/store/review"
)

// Home is what a person sees without asking: the own open cases, what was
// mended this week, and for leads what the pack did not know.
type Home struct {
	Language string
	Open     []OpenCase // newest first
	Week     []string   // most cases first
	Gaps     []string   // nil for who is no lead
	Lead     bool
}

// OpenCase is a line of the own open cases.
type OpenCase struct {
	Case         store.CaseID
	Conversation string
	Title        string // the complaint
	Says         string // what is to be done next, or ""
	Opened       time.Time
}

const (
	mostOpen   = 10  // own cases that are shown
	mostLooked = 500 // open cases that are looked through for them
	mostWeek   = 5   // causes of the week
	mostGaps   = 3   // cases that a gap names
	longOpen   = 7 * 24 * time.Hour
	gapsSince  = 30 * 24 * time.Hour
)

// Home gathers what a person sees at a time.
func (b *Bot) Home(ctx context.Context, actor string, lead bool, now time.Time) (Home, error) {
	t := &turn{bot: b, use: b.use.Load(), env: Envelope{Actor: actor}}
	h := Home{Lead: lead}
	if err := t.ownOpen(ctx, &h); err != nil {
		return Home{}, fmt.Errorf("reading the open cases of a person: %w", err)
	}
	t.reply.Language = h.Language
	if err := t.weekFaults(ctx, &h, now); err != nil {
		return Home{}, fmt.Errorf("counting the faults of the week: %w", err)
	}
	if !lead {
		return h, nil
	}
	if err := t.gaps(ctx, &h, now); err != nil {
		return Home{}, fmt.Errorf("looking for what the pack did not know: %w", err)
	}
	return h, nil
}

func (t *turn) ownOpen(ctx context.Context, h *Home) error {
	looked := 0
	for after := store.Cursor(""); looked < mostLooked && len(h.Open) < mostOpen; {
		page, err := t.bot.store.Cases(ctx, store.Query{State: store.Open, Newest: true}, after)
		if err != nil {
			return err
		}
		for _, c := range page.Cases {
			if slices.Contains(c.Actors, t.env.Actor) && len(h.Open) < mostOpen {
				if h.Language == "" {
					h.Language = languageOf(c)
				}
				h.Open = append(h.Open, t.openCase(c))
			}
		}
		looked += len(page.Cases)
		if after = page.Next; after == "" {
			return nil
		}
	}
	return nil
}

func languageOf(c store.Case) string {
	for _, topic := range []string{topicLanguageSet, topicLanguage} {
		if said := notes(c, topic); len(said) > 0 {
			return said[len(said)-1]
		}
	}
	return ""
}

func (t *turn) openCase(c store.Case) OpenCase {
	t.reply.Language = languageOf(c)
	o := OpenCase{Case: c.ID, Conversation: c.Conversation, Opened: c.Opened}
	var names []string
	for _, s := range symptoms(c) {
		names = append(names, t.symptomTitle(s))
	}
	o.Title = upperFirst(cmp.Or(strings.Join(names, ", "), t.say("something_else")))
	if c.Site != "" {
		o.Title += ", " + string(c.Site)
	}
	if s, ok := lastStep(c); ok && s.Result == "" {
		o.Says = s.Says
		if s.Kind == string(diagnosis.Repair) {
			o.Says = t.say("probably", "Cause", t.causeTitle(s.Cause), "Minutes", minutes(s.Minutes))
		}
	}
	return o
}

// weekFaults are the causes that were mended in the week of a time.
func (t *turn) weekFaults(ctx context.Context, h *Home, now time.Time) error {
	week := string(review.WeekOf(now))
	counts, err := t.bot.store.Weeks(ctx, week, week)
	if err != nil {
		return err
	}
	type sum struct {
		cause          string
		cases, minutes int
	}
	var sums []sum
	for _, n := range counts {
		i := slices.IndexFunc(sums, func(s sum) bool { return s.cause == n.Cause })
		if i < 0 {
			sums = append(sums, sum{n.Cause, n.Cases, n.Minutes})
			continue
		}
		sums[i].cases += n.Cases
		sums[i].minutes += n.Minutes
	}
	slices.SortStableFunc(sums, func(x, y sum) int { return cmp.Or(cmp.Compare(y.cases, x.cases), cmp.Compare(y.minutes, x.minutes)) })
	for _, s := range sums[:min(mostWeek, len(sums))] {
		if s.cases > 0 {
			h.Week = append(h.Week, t.say("home_week_line", "Cause", upperFirst(t.causeTitle(s.cause)), "Cases", s.cases, "Minutes", s.minutes))
		}
	}
	return nil
}

// gaps are what a lead can do something about: causes that the pack lacks,
// endings without proof, cases that are open for long.
func (t *turn) gaps(ctx context.Context, h *Home, now time.Time) error {
	var other, unproven, long []store.CaseID
	for after := store.Cursor(""); ; {
		page, err := t.bot.store.Cases(ctx, store.Query{Since: now.Add(-gapsSince), Limit: 1000}, after)
		if err != nil {
			return err
		}
		for _, c := range page.Cases {
			switch {
			case c.State == store.Open && now.Sub(c.Opened) > longOpen:
				long = append(long, c.ID)
			case c.Outcome == nil || c.State == store.Open:
			case c.Outcome.Cause == diagnosis.SomethingElse:
				other = append(other, c.ID)
			case c.Outcome.Confirmed == "unproven":
				unproven = append(unproven, c.ID)
			}
		}
		if after = page.Next; after == "" {
			break
		}
	}
	add := func(cases []store.CaseID, line func(number int, cases string) string) {
		if len(cases) > 0 {
			h.Gaps = append(h.Gaps, line(len(cases), numbersOf(cases)))
		}
	}
	add(other, func(n int, cases string) string { return t.say("home_gap_other", "Number", n, "Cases", cases) })
	add(unproven, func(n int, cases string) string { return t.say("home_gap_unproven", "Number", n, "Cases", cases) })
	add(long, func(n int, cases string) string { return t.say("home_gap_open", "Number", n, "Cases", cases) })
	return nil
}

// numbersOf lists the newest cases.
func numbersOf(ids []store.CaseID) string {
	var out []string
	for _, id := range slices.Backward(ids) {
		if len(out) == mostGaps {
			out = append(out, "…")
			break
		}
		out = append(out, fmt.Sprint(id))
	}
	return strings.Join(out, ", ")
}
