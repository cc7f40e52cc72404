package intake

import (
	"time"

	"ferrule/rules"
)

// Span is a piece of the redacted text in bytes: text[Start:End].
type Span struct{ Start, End int }

// Message is what was understood of a text.
type Message struct {
	Symptoms []SymptomAt
	Readings []Given
	Command  Command
	Declined string // defeat_alarm, code_request, live_work
	Left     []Span // words that were not understood, at most mostLeft
	Passed   int    // lines of a pasted log that nothing was made of
	NoScale  []Span // numbers in bars and the like, which no scale defines
	Language string // one of knowledge.Languages, or "" where the words don't tell
	Reply    string // the language that replies were asked for in

	// The reference of a site that the message names, as a reference is
	// written: lower case with hyphens.
	Site string

	// Of closing a case, and of going on and off test.
	Cause     string        // the pack's name of it, no_fault or something_else
	Causes    []string      // when Cause is empty: those that it could be, likeliest first
	Minutes   float64       // how long it took
	Confirmed string        // measurement, swap_back, symptom_gone, unproven; of off test: how it was confirmed
	Gone      bool          // it says that the fault is gone
	Until     time.Duration // since midnight, when UntilSet
	UntilSet  bool
	For       time.Duration
	Reference string
}

// Empty tells whether nothing at all was understood.
func (m Message) Empty() bool {
	return len(m.Symptoms) == 0 && len(m.Readings) == 0 && m.Command == NoCommand && m.Declined == "" &&
		len(m.NoScale) == 0 && m.Site == "" && m.Cause == "" && m.Minutes == 0 && m.Confirmed == ""
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
	Unit       string // canonical
	Text       string // text[Start:End]
	Start, End int
	Reason     string // why it is questioned
	Correction bool   // it takes the place of a value given before

	was bool // it was so before
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
	Reopen      Command = "reopen"
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
	Safe        Command = "safe"  // a danger is over
	Speak       Command = "speak" // in the language Message.Reply
)

// The outcomes that are no cause of the pack.
const (
	noFault       = "no_fault"
	somethingElse = "something_else"
)

// Context is what the conversation is about. Every field may be empty.
type Context struct {
	Asked    []string                 // readings that were asked for last
	Choices  []string                 // the answers that were offered with it, in order: "2" is the second
	Last     string                   // the number that was given last, for corrections
	Likely   string                   // the cause that the conversation is about: few words are enough to name it
	Closing  bool                     // how the case ended was asked for
	Focus    rules.Focus              // subjects in focus
	Spoken   string                   // the language of the conversation
	Symptoms []string                 // the complaints of the case
	Fresh    bool                     // there is no case yet: the message should say what is wrong
	Models   map[rules.Subject]string // models that are known already
}
