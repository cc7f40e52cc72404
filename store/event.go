package store

import "time"

// CaseID numbers a case. The store gives numbers out, from 1 upwards, inside
// the commit that opens the case; 0 means "no case".
type CaseID uint64

// SiteRef is a site's reference, such as "lantern-12"; it carries no address.
type SiteRef string

// Kind tells which part of an Event is set.
type Kind string

// The kinds of event. A case is the fold of its events, so a kind is never
// given a new meaning; a new need gets a new kind.
const (
	KindOpened  Kind = "opened"  // Opened is set; the first event of a case
	KindMessage Kind = "message" // Message is set
	KindReading Kind = "reading" // Reading is set
	KindSymptom Kind = "symptom" // Symptom is set
	KindFinding Kind = "finding" // Finding is set
	KindStep    Kind = "step"    // Step is set
	KindUndo    Kind = "undo"    // Undo is set
	KindOnTest  Kind = "on_test" // OnTest is set
	KindVisit   Kind = "visit"   // Visit is set
	KindNote    Kind = "note"    // Note is set: small facts of the conversation (a caution shown, a question asked)
	KindOutcome Kind = "outcome" // Outcome is set
)

// Event is one thing that happened in a case. Exactly the part that Kind
// names is set. Events are never changed after they were stored, except that
// a message's text can be erased.
type Event struct {
	Kind  Kind      `json:"kind"`
	At    time.Time `json:"at"`    // when it was sent, as the transport says
	Actor string    `json:"actor"` // a pseudonym, never a name

	Opened  *Opened  `json:"opened,omitempty"`
	Message *Message `json:"message,omitempty"`
	Reading *Reading `json:"reading,omitempty"`
	Symptom *Symptom `json:"symptom,omitempty"`
	Finding *Finding `json:"finding,omitempty"`
	Step    *Step    `json:"step,omitempty"`
	Undo    *Undo    `json:"undo,omitempty"`
	OnTest  *OnTest  `json:"on_test,omitempty"`
	Visit   *Visit   `json:"visit,omitempty"`
	Note    *Note    `json:"note,omitempty"`
	Outcome *Outcome `json:"outcome,omitempty"`
}

// Opened starts a case.
type Opened struct {
	Conversation string  `json:"conversation"` // transport:channel:thread
	Site         SiteRef `json:"site,omitempty"`
}

// Message is a turn of the conversation after redaction.
type Message struct {
	ID       string `json:"id"` // the transport's own stamp; edits name the same ID
	Text     string `json:"text,omitempty"`
	FromBot  bool   `json:"from_bot,omitempty"`
	Edit     bool   `json:"edit,omitempty"`
	Deleted  bool   `json:"deleted,omitempty"`
	Redacted int    `json:"redacted,omitempty"` // secrets taken out before storing
}

// Reading is a value that somebody gave. Values are kept as the rule engine
// needs them, but as plain data: the store does not interpret them.
type Reading struct {
	Name      string   `json:"name"`    // dotted, such as radio.signal
	Subject   string   `json:"subject"` // such as "device 1" or "site"
	Message   string   `json:"message"` // ID of the message that it came from
	Low       float64  `json:"low,omitempty"`
	High      float64  `json:"high,omitempty"`
	Text      string   `json:"text,omitempty"` // choice, version or text
	Has       []string `json:"has,omitempty"`  // set: members known to be in
	HasNot    []string `json:"has_not,omitempty"`
	Certainty float64  `json:"certainty"` // 1 sure, less when hedged
	State     string   `json:"state"`     // known | questioned | conflicting | unavailable
	Words     string   `json:"words"`     // the words that it came from
	Reason    string   `json:"reason,omitempty"`
}

// Symptom is what the complaint is taken for.
type Symptom struct {
	Name    string `json:"name"`
	Message string `json:"message"`
}

// Finding is a rule's verdict at one time, with what it rested on.
type Finding struct {
	Rule     string   `json:"rule"`
	RuleKind string   `json:"rule_kind"` // blocker | caution | note
	Cause    string   `json:"cause,omitempty"`
	Says     string   `json:"says"`
	Because  []string `json:"because,omitempty"`
	Source   string   `json:"source,omitempty"`
	Pack     string   `json:"pack"`              // hash of the pack that gave it
	Learned  string   `json:"learned,omitempty"` // version of the learned numbers
	Program  string   `json:"program"`
}

// Step is what the bot asked for, or what came of it.
type Step struct {
	Kind     string   `json:"kind"` // measure | repair | confirm | close
	Readings []string `json:"readings,omitempty"`
	Cause    string   `json:"cause,omitempty"`
	Says     string   `json:"says,omitempty"`
	Minutes  float64  `json:"minutes,omitempty"`
	Result   string   `json:"result,omitempty"`  // "" proposed | done | failed | impossible
	Choices  []string `json:"choices,omitempty"` // the answers that were offered with it, in order
	Version  uint64   `json:"version,omitempty"` // of the case when it was proposed; 0 if that is not known
}

// Undo takes back what came from one message.
type Undo struct {
	Message string `json:"message"`
}

// OnTest says that a system is on test at the monitoring station, or off again.
type OnTest struct {
	On        bool      `json:"on"`
	Since     time.Time `json:"since,omitzero"`
	Until     time.Time `json:"until,omitzero"`
	What      string    `json:"what,omitempty"` // what is on test
	Reference string    `json:"reference,omitempty"`
	Confirmed string    `json:"confirmed,omitempty"` // how off-test was confirmed, or "unmonitored"
}

// Visit says how the site was left.
type Visit struct {
	Left string `json:"left"` // mended | temporary | waiting_part | reduced_protection | no_fault
	Note string `json:"note,omitempty"`
}

// Note is a small fact of the conversation that later turns need.
type Note struct {
	Topic string `json:"topic"` // such as "caution_shown", "focus", "place"
	Value string `json:"value"`
}

// Outcome closes a case.
type Outcome struct {
	Cause     string  `json:"cause"`
	Fix       string  `json:"fix,omitempty"`
	Minutes   float64 `json:"minutes,omitempty"`
	Confirmed string  `json:"confirmed"` // measurement | swap_back | symptom_gone | unproven
	Reopened  bool    `json:"reopened,omitempty"`
}
