package slackchat

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
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

// CatchUp takes the messages that were missed while there was no connection:
// those written since the newest that was stored or delivered. Slack delivers
// again what was not acknowledged; this is for what it gave up on.
func (a *App) CatchUp(ctx context.Context) error {
	open, channels, last, err := a.known(ctx)
	if err != nil {
		return fmt.Errorf("looking for conversations to catch up on: %w", err)
	}
	if seen, ok := a.newest.time(); ok && seen.After(last) {
		last = seen
	}
	if last.IsZero() {
		return nil // nothing was ever said: there is nothing to miss
	}
	since := last.Add(-overlap)
	if earliest := a.Now().Add(-longestGap); since.Before(earliest) {
		since = earliest
	}
	var failed error
	for _, c := range slices.Concat(channels, open) {
		if err := a.catchUpOn(ctx, c, since); err != nil {
			if AsFatal(err) != nil || ctx.Err() != nil {
				return err
			}
			failed = errors.Join(failed, err)
		}
	}
	return failed
}

// known are the threads of open cases and the channels that cases are in,
// newest first, and the time of the newest message of any.
func (a *App) known(ctx context.Context) (threads, channels []conversation, last time.Time, err error) {
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
		if c.thread != "" && found.State == store.Open && len(threads) < mostThreads && !slices.Contains(threads, c) {
			threads = append(threads, c)
		}
	}
	return threads, channels, last, nil
}

// catchUpOn takes what was written in a channel or a thread since a time. Who
// was answered before is not answered again, by the key of the delivery.
func (a *App) catchUpOn(ctx context.Context, c conversation, since time.Time) error {
	var messages []slack.Message
	err := a.patiently(ctx, func() error {
		var err error
		messages, err = a.writtenSince(ctx, c, since)
		return err
	})
	if err != nil {
		return fmt.Errorf("catching up on %s: %w", c.channel, err)
	}
	slices.SortFunc(messages, func(x, y slack.Message) int { return cmp.Compare(x.Timestamp, y.Timestamp) })
	for _, m := range messages {
		if m.Timestamp < stampOf(since) || !written[m.SubType] {
			continue
		}
		a.said(ctx, c.channel, message{
			Subtype: m.SubType, User: m.User, Bot: m.BotID, Text: m.Text, Stamp: m.Timestamp, Thread: threadIn(m), Files: filesIn(m),
		}, func([]byte, error) {})
	}
	return nil
}

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
		out = append(out, file{ID: f.ID, Name: f.Name, Link: f.Permalink, Access: f.FileAccess, External: f.IsExternal})
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
