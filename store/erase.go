package store

import "slices"

// withoutDeletedText returns the events with the words of deleted messages
// left out. The events themselves are not touched.
func withoutDeletedText(events []Event) []Event {
	events = slices.Clone(events)
	for i := range events {
		if m := events[i].Message; m != nil && m.Deleted {
			eraseText(events[:i+1], m.ID)
		}
	}
	return events
}

// eraseText takes out the words of the message, and those that its readings
// quote, and tells whether there were any. It replaces the parts that it
// changes, so that events which share them keep theirs.
func eraseText(events []Event, message string) (erased bool) {
	if message == "" {
		return false
	}
	for i := range events {
		e := &events[i]
		if e.Message != nil && e.Message.ID == message && e.Message.Text != "" {
			blank := *e.Message
			blank.Text = ""
			e.Message, erased = &blank, true
		}
		if e.Reading != nil && e.Reading.Message == message && e.Reading.Words != "" {
			blank := *e.Reading
			blank.Words = ""
			e.Reading, erased = &blank, true
		}
	}
	return erased
}

// eraseAllText takes out the words of all messages.
func eraseAllText(events []Event) (erased bool) {
	for i := range events {
		e := &events[i]
		if e.Message != nil && e.Message.Text != "" {
			blank := *e.Message
			blank.Text = ""
			e.Message, erased = &blank, true
		}
		if e.Reading != nil && e.Reading.Words != "" {
			blank := *e.Reading
			blank.Words = ""
			e.Reading, erased = &blank, true
		}
	}
	return erased
}

// deletions lists the messages whose words the events ask to drop.
func deletions(events []Event) []string {
	var ids []string
	for i := range events {
		if m := events[i].Message; m != nil && m.Deleted {
			ids = append(ids, m.ID)
		}
	}
	return ids
}
