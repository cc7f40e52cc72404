// Package intake turns a message as typed into symptoms, readings with units
// and subjects, and commands. All words for things come from the pack; only
// the words of conversation (why, sorry, I think) are its own. The same
// message always gives the same result, and each value points at the words
// that it came from.
package intake

import (
	"time"

	"ferrule/rules"
)

// Message is what was understood of a text.
type Message struct {
	Symptoms []SymptomAt
	Readings []Given
	Command  Command
	Declined string // defeat_alarm, code_request, live_work
	Site     string // reference of a site

	// Of closing a case, and of going on and off test.
	Cause     string
	Minutes   float64
	Confirmed string        // measurement, swap_back, symptom_gone, unproven; of off test: how it was confirmed
	Until     time.Duration // since midnight, when UntilSet
	UntilSet  bool
	For       time.Duration
	Reference string
}

// SymptomAt is a symptom and where it was said.
type SymptomAt struct {
	Symptom    string
	Start, End int
}

// Given is a reading that the message gives, with the words it came from.
type Given struct {
	Reading    string
	Subject    rules.Subject
	Value      rules.Value
	Text       string
	Start, End int
	Reason     string // why it is questioned
}

// Command is what a message asks the bot to do.
type Command string

// The commands.
const (
	NoCommand   Command = ""
	Why         Command = "why"
	More        Command = "more"
	Readings    Command = "readings"
	SiteHistory Command = "site"
	Undo        Command = "undo"
	Help        Command = "help"
	NewCase     Command = "new"
	Close       Command = "close"
	NoFault     Command = "no fault"
	OnTest      Command = "on test"
	OffTest     Command = "off test"
	Done        Command = "done"
	Failed      Command = "failed"
	Cant        Command = "can't"
	DontKnow    Command = "don't know"
	Yes         Command = "yes"
	No          Command = "no"
	Greeting    Command = "greeting"
	Thanks      Command = "thanks"
)

// Context is what the conversation is about.
type Context struct {
	Asked []string    // readings that were asked for last
	Last  string      // the number that was given last, for corrections
	Focus rules.Focus // subjects in focus
	// Likely is the cause that the conversation is about: a few words are
	// enough to name it when a case is closed.
	Likely string
}
