package review_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"ferrule/knowledge"
	"ferrule/store"
	"ferrule/store/review"
)

// Source: ISO 8601-1:2019, 3.1.1.23, and its well-known consequences: 2026
// begins on a Thursday and so has 53 weeks; 2025 has 52; 1 January 2027 is a
// Friday of 2026-W53.
func TestWeeks(t *testing.T) {
	for day, want := range map[string]review.Week{
		"2026-01-01": "2026-W01", "2025-12-29": "2026-W01", "2025-12-28": "2025-W52", "2026-12-31": "2026-W53", "2027-01-01": "2026-W53",
		"2027-01-04": "2027-W01", "2026-11-22": "2026-W47", "2026-11-16": "2026-W47",
	} {
		at, err := time.Parse("2006-01-02", day)
		if err != nil {
			t.Fatal(err)
		}
		if got := review.WeekOf(at); got != want {
			t.Errorf("%s is in %s, want %s", day, got, want)
		}
	}
	w, err := review.ParseWeek("2026-W47")
	if err != nil || w.From().Format("Mon 2006-01-02") != "Mon 2026-11-16" || w.Before(8) != "2026-W39" || w.String() != "week 47 of 2026 (16 to 22 November)" {
		t.Errorf("%s from %s, eight before %s, %v", w, w.From(), w.Before(8), err)
	}
	for _, bad := range []string{"2025-W53", "2026-W00", "2026-47", "2026-W5", "next", ""} {
		if _, err := review.ParseWeek(bad); err == nil {
			t.Errorf("%q is taken for a week", bad)
		}
	}
}

const smallPack = `
symptoms:
  - {symptom: siren, title: siren fault, subject: device, words: {en: [siren]}, source: test}
causes:
  - {cause: flat, title: the battery is flat, symptoms: {siren: 0.5}, fix: {steps: [renew it], minutes: 10, place: device}, success: it sounds, source: test}
  - {cause: loose, title: a core is loose, symptoms: {siren: 0.5}, fix: {steps: [screw it down], minutes: 10, place: device}, success: it sounds, source: test}
`

// book is a case book of a test.
type book struct {
	t  *testing.T
	st *store.Memory
	n  int
}

// visit writes a case: opened and, unless the cause is empty, closed an hour
// later.
func (b *book) visit(opened, site, cause string, minutes float64, more ...store.Event) {
	b.t.Helper()
	at, err := time.Parse("2006-01-02 15:04", opened)
	if err != nil {
		b.t.Fatal(err)
	}
	b.n++
	events := []store.Event{
		{Kind: store.KindOpened, At: at, Actor: "p-1", Opened: &store.Opened{Conversation: fmt.Sprint("c", b.n), Site: store.SiteRef(site)}},
		{Kind: store.KindMessage, At: at, Actor: "p-1", Message: &store.Message{ID: fmt.Sprint("m", b.n), Text: "siren"}},
		{Kind: store.KindSymptom, At: at, Actor: "p-1", Symptom: &store.Symptom{Name: "siren", Message: fmt.Sprint("m", b.n)}},
	}
	for _, e := range more {
		e.At, e.Actor = at, "p-1"
		events = append(events, e)
	}
	if cause != "" {
		events = append(events, store.Event{Kind: store.KindOutcome, At: at.Add(time.Hour), Actor: "p-1", Outcome: &store.Outcome{Cause: cause, Minutes: minutes, Confirmed: "measurement"}})
	}
	if _, err := b.st.Apply(context.Background(), store.Change{Events: events}); err != nil {
		b.t.Fatal(err)
	}
}

// By hand: in week 47 three flat batteries (90 min) and one loose core
// (20 min); in the eight weeks before, four flat ones (80 min) and two loose
// ones (30 min), so 0.5 and 0.25 a week.
func TestReview(t *testing.T) {
	b := &book{t: t, st: store.NewMemory()}
	for _, day := range []string{"2026-09-22", "2026-10-05", "2026-10-20", "2026-11-10"} {
		b.visit(day+" 10:00", "1-row", "flat", 20)
	}
	b.visit("2026-10-06 09:00", "2-row", "loose", 15)
	b.visit("2026-11-09 09:00", "3-row", "loose", 15)
	b.visit("2026-09-01 09:00", "3-row", "loose", 500) // before the eight weeks
	b.visit("2026-11-16 10:00", "4-row", "flat", 30)
	b.visit("2026-11-17 10:00", "1-row", "flat", 30) // seven days after the last one there
	b.visit("2026-11-18 10:00", "5-row", "flat", 30)
	b.visit("2026-11-19 10:00", "2-row", "loose", 20) // 44 days after
	b.visit("2026-11-20 10:00", "3-row", "", 0, store.Event{Kind: store.KindVisit, Visit: &store.Visit{Left: "reduced_protection"}})
	b.visit("2026-11-22 10:00", "6-row", "", 0, store.Event{Kind: store.KindOnTest, OnTest: &store.OnTest{On: true, Until: time.Date(2026, 11, 22, 16, 0, 0, 0, time.UTC)}})
	b.visit("2026-11-23 10:00", "6-row", "flat", 999) // next week
	p, err := knowledge.Load(oneFile(smallPack))
	if err != nil {
		t.Fatal(err)
	}
	r, err := review.Make(context.Background(), b.st, p, "2026-W47")
	if err != nil {
		t.Fatal(err)
	}
	if r.Total.Cases != 4 || r.Total.Minutes != 110 || r.Total.CasesBefore != 6.0/8 || r.Total.MinutesBefore != 110.0/8 {
		t.Errorf("in all %+v", r.Total)
	}
	if c := r.Causes[0]; c.Name != "flat" || c.Cases != 3 || c.Minutes != 90 || c.CasesBefore != 0.5 || c.MinutesBefore != 10 {
		t.Errorf("most time: %+v", c)
	}
	if len(r.Repeats) != 2 || r.Repeats[0].Days != 6 || !r.Repeats[0].Same || r.Repeats[1].Site != "3-row" {
		t.Errorf("repeats: %+v", r.Repeats)
	}
	if len(r.Open) != 2 || len(r.Reduced) != 1 || r.Reduced[0].Site != "3-row" || len(r.OnTest) != 1 || r.OnTest[0].Site != "6-row" {
		t.Errorf("open %+v, reduced %+v, on test %+v", r.Open, r.Reduced, r.OnTest)
	}
	text := r.Text()
	for _, want := range []string{
		"Week 47 of 2026 (16 to 22 November): 4 cases closed, 2 hours.",
		"The battery is flat: 3 cases this week, 1.5 hours; usually less than one a week.",
		"2 cases came within 30 days of the one before at the same site, two with the same fault.",
		"6-row (case 13): still on test, until 22 November 16:00. Take it off test, or extend it.",
		"3-row (case 12): left with reduced protection for 2 days.",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("not said: %s\n%s", want, text)
		}
	}
	if len(r.Things) > 5 {
		t.Errorf("%d things", len(r.Things))
	}
}

func TestEmptyBook(t *testing.T) {
	if _, err := review.LastWhole(context.Background(), store.NewMemory()); !errors.Is(err, review.ErrEmpty) {
		t.Errorf("%v", err)
	}
}

// A week counts as whole on its Sunday, and not on the Saturday before.
func TestLastWhole(t *testing.T) {
	for day, want := range map[string]review.Week{"2026-11-21": "2026-W46", "2026-11-22": "2026-W47"} {
		b := &book{t: t, st: store.NewMemory()}
		b.visit(day+" 10:00", "1-row", "", 0)
		if got, err := review.LastWhole(context.Background(), b.st); got != want || err != nil {
			t.Errorf("%s: %s %v, want %s", day, got, err, want)
		}
	}
}
