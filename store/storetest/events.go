package storetest

import (
	"time"

	"ferrule/store"
)

// start is the time from which the builders count their minutes: a Monday.
var start = time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)

func at(minutes int) time.Time { return start.Add(time.Duration(minutes) * time.Minute) }

func opening(actor string, minute int, conversation string, site store.SiteRef) store.Event {
	return store.Event{Kind: store.KindOpened, At: at(minute), Actor: actor, Opened: &store.Opened{Conversation: conversation, Site: site}}
}

func saying(actor string, minute int, id, text string) store.Event {
	return store.Event{Kind: store.KindMessage, At: at(minute), Actor: actor, Message: &store.Message{ID: id, Text: text}}
}

func reading(actor string, minute int, message string, value float64) store.Event {
	return store.Event{Kind: store.KindReading, At: at(minute), Actor: actor, Reading: &store.Reading{
		Name: "radio.signal", Subject: "device 1", Message: message, Low: value, High: value,
		Certainty: 1, State: store.StateKnown, Words: "sig " + message,
	}}
}

func symptom(actor string, minute int, message, name string) store.Event {
	return store.Event{Kind: store.KindSymptom, At: at(minute), Actor: actor, Symptom: &store.Symptom{Name: name, Message: message}}
}

func undoing(actor string, minute int, message string) store.Event {
	return store.Event{Kind: store.KindUndo, At: at(minute), Actor: actor, Undo: &store.Undo{Message: message}}
}

func aboutSite(actor string, minute int, site store.SiteRef) store.Event {
	return store.Event{Kind: store.KindNote, At: at(minute), Actor: actor, Note: &store.Note{Topic: store.TopicSite, Value: string(site)}}
}

func closing(actor string, minute int, cause string, minutes float64) store.Event {
	return store.Event{Kind: store.KindOutcome, At: at(minute), Actor: actor, Outcome: &store.Outcome{Cause: cause, Minutes: minutes, Confirmed: "measurement"}}
}

func reopening(actor string, minute int) store.Event {
	return store.Event{Kind: store.KindOutcome, At: at(minute), Actor: actor, Outcome: &store.Outcome{Reopened: true}}
}
