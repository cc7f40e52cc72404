package slackfake

import (
	"encoding/json"
	"fmt"
	"maps"
	"strings"
	"time"
)

// Say posts what a person typed into a channel, or into a thread of it, and
// gives its timestamp. The bot gets message.channels, message.groups or
// message.im; where it is mentioned in a channel it also gets app_mention, with
// the same ts and another event_id.
func (s *Server) Say(channel, user, text, thread string) (ts string, err error) {
	return s.say(channel, user, text, thread, nil)
}

// Share posts files into a channel as a person does, with a text or without:
// a message of the subtype file_share.
func (s *Server) Share(channel, user string, files []File, text, thread string) (ts string, err error) {
	if len(files) == 0 {
		return "", fmt.Errorf("sharing in %s: no files", channel)
	}
	return s.say(channel, user, text, thread, files)
}

func (s *Server) say(in, user, text, thread string, files []File) (string, error) {
	written, parts := s.typed(text)
	blocks, err := json.Marshal(s.richText(parts))
	if err != nil {
		return "", fmt.Errorf("writing rich text: %w", err)
	}
	m := &message{thread: thread, user: user, text: written, client: s.uuid(), arrived: time.Now()}
	if len(parts) > 0 {
		m.blocks = blocks
	}
	s.work.mu.Lock()
	c, err := s.speaker(in, user, thread)
	if err != nil {
		s.work.mu.Unlock()
		return "", fmt.Errorf("saying something: %w", err)
	}
	m.ts = c.stamps.stamp(s.o.Now())
	if len(files) > 0 {
		m.subtype, m.files = "file_share", s.keep(c, user, m.ts, files)
	}
	c.add(m)
	events := s.said(c, m)
	s.work.mu.Unlock()
	s.notice.changed()
	for _, e := range events {
		s.emit(e)
	}
	return m.ts, nil
}

// speaker gives the channel in which somebody may say something.
func (s *Server) speaker(in, user, thread string) (*channel, error) {
	c := s.work.channels[in]
	switch {
	case c == nil:
		return nil, fmt.Errorf("there is no channel %s", in)
	case s.work.users[user] == nil:
		return nil, fmt.Errorf("there is nobody with the ID %s", user)
	case !c.members[user]:
		return nil, fmt.Errorf("%s is not in %s", user, in)
	case thread != "" && (c.find(thread) == nil || c.find(thread).thread != ""):
		return nil, fmt.Errorf("%s has no thread %s", in, thread)
	}
	return c, nil
}

// event is something that happened, on its way to the bot.
type event struct {
	scope       string // that a token needs for it
	channel, ts string
	body        map[string]any
}

// said gives the events of a new message, in the order in which they are sent.
func (s *Server) said(c *channel, m *message) []event {
	if !c.members[s.o.BotUser] {
		return nil
	}
	body := s.object(m, true)
	body["event_ts"], body["channel"], body["channel_type"] = m.ts, c.id, c.kind
	if root := c.byTS[m.thread]; root != nil && m.thread != "" {
		body["parent_user_id"] = root.user
	}
	out := []event{{c.scope("history"), c.id, m.ts, body}}
	if c.kind == "im" || m.bot != "" || !strings.Contains(m.text, s.Mention()) {
		return out
	}
	mention := event{"app_mentions:read", c.id, m.ts, s.mentionOf(body)}
	s.work.mentions++
	if s.o.Order == MentionFirst || s.o.Order == Alternating && s.work.mentions%2 == 1 {
		return []event{mention, out[0]}
	}
	return append(out, mention)
}

// mentionOf is a message as app_mention has it.
func (s *Server) mentionOf(body map[string]any) map[string]any {
	out := maps.Clone(body)
	out["type"] = "app_mention"
	for _, key := range []string{"channel_type", "parent_user_id", "subtype"} {
		delete(out, key)
	}
	return out
}

// Edit changes the text of a message as its writer does.
func (s *Server) Edit(channel, ts, text string) error {
	written, parts := s.typed(text)
	blocks, err := json.Marshal(s.richText(parts))
	if err != nil {
		return fmt.Errorf("writing rich text: %w", err)
	}
	return s.change(channel, ts, func(m *message, stamp string) {
		m.text, m.blocks = written, blocks
		m.edited, m.edits = &edited{m.user, stamp}, m.edits+1
	})
}

// Unfurl adds the preview of a link to a message, as Slack does by itself: the
// message changes, but its text does not and nobody edited it.
func (s *Server) Unfurl(channel, ts string) error {
	return s.change(channel, ts, func(m *message, _ string) {
		m.attachments = json.RawMessage(`[{"id": 1, "from_url": "https://example.com/", "original_url": "https://example.com/", "fallback": "Example", "title": "Example", "title_link": "https://example.com/", "service_name": "example.com"}]`)
	})
}

// change changes a message and sends message_changed.
func (s *Server) change(in, ts string, by func(m *message, stamp string)) error {
	s.work.mu.Lock()
	c := s.work.channels[in]
	if c == nil || c.find(ts) == nil {
		s.work.mu.Unlock()
		return fmt.Errorf("there is no message %s in %s", ts, in)
	}
	e := s.changed(c, c.find(ts), by)
	s.work.mu.Unlock()
	s.notice.changed()
	s.emit(e)
	return nil
}

// changed is called with the workspace locked.
func (s *Server) changed(c *channel, m *message, by func(m *message, stamp string)) event {
	stamp := c.stamps.stamp(s.o.Now())
	before := s.object(m, true)
	by(m, stamp)
	return s.hidden(c, "message_changed", stamp, map[string]any{"message": s.object(m, true), "previous_message": before})
}

// hidden is the event of a change, which people do not see as a message.
func (s *Server) hidden(c *channel, subtype, stamp string, more map[string]any) event {
	body := map[string]any{
		"type": "message", "subtype": subtype, "hidden": true, "channel": c.id, "channel_type": c.kind,
		"ts": stamp, "event_ts": stamp,
	}
	maps.Copy(body, more)
	if !c.members[s.o.BotUser] {
		body = nil
	}
	return event{c.scope("history"), c.id, stamp, body}
}

// Delete takes a message away.
func (s *Server) Delete(channel, ts string) error {
	s.work.mu.Lock()
	c := s.work.channels[channel]
	if c == nil || c.find(ts) == nil {
		s.work.mu.Unlock()
		return fmt.Errorf("there is no message %s in %s", ts, channel)
	}
	e := s.deleted(c, c.find(ts))
	s.work.mu.Unlock()
	s.notice.changed()
	s.emit(e)
	return nil
}

// deleted is called with the workspace locked.
func (s *Server) deleted(c *channel, m *message) event {
	before := s.object(m, true)
	m.gone = true
	return s.hidden(c, "message_deleted", c.stamps.stamp(s.o.Now()), map[string]any{"deleted_ts": m.ts, "previous_message": before})
}

// emit sends an event to the bot, if its token may have it.
func (s *Server) emit(e event) {
	if e.body == nil || !s.granted(e.scope) {
		return
	}
	s.deliver(s.eventDelivery(e))
}

// eventDelivery wraps an event as the Events API does.
func (s *Server) eventDelivery(e event) *delivery {
	id := s.newID("Ev")
	body := map[string]any{
		"token": verificationToken, "team_id": s.o.Team.ID, "context_team_id": s.o.Team.ID, "api_app_id": s.o.AppID,
		"event": e.body, "type": "event_callback", "event_id": id, "event_time": s.o.Now().Unix(),
		"authorizations": []any{map[string]any{
			"enterprise_id": nil, "team_id": s.o.Team.ID, "user_id": s.o.BotUser, "is_bot": true, "is_enterprise_install": false,
		}},
		"is_ext_shared_channel": false, "event_context": "4-" + id,
	}
	kind, _ := e.body["type"].(string)
	return &delivery{id: id, kind: "events_api", typ: kind, channel: e.channel, ts: e.ts, body: body, again: true}
}

// verificationToken is the old way to know that a request is Slack's; it is no
// secret of any use.
const verificationToken = "verification-token-of-the-stand-in"
