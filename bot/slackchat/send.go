package slackchat

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"time"

	"github.com/slack-go/slack"

	"ferrule/bot"
	"ferrule/bot/slackchat/blocks"
	"ferrule/store"
)

// The types of the metadata by which what was posted is found again.
const (
	replyEvent    = "ferrule_reply"
	questionEvent = "ferrule_question"
)

// tagged puts a key into the metadata of a message.
func tagged(event, key string) slack.MsgOption {
	return slack.MsgOptionMetadata(slack.SlackMetadata{EventType: event, EventPayload: map[string]any{"key": key}})
}

// partsSent counts the messages of an entry that were posted, while the entry
// is under way.
type partsSent struct {
	mu    sync.Mutex
	parts map[uint64]int
}

func (p *partsSent) of(entry uint64) int {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.parts[entry]
}

func (p *partsSent) set(entry uint64, n int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.parts == nil {
		p.parts = map[uint64]int{}
	}
	if p.parts[entry] = n; n == 0 {
		delete(p.parts, entry)
	}
}

// partKey names a message of an outbox entry. The number of an entry alone
// would not do: another case book counts from 1 as well.
func partKey(e store.Leased, part int) string { return fmt.Sprintf("%d/%d/%s", e.ID, part, e.Channel) }

// Route tells the Slack channel of an outbox entry, or false for one of another
// transport or workspace.
func (a *App) Route(e store.Leased) (channel string, ok bool) {
	c, ok := parseConversation(e.Channel)
	return c.channel, ok && c.team == a.Team
}

// Post posts an entry of the outbox, or has the reminder that it is answered.
func (a *App) Post(ctx context.Context, e store.Leased) error {
	err := a.postEntry(ctx, e)
	if errors.Is(err, store.ErrUncertain) {
		a.giveUp(err) // the bot's store serves nothing any more until it is opened again
	}
	return err
}

func (a *App) postEntry(ctx context.Context, e store.Leased) error {
	c, ok := parseConversation(e.Channel)
	if !ok {
		return fmt.Errorf("outbox entry %d is for %q: %w", e.ID, e.Channel, ErrNeverSent)
	}
	p, err := a.posting(ctx, e)
	switch {
	case errors.Is(err, store.ErrInvalid):
		return fmt.Errorf("outbox entry %d: %w: %w", e.ID, err, ErrNeverSent)
	case err != nil:
		return err
	case p.Timer != "":
		return a.remind(ctx, e, p.Timer)
	case p.Ask != nil:
		return a.ask(ctx, e, c, *p.Ask)
	case p.Reply == nil:
		return fmt.Errorf("outbox entry %d says nothing: %w", e.ID, ErrNeverSent)
	}
	if err := a.lanes.quiet(ctx, longestDefer); err != nil {
		return err
	}
	messages := blocks.Draw(*p.Reply)
	for i := a.sent.of(e.ID); i < len(messages); i++ {
		if i > 0 {
			if err := pause(ctx, time.Second); err != nil {
				return err
			}
		}
		if err := a.post(ctx, c, messages[i], partKey(e, i)); err != nil {
			return err
		}
		a.sent.set(e.ID, i+1)
	}
	a.sent.set(e.ID, 0)
	a.replies.Remove(e.ID)
	return nil
}

// longestDefer is how long a reply waits while messages are still to be stored:
// those have to be acknowledged within three seconds.
const longestDefer = 2 * time.Second

// posting is what an entry holds. The reply that was made here a moment ago need
// not be read again.
func (a *App) posting(ctx context.Context, e store.Leased) (bot.Posting, error) {
	if r, ok := a.replies.Get(e.ID); ok {
		return bot.Posting{Reply: &r}, nil
	}
	return bot.ReadPosting(ctx, a.Store, e.Outgoing)
}

func pause(ctx context.Context, d time.Duration) error {
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-time.After(d):
		return nil
	}
}

// ErrNeverSent marks an entry that no repetition will ever send.
var ErrNeverSent = errors.New("it can never be sent")

// remind has a reminder answered; the answer goes through the outbox, too.
func (a *App) remind(ctx context.Context, e store.Leased, topic string) error {
	delivery := fmt.Sprintf("timer/%d/%s", e.ID, e.Outgoing.Key)
	_, err := a.Bot.Handle(ctx, bot.Timer{
		Envelope: bot.Envelope{Delivery: delivery, Message: delivery, Sent: a.Now(), Conversation: e.Channel, Post: true},
		Case:     e.Case, Topic: topic,
	})
	if err != nil {
		return fmt.Errorf("reminding of %s: %w", topic, err)
	}
	a.Kick()
	return nil
}

// post posts one message. Blocks that Slack refuses give way to the plain text.
func (a *App) post(ctx context.Context, c conversation, m blocks.Message, key string) error {
	options := []slack.MsgOption{
		slack.MsgOptionText(m.Text, true), slack.MsgOptionDisableMarkdown(), slack.MsgOptionDisableLinkUnfurl(),
		slack.MsgOptionDisableMediaUnfurl(), tagged(replyEvent, key),
	}
	if c.thread != "" {
		options = append(options, slack.MsgOptionTS(c.thread))
	}
	_, _, err := a.API.PostMessageContext(ctx, c.channel, append(options, slack.MsgOptionBlocks(m.Blocks...))...)
	if refused := (slack.SlackErrorResponse{}); errors.As(err, &refused) && strings.Contains(refused.Err, "block") {
		a.Log.Error("Slack refused the blocks of a message; it goes as plain text", "code", refused.Err, "channel", c.channel)
		_, _, err = a.API.PostMessageContext(ctx, c.channel, options...)
	}
	if err != nil {
		return fmt.Errorf("posting to %s: %w", c.channel, err)
	}
	return nil
}

// Posted looks whether an entry is in its channel already. What is there of one
// that has several messages is not posted again.
func (a *App) Posted(ctx context.Context, e store.Leased) (bool, error) {
	c, ok := parseConversation(e.Channel)
	if !ok {
		return false, nil // Post says what is wrong
	}
	p, err := a.posting(ctx, e)
	if err != nil && !errors.Is(err, store.ErrInvalid) {
		return false, err
	}
	if err != nil || p.Reply == nil {
		return false, nil // Post says what is wrong, or looks itself; a reminder is answered once, by its delivery
	}
	found, err := a.postedIn(ctx, c, replyEvent)
	if err != nil {
		return false, err
	}
	parts := len(blocks.Draw(*p.Reply))
	n := 0
	for n < parts && found[partKey(e, n)] != "" {
		n++
	}
	if n == parts {
		a.sent.set(e.ID, 0)
		return true, nil
	}
	a.sent.set(e.ID, n)
	return false, nil
}

// mostLookedAt is how many messages are looked through for one of the bot's own.
const mostLookedAt = 100

// postedIn are the stamps of the bot's own messages of a type among the newest
// of a conversation, by their keys.
func (a *App) postedIn(ctx context.Context, c conversation, event string) (map[string]string, error) {
	var messages []slack.Message
	if c.thread == "" {
		h, err := a.API.GetConversationHistoryContext(ctx, &slack.GetConversationHistoryParameters{ChannelID: c.channel, Limit: mostLookedAt, IncludeAllMetadata: true})
		if err != nil {
			return nil, fmt.Errorf("looking into %s: %w", c.channel, err)
		}
		messages = h.Messages
	} else {
		params := &slack.GetConversationRepliesParameters{ChannelID: c.channel, Timestamp: c.thread, Limit: mostLookedAt, IncludeAllMetadata: true}
		for more := true; more; {
			page, hasMore, cursor, err := a.API.GetConversationRepliesContext(ctx, params)
			if err != nil {
				return nil, fmt.Errorf("looking into a thread of %s: %w", c.channel, err)
			}
			messages, params.Cursor = append(messages, page...), cursor
			more = hasMore && cursor != ""
		}
	}
	found := map[string]string{}
	for _, m := range messages {
		if key, ok := m.Metadata.EventPayload["key"].(string); ok && m.Metadata.EventType == event && (m.User == a.Self || m.BotID != "") {
			found[key] = m.Timestamp
		}
	}
	return found, nil
}
