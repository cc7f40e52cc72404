package bot

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"sync/atomic"

	"ferrule/bot/intake"
	"ferrule/bot/redact"
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
	t, err := b.begin(ctx, in.envelope())
	if err != nil {
		return Reply{}, err
	}
	switch in := in.(type) {
	case Text:
		t.text(ctx, in.Text)
	case Edit:
		t.edit(ctx, in.Text)
	case Deletion:
		t.event(store.Event{Kind: store.KindMessage, Message: &store.Message{ID: in.Message, Deleted: true}})
	case Choice:
		t.choice(ctx, in)
	case Form:
		t.form(ctx, in)
	case File:
		name, _ := redact.Redact(in.Name)
		t.note("file", name+" "+in.Link)
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

// begin finds the case that an event belongs to.
func (b *Bot) begin(ctx context.Context, env Envelope) (*turn, error) {
	t := &turn{bot: b, use: b.use.Load(), env: env}
	id, err := b.store.Conversation(ctx, env.Conversation)
	if errors.Is(err, store.ErrNotFound) && env.Direct {
		id, err = b.store.LastOpen(ctx, env.Actor)
	}
	switch {
	case errors.Is(err, store.ErrNotFound):
		return t, nil
	case err != nil:
		return nil, fmt.Errorf("looking for the conversation's case: %w", err)
	}
	if t.old, err = b.store.Case(ctx, id); err != nil {
		return nil, fmt.Errorf("reading case %d: %w", id, err)
	}
	t.reply.Language = cmp.Or(t.lastNote(topicLanguageSet), t.lastNote(topicLanguage))
	return t, nil
}

// finish stores the turn in one change and completes the reply.
func (b *Bot) finish(ctx context.Context, t *turn) (Reply, error) {
	if len(t.events) == 0 {
		t.reply.Case, t.reply.Version = t.old.ID, t.old.Version
		return t.reply, nil
	}
	body, err := json.Marshal(t.reply)
	if err != nil {
		return Reply{}, fmt.Errorf("encoding the reply: %w", err)
	}
	receipt, err := b.store.Apply(ctx, store.Change{
		Delivery: t.env.Delivery, Case: t.old.ID, Expected: t.old.Version,
		Events: t.events, Outbox: t.outbox, Reply: body,
	})
	if err != nil {
		return Reply{}, fmt.Errorf("storing the message: %w", err)
	}
	if receipt.Repeated {
		if err := json.Unmarshal(receipt.Reply, &t.reply); err != nil {
			return Reply{}, fmt.Errorf("reading the first reply: %w", err)
		}
		t.reply.Repeated = true
	}
	t.reply.Case, t.reply.Version = receipt.Case, receipt.Version
	return t.reply, nil
}
