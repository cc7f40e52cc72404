package bot

import (
	"crypto/sha256"
	"encoding/hex"
	"time"

	"ferrule/store"
)

// Envelope is what every incoming event carries.
type Envelope struct {
	Actor        string    // who; a pseudonym of the transport
	Delivery     string    // key under which the transport may deliver it again
	Message      string    // the message's own stamp within the conversation
	Sent         time.Time // when it was sent, not when it arrived
	Conversation string    // transport:channel:thread
	Direct       bool      // a direct message without a thread: it continues the person's open case
	Waiting      int       // events that wait behind this one: the more, the less far is planned ahead
	// Post has the reply stored in the outbox, in the same commit; else the
	// caller shows it. Held is until when it is the caller's to send, as
	// Reply.Entry; nobody else is handed it before.
	Post bool
	Held time.Time
	// Followed tells that another message of the conversation waits already.
	// A reply that only asks for the next step is not posted then: the next
	// reply says what is new of both, given to it as News.
	Followed bool
	News     []string
}

// Pseudonym is what stands for a person in the case book, which keeps no names.
func Pseudonym(name string) string {
	sum := sha256.Sum256([]byte("ferrule person\x00" + name))
	return "p-" + hex.EncodeToString(sum[:6])
}

// Incoming is an event of the conversation: Text, Edit, Deletion, Choice,
// Form, File or Timer.
type Incoming interface{ envelope() Envelope }

// Text is a message as typed. Secrets were taken out of it before, so many.
type Text struct {
	Envelope
	Text    string
	Secrets int
}

// Edit replaces the text of an earlier message, named by Envelope.Message.
type Edit struct {
	Envelope
	Text string
}

// Deletion takes the text of an earlier message away.
type Deletion struct{ Envelope }

// Choice is a button of an earlier reply, with the version that the reply
// gave. One of a question that does not stand any more changes nothing.
type Choice struct {
	Envelope
	Case    store.CaseID
	Version uint64
	Value   string
}

// Form is a filled-in form: reading names and what was typed, or of a closing
// form FieldCause, FieldMinutes and FieldConfirmed. What can't be used is a
// *FieldErrors.
type Form struct {
	Envelope
	Case    store.CaseID
	Version uint64
	Closing bool
	Fields  map[string]string
}

// File is a photo or file that was posted; only its link is kept.
type File struct {
	Envelope
	Name string
	Link string
}

// Timer is a reminder that fell due.
type Timer struct {
	Envelope
	Case  store.CaseID
	Topic string
}

func (e Envelope) envelope() Envelope { return e }
