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
		user, thread := "", ""
		if e.Previous != nil {
			stamp, user, thread = cmp.Or(stamp, e.Previous.Stamp), e.Previous.User, e.Previous.Thread
		}
		a.deleted(e.Channel, stamp, thread, user, done)
	case written[e.Subtype]:
		a.said(e.Channel, e.message, done)
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
func (a *App) said(channel string, m message, done func([]byte, error)) {
	at, ok := timeOf(m.Stamp)
	mentioned := strings.Contains(m.Text, "<@"+a.Self+">") || strings.Contains(m.Text, "<@"+a.Self+"|")
	c := conversation{a.Team, channel, m.Thread}
	if !c.direct() && c.thread == "" {
		if c.thread = m.Stamp; !mentioned {
			ok = false // chatter
		}
	}
	if a.own(m) || !ok || channel == "" {
		done(nil, nil)
		return
	}
	text := markup.Plain(m.Text, a.Self)
	if text == "" && len(m.Files) > 0 {
		a.files(c, m, at, done)
		return
	}
	if len(m.Files) > 0 {
		done = both(done)
	}
	a.lanes.add(c.String(), job{stamp: m.Stamp, text: true, done: done, run: func(ctx context.Context, now circumstances) *held {
		called := mentioned || c.direct()
		if !called && !a.follows(ctx, c, m.User) {
			m.Text, _ = redact.Redact(m.Text)
			a.parked.put(c.String(), m, a.Now())
			done(nil, nil)
			return a.release(ctx, now)
		}
		if !a.permitted(ctx, asks{m.User, m.Team, channel, m.Thread, c.delivery(m.Stamp, "hint"), !called || m.late}, done) {
			return a.release(ctx, now)
		}
		env := a.envelope(c, m.User, c.delivery(m.Stamp), messageID(channel, m.Stamp), at, now)
		env.Followed, env.News = now.followed, now.held.news()
		r, fresh := a.handle(ctx, bot.Text{Envelope: env, Text: text}, env.Delivery, done)
		switch {
		case r.Held:
			return &held{r, env}
		case !fresh || r.Repeated: // it was answered before, so the held reply was not said
			return a.release(ctx, now)
		}
		if mentioned && r.Case == 0 {
			a.called.Add(c.String(), m.User)
		}
		if called {
			a.unpark(c, m.Stamp)
		}
		return nil
	}})
	if len(m.Files) > 0 {
		a.files(c, m, at, done)
	}
}

// messageID names a message: stamps are unique within a channel only.
func messageID(channel, stamp string) string { return channel + "/" + stamp }

// both calls a done when it was called twice, with the first error.
func both(done func([]byte, error)) func([]byte, error) {
	var mu sync.Mutex
	calls := 0
	var failed error
	return func(answer []byte, err error) {
		mu.Lock()
		defer mu.Unlock()
		failed = errors.Join(failed, err)
		if calls++; calls == 2 {
			done(answer, failed)
		}
	}
}

// follows tells whether a message that does not call the bot goes on with
// something: with the case of its thread, or with having called it just before.
func (a *App) follows(ctx context.Context, c conversation, user string) bool {
	if a.hasCase(ctx, c) {
		return true
	}
	if caller, ok := a.called.Get(c.String()); !ok || caller != user {
		return false
	}
	a.called.Remove(c.String()) // once: what is said later may be for others
	return true
}

// asks is somebody who wants something of the bot.
type asks struct {
	user, team, channel, thread string
	hint                        string // key under which a hint is shown once
	silent                      bool   // no hint is due
}

// permitted tells whether somebody may work with the bot where it was asked. If
// not, the delivery is done with, and the person is told so alone.
func (a *App) permitted(ctx context.Context, who asks, done func([]byte, error)) bool {
	hint, err := a.hintFor(ctx, who)
	switch {
	case err != nil: // it is not known who may what: Slack delivers again
		a.Log.Error("it can't be told who may work with the bot", "error", err)
		done(nil, err)
		return false
	case hint == "":
		return true
	}
	done(nil, nil)
	if who.silent {
		return false
	}
	// A mention comes in two forms, and is hinted at once.
	if known, _ := a.seen.ContainsOrAdd(who.hint, struct{}{}); !known {
		a.aside(ctx, func(ctx context.Context) { a.hint(ctx, who.channel, who.user, who.thread, hint) })
	}
	return false
}

// hintFor says why somebody can't work with the bot here, or "".
func (a *App) hintFor(ctx context.Context, who asks) (string, error) {
	say := wording.In("").Say
	if who.team != "" && who.team != a.Team {
		return say("not_allowed"), nil
	}
	allowed, err := a.roster.allowed(ctx, who.user)
	switch {
	case allowed && a.allowedIn(who.channel):
		return "", nil
	case err != nil && !allowed:
		return "", err
	case !allowed:
		return say("not_allowed"), nil
	}
	return say("wrong_channel"), nil
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
		a.deleted(e.Channel, m.Stamp, m.Thread, m.User, done)
		return
	case a.own(m), m.Edited == nil, !ok, e.Previous != nil && e.Previous.Text == m.Text:
		done(nil, nil)
		return
	}
	c := a.threadOf(e.Channel, m.Stamp, m.Thread)
	clean, _ := redact.Redact(m.Text)
	a.parked.edit(c.String(), m.Stamp, clean)
	delivery := c.delivery(m.Stamp, "edit", m.Edited.Stamp)
	a.lanes.add(c.String(), job{stamp: cmp.Or(m.Edited.Stamp, m.Stamp), done: done, run: func(ctx context.Context, now circumstances) *held {
		if !a.permitted(ctx, asks{m.User, m.Team, e.Channel, m.Thread, "", true}, done) {
			return nil
		}
		env := a.envelope(c, m.User, delivery, messageID(e.Channel, m.Stamp), at, now)
		a.handle(ctx, bot.Edit{Envelope: env, Text: markup.Plain(m.Text, a.Self)}, delivery, done)
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

// deleted drops the words of a deleted message. One that was not stored may be
// on its way still: it is then known as done with.
func (a *App) deleted(channel, stamp, thread, user string, done func([]byte, error)) {
	at, ok := timeOf(stamp)
	if !ok {
		done(nil, nil)
		return
	}
	c := a.threadOf(channel, stamp, thread)
	a.parked.drop(c.String(), stamp)
	delivery := c.delivery(stamp, "deleted")
	a.lanes.add(c.String(), job{stamp: stampOf(a.Now()), done: done, run: func(ctx context.Context, now circumstances) *held {
		env := a.envelope(c, user, delivery, messageID(channel, stamp), at, now)
		env.Post = false
		var failed error
		r, fresh := a.handle(ctx, bot.Deletion{Envelope: env}, delivery, func(_ []byte, err error) { failed = err })
		if fresh && r.Case == 0 && a.Now().Sub(at) < parkedFor {
			_, failed = a.Store.Apply(ctx, store.Change{Delivery: c.delivery(stamp)})
		}
		done(nil, failed)
		return nil
	}})
}

// files links photos and files to the case of their thread. They stay where
// they are.
func (a *App) files(c conversation, m message, at time.Time, done func([]byte, error)) {
	a.lanes.add(c.String(), job{stamp: m.Stamp, done: done, run: func(ctx context.Context, now circumstances) *held {
		if !c.direct() && !a.hasCase(ctx, c) {
			done(nil, nil)
			return nil
		}
		if !a.permitted(ctx, asks{m.User, m.Team, c.channel, m.Thread, "", true}, done) {
			return nil
		}
		var failed error
		for _, f := range m.Files {
			env := a.envelope(c, m.User, c.delivery(m.Stamp, f.ID), messageID(c.channel, m.Stamp), at, now)
			f, err := a.lookUp(ctx, f)
			switch {
			case errors.Is(err, errNotKept):
				a.Log.Warn("a file is not linked", "file", f.ID, "error", err)
			case err != nil:
				a.Log.Warn("a file can't be looked up yet", "file", f.ID, "error", err)
				failed = errors.Join(failed, err)
			default:
				a.handle(ctx, bot.File{Envelope: env, Name: f.Name, Link: f.Link}, env.Delivery, func(_ []byte, err error) { failed = errors.Join(failed, err) })
			}
		}
		done(nil, failed)
		return nil
	}})
}

// errNotKept is a file that is not Slack's own.
var errNotKept = errors.New("it is not kept by Slack")

// lookUp asks for what the event does not tell of a file, and refuses a link
// that does not lead to Slack.
func (a *App) lookUp(ctx context.Context, f file) (file, error) {
	if f.Access == "check_file_info" || f.Link == "" {
		var info *slack.File
		err := a.patiently(ctx, func() error {
			var err error
			info, _, _, err = a.API.GetFileInfoContext(ctx, f.ID, 0, 0)
			return err
		})
		if refused := (slack.SlackErrorResponse{}); errors.As(err, &refused) {
			return f, fmt.Errorf("asking for file %s: %w: %w", f.ID, err, errNotKept)
		}
		if err != nil {
			return f, fmt.Errorf("asking for file %s: %w", f.ID, err)
		}
		f.Name, f.Link = info.Name, info.Permalink
	}
	if u, err := url.Parse(f.Link); err != nil || u.Scheme != "https" || !ofSlack(u.Hostname()) {
		return f, fmt.Errorf("file %s: %w", f.ID, errNotKept)
	}
	return f, nil
}

func ofSlack(host string) bool {
	return host == "slack.com" || strings.HasSuffix(host, ".slack.com") || strings.HasSuffix(host, ".slack-files.com")
}

// release passes a held reply on to the next message, or posts it where none
// follows.
func (a *App) release(ctx context.Context, now circumstances) *held {
	h := now.held
	if h == nil || now.followed {
		return h
	}
	body, err := bot.PostingOf(h.reply)
	o := store.Outgoing{Channel: h.env.Conversation, Body: body, Case: h.reply.Case, Version: h.reply.Version, Held: h.env.Held}
	var receipt store.Receipt
	if err == nil {
		receipt, err = a.Store.Apply(context.WithoutCancel(ctx), store.Change{Delivery: h.env.Delivery + "/held", Outbox: []store.Outgoing{o}})
	}
	switch {
	case err != nil:
		a.Log.Error("a reply could not be put into the outbox", "case", h.reply.Case, "error", err)
	case a.Take != nil && len(receipt.Outbox) == 1:
		a.Take(store.Leased{ID: receipt.Outbox[0], Outgoing: o, Attempts: 1})
	default:
		a.Kick()
	}
	return nil
}
