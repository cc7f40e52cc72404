package storetest

import (
	"time"

	"pgregory.net/rapid"

	"ferrule/store"
)

// The pools are small, so that events meet: the same reading by two people,
// an undo of a message that is there, two cases of one conversation.
var (
	actors        = []string{"ada", "ben", "cy"}
	messages      = []string{"m1", "m2", "m3", "m4"}
	conversations = []string{"chat:x:1", "chat:x:2", "chat:y:1"}
	sites         = []store.SiteRef{"lantern-1", "lantern-2", "lantern-3"}
)

// Site draws the reference of a site.
func Site() *rapid.Generator[store.SiteRef] { return rapid.SampledFrom(sites) }

// when draws a time within some weeks, so that counters spread.
func when() *rapid.Generator[time.Time] {
	return rapid.Map(rapid.IntRange(0, 4*7*24*60), at)
}

// Opening draws the event that opens a case.
func Opening() *rapid.Generator[store.Event] {
	return rapid.Custom(func(t *rapid.T) store.Event {
		return store.Event{Kind: store.KindOpened, At: when().Draw(t, "at"), Actor: rapid.SampledFrom(actors).Draw(t, "actor"),
			Opened: &store.Opened{
				Conversation: rapid.SampledFrom(conversations).Draw(t, "conversation"),
				Site:         rapid.OneOf(rapid.Just(store.SiteRef("")), Site()).Draw(t, "site"),
			}}
	})
}

// Events draws what a change adds to a case.
func Events() *rapid.Generator[[]store.Event] { return rapid.SliceOfN(Event(), 0, 5) }

// Event draws any event but an opening.
func Event() *rapid.Generator[store.Event] {
	return rapid.Custom(func(t *rapid.T) store.Event {
		e := store.Event{At: when().Draw(t, "at"), Actor: rapid.SampledFrom(actors).Draw(t, "actor")}
		message := rapid.SampledFrom(messages).Draw(t, "message")
		e.Kind = rapid.SampledFrom([]store.Kind{
			store.KindMessage, store.KindReading, store.KindReading, store.KindSymptom, store.KindUndo, store.KindOutcome,
			store.KindFinding, store.KindStep, store.KindOnTest, store.KindVisit, store.KindNote,
		}).Draw(t, "kind")
		fill(t, &e, message)
		return e
	})
}

// fill sets the part that the event's kind names.
func fill(t *rapid.T, e *store.Event, message string) {
	word := func(what string, words ...string) string { return rapid.SampledFrom(words).Draw(t, what) }
	switch e.Kind {
	case store.KindMessage:
		e.Message = &store.Message{ID: message, Text: word("text", "", "hello", "sig 35"), FromBot: rapid.Bool().Draw(t, "bot")}
		switch word("way", "new", "new", "edit", "deleted") {
		case "edit":
			e.Message.Edit = true
		case "deleted":
			e.Message.Deleted = true
		}
	case store.KindReading:
		e.Reading = Reading(message).Draw(t, "reading")
	case store.KindSymptom:
		e.Symptom = &store.Symptom{Message: message, Name: word("symptom", "weak_signal", "tamper", "lid")}
	case store.KindUndo:
		e.Undo = &store.Undo{Message: message}
	case store.KindOutcome:
		e.Outcome = &store.Outcome{Cause: word("cause", "", "place", "lid"), Minutes: float64(rapid.IntRange(0, 90).Draw(t, "minutes")),
			Reopened: rapid.Bool().Draw(t, "reopened")}
	case store.KindFinding:
		e.Finding = &store.Finding{Rule: word("rule", "a", "b"), Says: word("says", "x", "y")}
	case store.KindStep:
		e.Step = &store.Step{Kind: "measure", Readings: []string{"radio.signal"}}
	case store.KindOnTest:
		e.OnTest = &store.OnTest{On: rapid.Bool().Draw(t, "on"), Since: e.At}
	case store.KindVisit:
		e.Visit = &store.Visit{Left: word("left", "mended", "temporary")}
	case store.KindNote:
		e.Note = &store.Note{Topic: word("topic", "focus", store.TopicSite), Value: word("value", "lantern-1", "lantern-2", "")}
	}
}

// Reading draws a reading out of a message.
func Reading(message string) *rapid.Generator[*store.Reading] {
	return rapid.Custom(func(t *rapid.T) *store.Reading {
		r := &store.Reading{
			Name:    rapid.SampledFrom([]string{"radio.signal", "hub.connections"}).Draw(t, "name"),
			Subject: rapid.SampledFrom([]string{"device 1", "device 2"}).Draw(t, "subject"),
			Message: message, Certainty: 1, Words: "as said",
			State: rapid.SampledFrom([]string{
				store.StateKnown, store.StateKnown, store.StateKnown, store.StateQuestioned, store.StateConflicting, store.StateUnavailable,
			}).Draw(t, "state"),
		}
		members := rapid.SliceOfNDistinct(rapid.SampledFrom([]string{"bus 1", "bus 2", "bus 3"}), 0, 2, rapid.ID)
		if r.Name == "radio.signal" {
			r.Low = float64(rapid.IntRange(1, 4).Draw(t, "value"))
			r.High = r.Low
			return r
		}
		r.Has, r.HasNot = members.Draw(t, "has"), members.Draw(t, "has not")
		return r
	})
}

// Query draws a list to ask for.
func Query() *rapid.Generator[store.Query] {
	return rapid.Custom(func(t *rapid.T) store.Query {
		q := store.Query{
			State:  rapid.SampledFrom([]store.State{"", store.Open, store.Closed}).Draw(t, "state"),
			Site:   rapid.SampledFrom([]store.SiteRef{"", "lantern-1", "lantern-2"}).Draw(t, "site"),
			Newest: rapid.Bool().Draw(t, "newest"),
			Limit:  rapid.IntRange(1, 4).Draw(t, "limit"),
		}
		if rapid.Bool().Draw(t, "bounded") {
			q.Since = when().Draw(t, "since")
			q.Before = q.Since.AddDate(0, 0, 14)
		}
		return q
	})
}
