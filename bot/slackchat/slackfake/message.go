package slackfake

import (
	"encoding/json"
	"slices"
	"strings"
	"time"
)

type channel struct {
	id, name, kind string // kind: channel, group, im
	members        map[string]bool
	made           time.Time
	stamps         clock // timestamps are unique in a channel only
	messages       []*message
	byTS           map[string]*message
	top            []*message // those that are no replies
	tokens         float64    // of the rate of posts
	filled         time.Time
}

// scope is the scope that a right on the channel needs: history or read.
func (c *channel) scope(right string) string {
	return map[string]string{"channel": "channels", "group": "groups", "im": "im"}[c.kind] + ":" + right
}

type message struct {
	ts, thread, user, bot, subtype, text string
	client                               string // client_msg_id, of what people typed
	blocks, attachments, metadata        json.RawMessage
	edited                               *edited
	edits                                int
	files                                []*file
	replies                              []*message
	gone                                 bool
	arrived                              time.Time
}

type edited struct {
	User string `json:"user"`
	TS   string `json:"ts"`
}

// add puts a message into a channel, at the end: timestamps rise.
func (c *channel) add(m *message) {
	c.messages = append(c.messages, m)
	c.byTS[m.ts] = m
	if root := c.byTS[m.thread]; m.thread != "" && root != nil && root != m {
		root.replies = append(root.replies, m)
		return
	}
	c.top = append(c.top, m)
}

// find gives a message that has not been deleted.
func (c *channel) find(ts string) *message {
	if m := c.byTS[ts]; m != nil && !m.gone {
		return m
	}
	return nil
}

// root says which timestamp a reply to a message is written under.
func (m *message) root() string {
	if m.thread != "" {
		return m.thread
	}
	return m.ts
}

// object is a message as the history of a channel and nested messages have it.
func (s *Server) object(m *message, withMetadata bool) map[string]any {
	o := map[string]any{"type": "message", "ts": m.ts, "text": m.text}
	set := func(key, value string) {
		if value != "" {
			o[key] = value
		}
	}
	set("subtype", m.subtype)
	set("user", m.user)
	set("client_msg_id", m.client)
	if m.subtype == "" {
		o["team"] = s.o.Team.ID
	}
	if m.bot != "" {
		o["bot_id"], o["app_id"], o["bot_profile"] = m.bot, s.o.AppID, s.botProfile()
	}
	if len(m.blocks) > 0 {
		o["blocks"] = m.blocks
	}
	if len(m.attachments) > 0 {
		o["attachments"] = m.attachments
	}
	if m.edited != nil {
		o["edited"] = m.edited
	}
	if withMetadata && len(m.metadata) > 0 {
		o["metadata"] = m.metadata
	}
	if len(m.files) > 0 {
		o["files"], o["upload"], o["display_as_bot"] = s.fileObjects(m.files), false, false
	}
	s.threadFields(o, m)
	return o
}

// threadFields says of what thread a message is, or what thread it has.
func (s *Server) threadFields(o map[string]any, m *message) {
	if m.thread != "" {
		o["thread_ts"] = m.thread
	}
	replies := m.alive()
	if len(replies) == 0 {
		return
	}
	var users []string
	for _, r := range replies {
		if !slices.Contains(users, r.user) && len(users) < 5 {
			users = append(users, r.user)
		}
	}
	o["thread_ts"], o["reply_count"], o["reply_users_count"] = m.ts, len(replies), len(users)
	o["reply_users"], o["latest_reply"] = users, replies[len(replies)-1].ts
}

// alive are the replies that have not been deleted.
func (m *message) alive() []*message {
	var out []*message
	for _, r := range m.replies {
		if !r.gone {
			out = append(out, r)
		}
	}
	return out
}

func (s *Server) botProfile() map[string]any {
	return map[string]any{
		"id": s.o.BotID, "name": s.o.BotName, "app_id": s.o.AppID, "team_id": s.o.Team.ID,
		"icons": map[string]string{"image_48": s.base + "/icon.png"}, "updated": 1700000000, "deleted": false,
	}
}

// Message is a message as a test sees it.
type Message struct {
	Channel, TS, ThreadTS string
	User, BotID           string // BotID is empty for what people write
	Subtype, Text         string
	Blocks, Metadata      json.RawMessage
	Edits                 int
	Files                 []string  // IDs
	Arrived               time.Time // by the machine's clock
}

func (m *message) public(channel string) Message {
	out := Message{
		Channel: channel, TS: m.ts, ThreadTS: m.thread, User: m.user, BotID: m.bot, Subtype: m.subtype, Text: m.text,
		Blocks: slices.Clone(m.blocks), Metadata: slices.Clone(m.metadata), Edits: m.edits, Arrived: m.arrived,
	}
	for _, f := range m.files {
		out.Files = append(out.Files, f.id)
	}
	return out
}

// Messages are those of a channel that have not been deleted, with the replies
// in threads, in the order of their timestamps.
func (s *Server) Messages(channel string) []Message {
	s.work.mu.Lock()
	defer s.work.mu.Unlock()
	c := s.work.channels[channel]
	if c == nil {
		return nil
	}
	var out []Message
	for _, m := range c.messages {
		if !m.gone {
			out = append(out, m.public(channel))
		}
	}
	return out
}

// Replies are the messages of a thread without its first.
func (s *Server) Replies(channel, thread string) []Message {
	s.work.mu.Lock()
	defer s.work.mu.Unlock()
	c := s.work.channels[channel]
	if c == nil || c.byTS[thread] == nil {
		return nil
	}
	var out []Message
	for _, m := range c.byTS[thread].alive() {
		out = append(out, m.public(channel))
	}
	return out
}

// after gives the part of messages between two timestamps; empty ones bound
// nothing. Timestamps of one form compare as strings do.
func between(all []*message, oldest, latest string, inclusive bool) []*message {
	from, to := 0, len(all)
	if oldest != "" {
		from, _ = slices.BinarySearchFunc(all, oldest, func(m *message, ts string) int { return strings.Compare(m.ts, ts) })
		if from < len(all) && all[from].ts == oldest && !inclusive {
			from++
		}
	}
	if latest != "" {
		at, found := slices.BinarySearchFunc(all, latest, func(m *message, ts string) int { return strings.Compare(m.ts, ts) })
		if to = at; found && inclusive {
			to++
		}
	}
	return all[from:max(from, to)]
}
