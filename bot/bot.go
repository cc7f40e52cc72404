package bot

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"sync/atomic"

	"ferrule/bot/intake"
	"ferrule/knowledge"
	"ferrule/rules"
	"ferrule/rules/diagnosis"
	"ferrule/store"
)

// Bot answers incoming events. It is safe for concurrent use; events of one
// conversation are to be handled in the order in which they were sent.
type Bot struct {
	use     atomic.Pointer[Prepared]
	store   store.Store
	log     *slog.Logger
	version string
}

// Prepared is a compiled pack made ready to converse by.
type Prepared struct {
	model  *diagnosis.Model
	reader *intake.Reader
}

// Prepare makes a compiled pack ready. It takes a second or so: several bots
// may share the result.
func Prepare(program *rules.Program) *Prepared {
	return &Prepared{diagnosis.New(program, nil), intake.New(program)}
}

// New returns a bot that judges by a pack and keeps its cases in st. The
// version of the program is recorded with each verdict.
func New(log *slog.Logger, p *Prepared, st store.Store, version string) *Bot {
	b := &Bot{store: st, log: log, version: version}
	b.Use(p)
	return b
}

// Use takes another pack from the next message on; one that is being answered
// is answered by the old one.
func (b *Bot) Use(p *Prepared) { b.use.Store(p) }

// Pack is the pack that is judged by.
func (b *Bot) Pack() *knowledge.Pack { return b.use.Load().model.Program().Pack() }

const (
	conflictRetries = 5
	longestMessage  = 64 << 10
)

// Handle answers one event. What it understood is stored before it returns;
// an error means that nothing of the event was stored, except with
// store.ErrUncertain.
func (b *Bot) Handle(ctx context.Context, in Incoming) (Reply, error) {
	for attempt := 0; ; attempt++ {
		reply, err := b.handleOnce(ctx, in)
		if errors.Is(err, store.ErrConflict) && attempt < conflictRetries {
			continue // somebody else wrote to the case meanwhile: judge it anew
		}
		return reply, err
	}
}

func (b *Bot) handleOnce(ctx context.Context, in Incoming) (Reply, error) {
	id := caseOf(in)
	if of, ok := messageOf(in); ok {
		var err error
		if id, err = b.caseWith(ctx, in.envelope(), of); err != nil {
			return Reply{}, err
		}
		if _, deleted := in.(Deletion); deleted && id == 0 {
			return Reply{}, nil // of no case: the reply names none
		}
	}
	t, err := b.begin(ctx, in.envelope(), id)
	if err != nil {
		return Reply{}, err
	}
	switch in := in.(type) {
	case Text:
		t.text(ctx, in.Text, in.Secrets)
	case Edit:
		t.edit(ctx, in.Text)
	case Deletion:
		t.deletion(in)
	case Choice:
		t.choice(ctx, in)
	case Form:
		t.form(in)
	case File:
		t.file(in)
	case Timer:
		t.timer(in)
	default:
		return Reply{}, fmt.Errorf("an event of type %T is not known", in)
	}
	if t.err != nil {
		return Reply{}, t.err
	}
	return b.finish(ctx, t)
}

// caseOf is the case that an event names, or 0 where the conversation tells it.
func caseOf(in Incoming) store.CaseID {
	switch in := in.(type) {
	case Choice:
		return in.Case
	case Form:
		return in.Case
	case Timer:
		return in.Case
	}
	return 0
}

// messageOf is the earlier message that an event is about.
func messageOf(in Incoming) (string, bool) {
	switch in := in.(type) {
	case Edit:
		return in.Message, true
	case Deletion:
		return in.Message, true
	}
	return "", false
}

// mostSearched is how many cases are looked through for a message.
const mostSearched = 2000

// caseWith is the case that holds a message, or 0. It need not be the newest of
// its conversation, nor of that conversation at all, where somebody wrote
// directly.
func (b *Bot) caseWith(ctx context.Context, env Envelope, message string) (store.CaseID, error) {
	id, err := b.caseFor(ctx, env)
	if err != nil {
		return 0, fmt.Errorf("looking for the conversation's case: %w", err)
	}
	if id != 0 {
		if c, err := b.store.Case(ctx, id); err != nil || holds(c, message) {
			return id, err
		}
	}
	looked := 0
	for after := store.Cursor(""); looked < mostSearched; {
		page, err := b.store.Cases(ctx, store.Query{Newest: true, Limit: 200}, after)
		if err != nil {
			return 0, fmt.Errorf("looking for the case of a message: %w", err)
		}
		for _, c := range page.Cases {
			if (env.Direct || c.Conversation == env.Conversation) && holds(c, message) {
				return c.ID, nil
			}
		}
		looked += len(page.Cases)
		if after = page.Next; after == "" {
			break
		}
	}
	return 0, nil
}

// holds tells whether a message is part of a case.
func holds(c store.Case, message string) bool {
	return slices.ContainsFunc(c.Events, func(e store.Event) bool { return e.Message != nil && e.Message.ID == message })
}

// begin finds the case that an event belongs to: the one that it names, if it
// names one.
func (b *Bot) begin(ctx context.Context, env Envelope, id store.CaseID) (*turn, error) {
	t := &turn{bot: b, use: b.use.Load(), env: env}
	if id == 0 {
		var err error
		if id, err = b.caseFor(ctx, env); err != nil {
			return nil, fmt.Errorf("looking for the conversation's case: %w", err)
		}
	}
	if id == 0 {
		return t, nil
	}
	var err error
	switch t.old, err = b.store.Case(ctx, id); {
	case errors.Is(err, store.ErrNotFound):
		return t, nil // an event names a case that there is not
	case err != nil:
		return nil, fmt.Errorf("reading case %d: %w", id, err)
	}
	t.reply.Language = cmp.Or(t.lastNote(topicLanguageSet), t.lastNote(topicLanguage))
	return t, nil
}

// caseFor is the newest case of the conversation, or 0. A person who writes
// directly goes on with the case that is open, wherever it was opened.
func (b *Bot) caseFor(ctx context.Context, env Envelope) (store.CaseID, error) {
	id, err := b.store.Conversation(ctx, env.Conversation)
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return 0, err
	}
	if !env.Direct {
		return id, nil
	}
	if id != 0 {
		if c, err := b.store.Case(ctx, id); err != nil || c.State == store.Open {
			return id, err
		}
	}
	open, err := b.store.LastOpen(ctx, env.Actor)
	switch {
	case errors.Is(err, store.ErrNotFound):
		return id, nil
	case err != nil:
		return 0, err
	}
	return open, nil
}

// finish stores the turn in one change and completes the reply.
func (b *Bot) finish(ctx context.Context, t *turn) (Reply, error) {
	t.reply.New = append(slices.Clone(t.env.News), t.reply.New...)
	t.repeatStep()
	if err := t.posting(); err != nil {
		return Reply{}, err
	}
	if len(t.events) == 0 && len(t.outbox) == 0 {
		t.reply.Case, t.reply.Version = t.old.ID, t.old.Version
		return t.reply, nil
	}
	body, err := json.Marshal(t.reply)
	if err != nil {
		return Reply{}, fmt.Errorf("encoding the reply: %w", err)
	}
	change := store.Change{Delivery: t.env.Delivery, Events: t.events, Outbox: t.outbox, Reply: body}
	if len(t.events) > 0 { // an answer to what is not of the case is no change of it
		change.Case, change.Expected = t.old.ID, t.old.Version
	}
	receipt, err := b.store.Apply(ctx, change)
	if err != nil {
		return Reply{}, fmt.Errorf("storing the message: %w", err)
	}
	if receipt.Repeated {
		t.reply = Reply{} // where its text was erased
		if len(receipt.Reply) > 0 {
			if err := json.Unmarshal(receipt.Reply, &t.reply); err != nil {
				return Reply{}, fmt.Errorf("reading the first reply: %w", err)
			}
		}
		t.reply.Repeated = true
	}
	t.reply.Entry = t.entry(receipt)
	if t.reply.Case, t.reply.Version = receipt.Case, receipt.Version; receipt.Case == 0 {
		t.reply.Case, t.reply.Version = t.old.ID, t.old.Version
	}
	return t.reply, nil
}
