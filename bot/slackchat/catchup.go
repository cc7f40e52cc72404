package slackchat

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"github.com/slack-go/slack"

	"ferrule/store"
)

const (
	// longestGap bounds how far back missed messages are looked for.
	longestGap = 24 * time.Hour
	// overlap is looked at again: what was sent first may arrive last.
	overlap = 2 * time.Minute
	// mostThreads and mostChannels bound the questions: Slack takes some
	// fifty a minute.
	mostThreads  = 40
	mostChannels = 20
)

// mark is the time up to which nothing was missed.
type mark struct {
	mu sync.Mutex
	at time.Time
}

func (m *mark) get() time.Time {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.at
}

func (m *mark) set(at time.Time) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.at = at
}

// Begin notes up to when messages are known to have been taken, and reads who
// may what. It is called before anything is delivered.
func (a *App) Begin(ctx context.Context) error {
	a.roster.load(ctx)
	_, _, last, err := a.known(ctx)
	if err != nil {
		return fmt.Errorf("looking for the newest message: %w", err)
	}
	if !last.IsZero() { // else nothing was ever said: there is nothing to miss
		a.mark.set(last)
	}
	return nil
}

// CatchUp takes the messages that were missed while there was no connection:
// those written since the last time that nothing was. Slack delivers again what
// was not acknowledged; this is for what it gave up on. What was answered before
// is known by its delivery. It tries until it succeeds or ctx ends.
func (a *App) CatchUp(ctx context.Context) {
	begun := a.Now()
	last := a.mark.get()
	if last.IsZero() {
		a.mark.set(begun)
		return
	}
	since := last.Add(-overlap)
	if earliest := begun.Add(-longestGap); since.Before(earliest) {
		since = earliest
	}
	for wait := time.Second; ; wait = min(2*wait, time.Minute) {
		err := a.catchUp(ctx, since)
		if err == nil {
			a.mark.set(begun)
			return
		}
		if ctx.Err() != nil {
			return
		}
		a.Log.Error("missed messages can't be looked for yet", "error", err)
		if pause(ctx, wait) != nil {
			return
		}
	}
}

// catchUp looks into the channels first: what was missed there may have opened
// threads.
func (a *App) catchUp(ctx context.Context, since time.Time) error {
	_, channels, _, err := a.known(ctx)
	if err != nil {
		return fmt.Errorf("looking for conversations to catch up on: %w", err)
	}
	for _, c := range channels {
		if err := a.catchUpOn(ctx, c, since); err != nil {
			return err
		}
	}
	threads, _, _, err := a.known(ctx)
	if err != nil {
		return fmt.Errorf("looking for threads to catch up on: %w", err)
	}
	for _, t := range threads {
		// What was said before the bot was called was not said to it.
		from := since
		if t.opened.After(from) {
			from = t.opened
		}
		if err := a.catchUpOn(ctx, t.conversation, from); err != nil {
			return err
		}
	}
	return nil
}

// openThread is the thread of an open case.
type openThread struct {
	conversation
	opened time.Time
}

// known are the threads of open cases and the channels that cases are in,
// newest first, and the time of the newest message of any.
func (a *App) known(ctx context.Context) (threads []openThread, channels []conversation, last time.Time, err error) {
	for _, channel := range a.Channels {
		channels = append(channels, conversation{a.Team, channel, ""})
	}
	page, err := a.Store.Cases(ctx, store.Query{Newest: true, Limit: 500}, "")
	if err != nil {
		return nil, nil, last, err
	}
	for _, found := range page.Cases {
		c, ok := parseConversation(found.Conversation)
		if !ok || c.team != a.Team {
			continue
		}
		if found.Last.After(last) {
			last = found.Last
		}
		if whole := (conversation{a.Team, c.channel, ""}); !slices.Contains(channels, whole) && len(channels) < mostChannels {
			channels = append(channels, whole)
		}
		if c.thread != "" && found.State == store.Open && len(threads) < mostThreads {
			threads = append(threads, openThread{c, found.Opened})
		}
	}
	return threads, channels, last, nil
}

// catchUpOn takes what was written in a channel or a thread since a time, and
// returns when it is stored. A channel that the bot can't look into is left out.
func (a *App) catchUpOn(ctx context.Context, c conversation, since time.Time) error {
	var messages []slack.Message
	err := a.patiently(ctx, func() error {
		var err error
		messages, err = a.writtenSince(ctx, c, since)
		return err
	})
	if refused := (slack.SlackErrorResponse{}); errors.As(err, &refused) && !passing[refused.Err] {
		a.Log.Warn("missed messages of a channel can't be read", "channel", c.channel, "code", refused.Err)
		return nil
	}
	if err != nil {
		return fmt.Errorf("catching up on %s: %w", c.channel, err)
	}
	slices.SortFunc(messages, func(x, y slack.Message) int { return cmp.Compare(x.Timestamp, y.Timestamp) })
	var stored sync.WaitGroup
	for _, m := range messages {
		if m.Timestamp < stampOf(since) || !written[m.SubType] || m.Timestamp == c.thread {
			continue
		}
		stored.Add(1)
		var once sync.Once
		a.said(c.channel, message{
			Subtype: m.SubType, User: m.User, Bot: m.BotID, Team: m.Team, Text: m.Text, Stamp: m.Timestamp, Thread: threadIn(m), Files: filesIn(m), late: true,
		}, func([]byte, error) { once.Do(stored.Done) })
	}
	stored.Wait()
	return nil
}

// passing are answers of Slack's after which trying again helps.
var passing = map[string]bool{"internal_error": true, "fatal_error": true, "service_unavailable": true, "request_timeout": true, "ratelimited": true, "rate_limited": true}

// threadIn is the thread that a message of a history is a reply in: the first
// of a thread is none in itself.
func threadIn(m slack.Message) string {
	if m.ThreadTimestamp == m.Timestamp {
		return ""
	}
	return m.ThreadTimestamp
}

func filesIn(m slack.Message) []file {
	var out []file
	for _, f := range m.Files {
		out = append(out, file{ID: f.ID, Name: f.Name, Link: f.Permalink, Access: f.FileAccess})
	}
	return out
}

func (a *App) writtenSince(ctx context.Context, c conversation, since time.Time) ([]slack.Message, error) {
	var out []slack.Message
	cursor := ""
	for {
		var page []slack.Message
		var err error
		if c.thread == "" {
			var h *slack.GetConversationHistoryResponse
			h, err = a.API.GetConversationHistoryContext(ctx, &slack.GetConversationHistoryParameters{ChannelID: c.channel, Oldest: stampOf(since), Limit: mostLookedAt, Cursor: cursor})
			if err == nil {
				page, cursor = h.Messages, h.ResponseMetaData.NextCursor
			}
		} else {
			page, _, cursor, err = a.API.GetConversationRepliesContext(ctx, &slack.GetConversationRepliesParameters{ChannelID: c.channel, Timestamp: c.thread, Oldest: stampOf(since), Limit: mostLookedAt, Cursor: cursor})
		}
		if err != nil {
			return nil, err
		}
		if out = append(out, page...); cursor == "" {
			return out, nil
		}
	}
}

// patiently waits as long as Slack says, a few times.
func (a *App) patiently(ctx context.Context, ask func() error) error {
	for try := 0; ; try++ {
		err := ask()
		var limited *slack.RateLimitedError
		if !errors.As(err, &limited) || try == 5 {
			return err
		}
		if err := pause(ctx, max(limited.RetryAfter, time.Second)); err != nil {
			return err
		}
	}
}

// NewestTeam is the workspace of the newest case that came from Slack, or "".
func NewestTeam(ctx context.Context, st store.Store) (string, error) {
	page, err := st.Cases(ctx, store.Query{Newest: true, Limit: 500}, "")
	if err != nil {
		return "", err
	}
	for _, c := range page.Cases {
		if found, ok := parseConversation(c.Conversation); ok {
			return found.team, nil
		}
	}
	return "", nil
}
