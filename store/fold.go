package store

import (
	"slices"
	"time"
)

// TopicSite is the topic of the note that says which site a case is about,
// where that was learned after the case was opened. Its value is the SiteRef.
const TopicSite = "site"

// Fold computes the present state of a case from its events, oldest first.
//
// It is pure and total: it has an answer for every sequence of events, it
// changes none of them and knows no clock. ID and Version are not part of
// the events; the store adds them.
//
//   - Symptom is the newest one whose message was not taken back.
//   - Readings are those in force; see inForce for how values of the same
//     name and subject meet.
//   - An Undo, and an edit of a message (Edit set, same ID), take back the
//     readings and symptoms that the message gave before. A deletion does
//     not: it drops the message's words only, so that nobody can make a
//     measured fact vanish by tidying up a chat.
//   - Findings holds the newest finding of each rule, in the order in which
//     those were given.
//   - Outcome and Closed are set exactly while State is Closed; an Outcome
//     with Reopened set opens the case again.
func Fold(events []Event) Case {
	f := folding{
		c:       Case{State: Open, Events: withoutDeletedText(events)},
		reading: map[string][]int{},
		symptom: map[string][]int{},
	}
	for i := range f.c.Events {
		f.add(i)
	}
	f.c.Symptom = f.newestSymptom()
	f.c.Readings = f.readings()
	return f.c
}

// folding is the state of one Fold.
type folding struct {
	c Case

	// given lists readings and symptoms in order; taken ones stay in it, as
	// the state of the others depends on whether they had a rival.
	given    []given
	symptoms []given
	reading  map[string][]int // message ID to indices in given
	symptom  map[string][]int // message ID to indices in symptoms
}

// given is a reading or symptom with what decides on its being in force.
type given struct {
	event int
	taken bool
}

func (f *folding) add(i int) {
	e := &f.c.Events[i]
	f.addTime(e.At)
	f.addActor(e)
	switch {
	case e.Kind == KindOpened && e.Opened != nil:
		f.open(e)
	case e.Kind == KindMessage && e.Message != nil:
		if e.Message.Edit && !e.Message.Deleted {
			f.takeBack(e.Message.ID)
		}
	case e.Kind == KindUndo && e.Undo != nil:
		f.takeBack(e.Undo.Message)
	case e.Kind == KindReading && e.Reading != nil:
		f.reading[e.Reading.Message] = append(f.reading[e.Reading.Message], len(f.given))
		f.given = append(f.given, given{event: i})
	case e.Kind == KindSymptom && e.Symptom != nil:
		f.symptom[e.Symptom.Message] = append(f.symptom[e.Symptom.Message], len(f.symptoms))
		f.symptoms = append(f.symptoms, given{event: i})
	default:
		f.addFact(e)
	}
}

func (f *folding) addTime(at time.Time) {
	if f.c.Opened.IsZero() {
		f.c.Opened = at
	}
	if at.After(f.c.Last) {
		f.c.Last = at
	}
}

func (f *folding) addActor(e *Event) {
	if wrote(e) && !slices.Contains(f.c.Actors, e.Actor) {
		f.c.Actors = append(f.c.Actors, e.Actor)
	}
}

// wrote tells whether the event shows its actor taking part in the case.
// What the bot says or concludes does not, whatever actor it is filed under.
func wrote(e *Event) bool {
	switch e.Kind {
	case KindFinding, KindStep:
		return false
	case KindMessage:
		return e.Actor != "" && e.Message != nil && !e.Message.FromBot
	default:
		return e.Actor != ""
	}
}

// open takes over the first Opened event; the store accepts no second one.
func (f *folding) open(e *Event) {
	if f.c.Conversation == "" {
		f.c.Conversation = e.Opened.Conversation
	}
	if f.c.Site == "" {
		f.c.Site = e.Opened.Site
	}
}

func (f *folding) addFact(e *Event) {
	switch {
	case e.Kind == KindFinding && e.Finding != nil:
		f.c.Findings = slices.DeleteFunc(f.c.Findings, func(old Finding) bool { return old.Rule == e.Finding.Rule })
		f.c.Findings = append(f.c.Findings, *e.Finding)
	case e.Kind == KindStep && e.Step != nil:
		f.c.Steps = append(f.c.Steps, *e.Step)
	case e.Kind == KindOnTest && e.OnTest != nil:
		onTest := *e.OnTest
		f.c.OnTest = &onTest
	case e.Kind == KindVisit && e.Visit != nil:
		visit := *e.Visit
		f.c.Visit = &visit
	case e.Kind == KindNote && e.Note != nil:
		if e.Note.Topic == TopicSite {
			f.c.Site = SiteRef(e.Note.Value)
		}
	case e.Kind == KindOutcome && e.Outcome != nil:
		f.close(e)
	}
}

func (f *folding) close(e *Event) {
	if e.Outcome.Reopened {
		f.c.State, f.c.Closed, f.c.Outcome = Open, time.Time{}, nil
		return
	}
	outcome := *e.Outcome
	f.c.State, f.c.Closed, f.c.Outcome = Closed, e.At, &outcome
}

// takeBack marks all that a message gave so far. What the same message gives
// later, as an edit does, counts again.
func (f *folding) takeBack(message string) {
	if message == "" {
		return
	}
	for _, i := range f.reading[message] {
		f.given[i].taken = true
	}
	for _, i := range f.symptom[message] {
		f.symptoms[i].taken = true
	}
	delete(f.reading, message)
	delete(f.symptom, message)
}

func (f *folding) newestSymptom() string {
	for _, s := range slices.Backward(f.symptoms) {
		if !s.taken {
			return f.c.Events[s.event].Symptom.Name
		}
	}
	return ""
}

// readings groups what was given by name and subject, and asks inForce.
func (f *folding) readings() []Reading {
	type key struct{ name, subject string }
	var order []key
	values := map[key][]value{}
	rivals := map[key]bool{}
	for _, g := range f.given {
		e := &f.c.Events[g.event]
		k := key{e.Reading.Name, e.Reading.Subject}
		if g.taken {
			rivals[k] = true
			continue
		}
		if values[k] == nil {
			order = append(order, k)
		}
		values[k] = append(values[k], value{Reading: *e.Reading, actor: e.Actor})
	}
	var all []Reading
	for _, k := range order {
		all = append(all, inForce(values[k], rivals[k])...)
	}
	return all
}
