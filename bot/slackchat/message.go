package slackchat

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"net/url"
	"strings"
	"sync"
	"time"

	"github.com/slack-go/slack"

	"ferrule/bot"
	"ferrule/bot/redact"
	"ferrule/bot/slackchat/markup"
	"ferrule/bot/wording"
	"ferrule/store"
)

// message sorts what happened to a message into its lane.
func (a *App) message(ctx context.Context, e event, done func([]byte, error)) {
	switch {
	case e.Subtype == "message_changed" && e.Message != nil:
		a.edited(e, done)
	case e.Subtype == "message_deleted":
		stamp := e.Deleted
		thread := ""
		if e.Previous != nil {
			stamp, thread = cmp.Or(stamp, e.Previous.Stamp), e.Previous.Thread
		}
		a.deleted(e.Channel, stamp, thread, done)
	case written[e.Subtype]:
		a.newest.see(e.Stamp)
		a.said(ctx, e.Channel, e.message, done)
	default:
		done(nil, nil)
	}
}

// own tells whether a message was not written by a person: answering it might
// go on for ever.
func (a *App) own(m message) bool {
	return m.Bot != "" || m.User == "" || m.User == a.Self || m.User == "USLACKBOT"
}

// said takes a message that somebody wrote. It is answered when it mentions the
// bot, is written to it directly, or stands in the thread of a case.
func (a *App) said(ctx context.Context, channel string, m message, done func([]byte, error)) {
	at, ok := timeOf(m.Stamp)
	if a.own(m) || !ok || channel == "" {
		done(nil, nil)
		return
	}
	mentioned := strings.Contains(m.Text, "<@"+a.Self+">") || strings.Contains(m.Text, "<@"+a.Self+"|")
	c := conversation{a.Team, channel, m.Thread}
	if !c.direct() && c.thread == "" {
		if !mentioned {
			done(nil, nil)
			return
		}
		c.thread = m.Stamp
	}
	called := mentioned || c.direct()
	if mentioned {
		a.called.Add(c.String(), struct{}{})
	}
	if hint := a.hintFor(ctx, m.User, m.Team, channel); hint != "" {
		done(nil, nil)
		// A mention comes in two forms, and is hinted at once.
		if known, _ := a.seen.ContainsOrAdd(c.delivery(m.Stamp, "hint"), struct{}{}); called && !known {
			a.aside(ctx, func(ctx context.Context) { a.hint(ctx, channel, m.User, m.Thread, hint) })
		}
		return
	}
	text := markup.Plain(m.Text, a.Self)
	if text == "" && len(m.Files) > 0 {
		a.files(c, m, at, done)
		return
	}
	a.lanes.add(c.String(), job{stamp: m.Stamp, text: true, run: func(ctx context.Context, now circumstances) *held {
		if !called && !a.called.Contains(c.String()) && !a.hasCase(ctx, c) {
			m.Text, _ = redact.Redact(m.Text)
			a.parked.put(c.String(), m, a.Now())
			done(nil, nil)
			return a.release(ctx, now)
		}
		env := a.envelope(c, m.User, c.delivery(m.Stamp), m.Stamp, at, now)
		env.Followed, env.News = now.followed, now.held.news()
		r, fresh := a.handle(ctx, bot.Text{Envelope: env, Text: text}, env.Delivery, done)
		switch {
		case r.Held:
			return &held{r, env}
		case !fresh || r.Repeated: // it was answered before, so the held reply was not said
			return a.release(ctx, now)
		case called:
			a.unpark(ctx, c, m.Stamp)
		}
		return nil
	}})
	if len(m.Files) > 0 {
		a.files(c, m, at, func([]byte, error) {})
	}
}

// release passes a held reply on to the next message, or posts it where none
// follows.
func (a *App) release(ctx context.Context, now circumstances) *held {
	h := now.held
	if h == nil || now.followed {
		return h
	}
	body, err := bot.PostingOf(h.reply)
	if err == nil {
		_, err = a.Store.Apply(ctx, store.Change{Delivery: h.env.Delivery + "/held", Outbox: []store.Outgoing{{
			Channel: h.env.Conversation, Body: body, Case: h.reply.Case, Version: h.reply.Version,
		}}})
	}
	if err != nil {
		a.Log.Error("a reply could not be put into the outbox", "case", h.reply.Case, "error", err)
	}
	a.Kick()
	return nil
}

// hintFor says why a person can't work with the bot here, or "".
func (a *App) hintFor(ctx context.Context, user, team, channel string) string {
	say := wording.In("").Say
	switch {
	case team != "" && team != a.Team, !a.roster.allowed(ctx, user):
		return say("not_allowed")
	case !a.allowedIn(channel):
		return say("wrong_channel")
	}
	return ""
}

// hint tells one person something that nobody else needs; it may get lost.
func (a *App) hint(ctx context.Context, channel, user, thread, says string) {
	options := []slack.MsgOption{slack.MsgOptionText(says, true), slack.MsgOptionDisableMarkdown()}
	if thread != "" {
		options = append(options, slack.MsgOptionTS(thread))
	}
	if _, err := a.API.PostEphemeralContext(ctx, channel, user, options...); err != nil {
		a.Log.Warn("a hint could not be shown", "channel", channel, "error", err)
	}
}

// hasCase tells whether a thread has a case. Where the store can't tell, it is
// taken for one: the bot itself then waits for the store.
func (a *App) hasCase(ctx context.Context, c conversation) bool {
	_, err := a.Store.Conversation(ctx, c.String())
	return !errors.Is(err, store.ErrNotFound)
}

// edited reads an edited message again. That a link was unfolded is no edit.
func (a *App) edited(e event, done func([]byte, error)) {
	m := *e.Message
	at, ok := timeOf(m.Stamp)
	switch {
	case m.Subtype == "tombstone": // a deleted message that has replies
		a.deleted(e.Channel, m.Stamp, m.Thread, done)
		return
	case a.own(m), m.Edited == nil, !ok, e.Previous != nil && e.Previous.Text == m.Text:
		done(nil, nil)
		return
	}
	c := a.threadOf(e.Channel, m.Stamp, m.Thread)
	delivery := c.delivery(m.Stamp, "edit", m.Edited.Stamp)
	a.lanes.add(c.String(), job{stamp: cmp.Or(m.Edited.Stamp, m.Stamp), run: func(ctx context.Context, now circumstances) *held {
		a.handle(ctx, bot.Edit{Envelope: a.envelope(c, m.User, delivery, m.Stamp, at, now), Text: markup.Plain(m.Text, a.Self)}, delivery, done)
		return nil
	}})
}

// threadOf is the conversation of a message that may have begun its thread.
func (a *App) threadOf(channel, stamp, thread string) conversation {
	c := conversation{a.Team, channel, thread}
	if !c.direct() && thread == "" {
		c.thread = stamp
	}
	return c
}

// deleted drops the words of a deleted message.
func (a *App) deleted(channel, stamp, thread string, done func([]byte, error)) {
	if _, ok := timeOf(stamp); !ok {
		done(nil, nil)
		return
	}
	c := a.threadOf(channel, stamp, thread)
	a.parked.drop(c.String(), stamp)
	delivery := c.delivery(stamp, "deleted")
	a.lanes.add(c.String(), job{stamp: stampOf(a.Now()), run: func(ctx context.Context, _ circumstances) *held {
		env := bot.Envelope{Delivery: delivery, Message: stamp, Sent: a.Now(), Conversation: c.String(), Direct: c.direct()}
		a.handle(ctx, bot.Deletion{Envelope: env}, delivery, done)
		return nil
	}})
}

// files links photos and files to the case of their thread. They stay where
// they are.
func (a *App) files(c conversation, m message, at time.Time, done func([]byte, error)) {
	a.lanes.add(c.String(), job{stamp: m.Stamp, run: func(ctx context.Context, now circumstances) *held {
		if !c.direct() && !a.hasCase(ctx, c) {
			done(nil, nil)
			return nil
		}
		var failed error
		for _, f := range m.Files {
			env := a.envelope(c, m.User, c.delivery(m.Stamp, f.ID), m.Stamp, at, now)
			f, err := a.lookUp(ctx, f)
			if err != nil {
				a.Log.Warn("a file can't be looked up and is not linked", "file", f.ID, "error", err)
				continue
			}
			a.handle(ctx, bot.File{Envelope: env, Name: f.Name, Link: f.Link}, env.Delivery, func(_ []byte, err error) { failed = errors.Join(failed, err) })
		}
		done(nil, failed)
		return nil
	}})
}

// lookUp asks for what the event does not tell of a file, and refuses a link
// that does not lead to Slack.
func (a *App) lookUp(ctx context.Context, f file) (file, error) {
	if f.Access == "check_file_info" || f.Link == "" {
		info, _, _, err := a.API.GetFileInfoContext(ctx, f.ID, 0, 0)
		if err != nil {
			return f, fmt.Errorf("asking for file %s: %w", f.ID, err)
		}
		f.Name, f.Link, f.External = info.Name, info.Permalink, info.IsExternal
	}
	if u, err := url.Parse(f.Link); err != nil || u.Scheme != "https" || !ofSlack(u.Hostname()) {
		return f, fmt.Errorf("file %s is not kept by Slack", f.ID)
	}
	return f, nil
}

func ofSlack(host string) bool {
	return host == "slack.com" || strings.HasSuffix(host, ".slack.com") || strings.HasSuffix(host, ".slack-files.com")
}

// newest is the stamp of the newest message that was delivered.
type newest struct {
	mu    sync.Mutex
	stamp string
}

func (n *newest) see(stamp string) {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.stamp = max(n.stamp, stamp)
}

func (n *newest) time() (time.Time, bool) {
	n.mu.Lock()
	defer n.mu.Unlock()
	return timeOf(n.stamp)
}
