package bot

import (
	"encoding/json"
	"fmt"

	"ferrule/store"
)

// Posting is what an entry of the outbox holds: a reply to be posted in the
// conversation that is its channel, or the topic of a reminder that is due.
type Posting struct {
	Reply *Reply `json:"reply,omitempty"`
	Timer string `json:"timer,omitempty"`
}

// ReadPosting reads an entry of the outbox that was put in here.
func ReadPosting(o store.Outgoing) (Posting, error) {
	var p Posting
	if err := json.Unmarshal(o.Body, &p); err != nil {
		return Posting{}, fmt.Errorf("reading an outgoing message: %w", err)
	}
	if p.Reply != nil && o.Case != 0 {
		p.Reply.Case, p.Reply.Version = o.Case, o.Version
	}
	return p, nil
}

// PostingOf is the body of an outbox entry that posts a reply.
func PostingOf(r Reply) ([]byte, error) {
	body, err := json.Marshal(Posting{Reply: &r})
	if err != nil {
		return nil, fmt.Errorf("encoding a reply: %w", err)
	}
	return body, nil
}

// posting puts the reply into the outbox where it is to be posted.
func (t *turn) posting() error {
	t.reply.Held = t.env.Post && t.env.Followed && t.reply.passing()
	if !t.env.Post || t.reply.Empty() || t.reply.Held {
		return nil
	}
	r := t.reply
	if len(t.events) == 0 {
		r.Case, r.Version = t.old.ID, t.old.Version
	}
	body, err := PostingOf(r)
	if err != nil {
		return err
	}
	t.outbox = append(t.outbox, store.Outgoing{Key: "reply/" + t.env.Delivery, Channel: t.env.Conversation, Body: body, Case: r.Case, Version: r.Version, Held: t.env.Held})
	return nil
}

// entry is the reply's entry of the outbox, for the caller to send; nil where
// it is left to whoever asks for what is due.
func (t *turn) entry(r store.Receipt) *store.Leased {
	last := len(t.outbox) - 1
	if r.Repeated || last < 0 || len(r.Outbox) <= last || t.outbox[last].Held.IsZero() {
		return nil
	}
	o := t.outbox[last]
	if r.Case != 0 {
		o.Case, o.Version = r.Case, r.Version
	}
	return &store.Leased{ID: r.Outbox[last], Outgoing: o, Attempts: 1}
}

// passing tells whether a reply need not be said when the next one follows at
// once: it only asks for the next step.
func (r Reply) passing() bool {
	return r.Step != nil && r.Headline == r.Step.Says &&
		len(r.Details) == 0 && len(r.Notices) == 0 && len(r.Cautions) == 0 && len(r.Findings) == 0 && r.Declined == "" && r.Redacted == 0
}
