package bot

import (
	"context"
	"encoding/json"
	"fmt"

	"ferrule/store"
)

// Posting is what an entry of the outbox holds: a reply to be posted in the
// conversation that is its channel, or the topic of a reminder that is due.
type Posting struct {
	// Of is the delivery that is answered. Its reply is stored with its message
	// already, and would only make each commit larger here.
	Of    string `json:"of,omitempty"`
	Reply *Reply `json:"reply,omitempty"` // of no delivery
	Timer string `json:"timer,omitempty"`
	// Ask is a question that is to be posted, and answered below.
	Ask *Question `json:"ask,omitempty"`
}

// Question is what somebody asked where no message stands yet.
type Question struct {
	User    string `json:"user"`              // as the transport names people; only until it is posted
	Text    string `json:"text"`              // redacted
	Secrets int    `json:"secrets,omitempty"` // that were taken out of it
}

// ReadPosting reads an entry of the outbox that was put in here; the reply to a
// delivery comes from the store. A reply whose text was erased since is nil.
func ReadPosting(ctx context.Context, st store.Store, o store.Outgoing) (Posting, error) {
	var p Posting
	if err := json.Unmarshal(o.Body, &p); err != nil {
		return Posting{}, fmt.Errorf("reading an outgoing message: %w: %w", store.ErrInvalid, err)
	}
	if p.Of == "" {
		if p.Reply != nil && o.Case != 0 {
			p.Reply.Case, p.Reply.Version = o.Case, o.Version
		}
		return p, nil
	}
	first, err := st.Apply(ctx, store.Change{Delivery: p.Of}) // was applied with the entry, so that nothing is changed
	if err != nil {
		return Posting{}, fmt.Errorf("reading the reply to %s: %w", p.Of, err)
	}
	if len(first.Reply) == 0 {
		return p, nil
	}
	p.Reply = new(Reply)
	if err := json.Unmarshal(first.Reply, p.Reply); err != nil {
		return Posting{}, fmt.Errorf("reading the reply to %s: %w: %w", p.Of, store.ErrInvalid, err)
	}
	p.Reply.Case, p.Reply.Version = o.Case, o.Version
	return p, nil
}

// PostingOf is the body of an outbox entry that posts a reply to no delivery.
func PostingOf(r Reply) ([]byte, error) {
	return encode(Posting{Reply: &r})
}

// AskingOf is the body of an outbox entry that posts a question.
func AskingOf(q Question) ([]byte, error) { return encode(Posting{Ask: &q}) }

func encode(p Posting) ([]byte, error) {
	body, err := json.Marshal(p)
	if err != nil {
		return nil, fmt.Errorf("encoding an outgoing message: %w", err)
	}
	return body, nil
}

// posting puts the reply into the outbox where it is to be posted.
func (t *turn) posting() error {
	t.reply.Held = t.env.Post && t.env.Followed && t.reply.passing()
	if !t.env.Post || t.reply.Empty() || t.reply.Held {
		return nil
	}
	posting := Posting{Of: t.env.Delivery}
	if posting.Of == "" {
		posting.Reply = &t.reply
	}
	body, err := encode(posting)
	if err != nil {
		return err
	}
	o := store.Outgoing{Channel: t.env.Conversation, Body: body, Held: t.env.Held}
	if len(t.events) == 0 {
		o.Case, o.Version = t.old.ID, t.old.Version
	}
	t.outbox = append(t.outbox, o)
	return nil
}

// repeatStep says the step that was asked for with a message before this one,
// where that reply was held and this one asks for nothing.
func (t *turn) repeatStep() {
	s, ok := lastStep(t.old)
	if len(t.env.News) == 0 || t.reply.Step != nil || !ok || s.Result != "" || t.now().State == store.Closed {
		return
	}
	t.reply.Step = &Step{Kind: s.Kind, Readings: s.Readings, Cause: s.Cause, Says: s.Says, Minutes: s.Minutes, Choices: s.Choices}
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
