package demo

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"strings"
	"time"

	"ferrule/knowledge"
	"ferrule/rules"
	"ferrule/store"
)

// ErrNotEmpty: the case book holds cases already.
var ErrNotEmpty = errors.New("the case book is not empty")

// Write writes the invented year. Progress is told how many of how many cases
// are written; it may be nil.
func Write(ctx context.Context, st store.Store, program *rules.Program, seed uint64, progress func(done, of int)) (int, error) {
	page, err := st.Cases(ctx, store.Query{Limit: 1}, "")
	if err != nil {
		return 0, fmt.Errorf("looking at the case book: %w", err)
	}
	if len(page.Cases) > 0 {
		return 0, ErrNotEmpty
	}
	r := rand.New(rand.NewPCG(seed, 0x1a27e24))
	register := sites(r)
	if _, err := st.Apply(ctx, store.Change{Delivery: fmt.Sprintf("demo/%d/register", seed), Sites: register}); err != nil {
		return 0, fmt.Errorf("writing the sites: %w", err)
	}
	w := writer{program: program, pack: program.Pack(), rand: r, end: Ends(), equipment: map[store.SiteRef][]string{}}
	for _, s := range register {
		w.equipment[s.Ref] = s.Equipment
	}
	visits := year(w.pack, r, register)
	for n, v := range visits {
		c := store.Change{Delivery: fmt.Sprintf("demo/%d/%d", seed, n+1), Events: w.events(n+1, v)}
		if _, err := st.Apply(ctx, c); err != nil {
			return n, fmt.Errorf("writing case %d: %w", n+1, err)
		}
		if progress != nil {
			progress(n+1, len(visits))
		}
	}
	return len(visits), nil
}

// writer turns visits into cases.
type writer struct {
	program   *rules.Program
	pack      *knowledge.Pack
	rand      *rand.Rand
	end       time.Time
	equipment map[store.SiteRef][]string
}

// story is the writing of one case.
type story struct {
	*writer
	v      visit
	n      int
	at     time.Time
	events []store.Event
	turns  int
}

func (w *writer) events(n int, v visit) []store.Event {
	s := &story{writer: w, v: v, n: n, at: v.at}
	cause := w.pack.Cause(v.cause)
	s.add(store.Event{Kind: store.KindOpened, Opened: &store.Opened{Conversation: fmt.Sprintf("demo:cases:%d", n), Site: v.site}})
	id := s.message(s.report())
	s.add(store.Event{Kind: store.KindSymptom, Symptom: &store.Symptom{Name: v.symptom, Message: id}})
	s.models(id)
	onTest := w.rand.IntN(3) == 0
	if onTest {
		s.onTest(true)
	}
	for _, told := range s.observations() {
		s.measure(told)
	}
	minutes := s.minutes(cause.Fix.Minutes)
	s.at = s.at.Add(time.Duration(minutes) * time.Minute)
	s.leave(cause, minutes, onTest)
	return s.events
}

func (s *story) add(e store.Event) {
	e.At, e.Actor = s.at, s.v.actor
	s.events = append(s.events, e)
}

// message adds a turn of the technician, and returns its name.
func (s *story) message(text string) string {
	s.turns++
	s.at = s.at.Add(time.Duration(40+s.rand.IntN(200)) * time.Second)
	id := fmt.Sprintf("demo-%d-%d", s.n, s.turns)
	s.add(store.Event{Kind: store.KindMessage, Message: &store.Message{ID: id, Text: text}})
	return id
}

// report is how the fault is called in: one of the pack's whole messages, else
// one of its phrases.
func (s *story) report() string {
	symptom := s.pack.Symptom(s.v.symptom)
	from := symptom.Reports["en"]
	if len(from) == 0 {
		from = symptom.Words["en"]
	}
	if len(from) == 0 {
		return symptom.Title
	}
	text, _ := knowledge.AsItStands(from[s.rand.IntN(len(from))])
	return text
}

// models notes what stands at the site.
func (s *story) models(message string) {
	for _, name := range s.equipment[s.v.site] {
		m := s.pack.Model(name)
		if m == nil || s.rand.IntN(2) == 0 {
			continue
		}
		if r := s.pack.Reading(string(m.Class) + ".model"); r != nil {
			s.reading(r, rules.Named(name), name, message)
		}
	}
}

func (s *story) reading(r *knowledge.Reading, v rules.Value, words, message string) {
	subject := rules.Subject{Class: r.Class, N: 1}
	s.add(store.Event{Kind: store.KindReading, Reading: &store.Reading{
		Name: r.Name.S, Subject: subject.String(), Message: message, Low: v.Low, High: v.High, Text: v.Text,
		Has: v.Has, HasNot: v.HasNot, Certainty: 1, State: "known", Words: words,
	}})
}

// minutes are what a visit took: looking for the fault, and the repair, which
// mostly takes what the pack says and at times far more.
func (s *story) minutes(usual float64) float64 {
	m := 10 + 35*s.rand.Float64() + usual*(0.6+0.8*s.rand.Float64())
	if s.rand.IntN(12) == 0 {
		m *= 2.5
	}
	return float64(int(m + 1))
}

func (s *story) onTest(on bool) {
	e := &store.OnTest{On: on}
	if on {
		e.Since, e.Until, e.What = s.at, s.at.Add(3*time.Hour), "the whole system"
	} else {
		e.Confirmed = "signal read back by the centre"
	}
	s.add(store.Event{Kind: store.KindOnTest, OnTest: e})
}

// leave is how the technician leaves: mended and closed as a rule.
func (s *story) leave(cause *knowledge.Cause, minutes float64, onTest bool) {
	late := s.end.Sub(s.at) < 21*24*time.Hour
	switch x := s.rand.IntN(100); {
	case late && x < 6:
		s.message("waiting for a part")
		s.add(store.Event{Kind: store.KindVisit, Visit: &store.Visit{Left: []string{"waiting_part", "reduced_protection"}[s.rand.IntN(2)]}})
		return
	case late && x < 9:
		return // left open, and on test if it was
	}
	if onTest {
		s.onTest(false)
	}
	s.add(store.Event{Kind: store.KindStep, Step: &store.Step{Kind: "repair", Cause: cause.Name.S, Minutes: minutes, Result: "done"}})
	outcome := &store.Outcome{Cause: cause.Name.S, Minutes: minutes, Confirmed: s.confirmed()}
	if len(cause.Fix.Steps) > 0 {
		outcome.Fix = cause.Fix.Steps[0]
	}
	if s.rand.IntN(25) == 0 {
		outcome.Cause, outcome.Fix = "no_fault", ""
	}
	s.message(fmt.Sprintf("close, %.0f min, %s", minutes, strings.ReplaceAll(outcome.Confirmed, "_", " ")))
	s.add(store.Event{Kind: store.KindVisit, Visit: &store.Visit{Left: map[bool]string{true: "no_fault", false: "mended"}[outcome.Cause == "no_fault"]}})
	s.add(store.Event{Kind: store.KindOutcome, Outcome: outcome})
}

func (s *story) confirmed() string {
	switch x := s.rand.IntN(100); {
	case x < 45:
		return "measurement"
	case x < 55:
		return "swap_back"
	case x < 92:
		return "symptom_gone"
	}
	return "unproven"
}
