package slackfake

import (
	"encoding/json"
	"slices"
	"strings"
	"time"
	"unicode/utf8"
)

const longestText = 40000 // characters; Slack cuts off what is beyond

// post is what a bot wants to be shown.
type post struct {
	Text        string          `json:"text"`
	Blocks      json.RawMessage `json:"blocks"`
	Attachments json.RawMessage `json:"attachments"`
	Metadata    json.RawMessage `json:"metadata"`
	ThreadTS    string          `json:"thread_ts"`
}

func readPost(a args) post {
	p := post{Text: a.str("text"), ThreadTS: a.str("thread_ts")}
	p.Blocks, _ = a.raw("blocks")
	p.Attachments, _ = a.raw("attachments")
	p.Metadata, _ = a.raw("metadata")
	return p
}

// judged gives a post as it will be kept, or why Slack refuses it.
func (s *Server) judged(p post) (post, error) {
	blocks, code, faults := s.judgeBlocks(p.Blocks)
	if code != "" {
		return p, refuseWith(code, faults)
	}
	p.Blocks = blocks
	if slices.Contains([]string{"null", "[]"}, string(p.Attachments)) {
		p.Attachments = nil
	}
	if len(p.Attachments) > 0 && !json.Valid(p.Attachments) {
		return p, refuse("invalid_attachments")
	}
	if p.Text == "" && len(p.Blocks) == 0 && len(p.Attachments) == 0 {
		return p, refuse("no_text")
	}
	if utf8.RuneCountInString(p.Text) > longestText {
		p.Text = string([]rune(p.Text)[:longestText])
	}
	if err := judgeMetadata(p.Metadata); err != nil {
		return p, err
	}
	return p, nil
}

func judgeMetadata(raw json.RawMessage) error {
	var m struct {
		Type    string         `json:"event_type"`
		Payload map[string]any `json:"event_payload"`
	}
	switch {
	case len(raw) == 0:
	case json.Unmarshal(raw, &m) != nil:
		return refuse("invalid_metadata_format")
	case m.Type == "" || m.Payload == nil:
		return refuse("invalid_metadata_schema")
	}
	return nil
}

// visible gives a channel by its ID, or the direct conversation with a person by
// theirs, if the bot can see it. The workspace is locked.
func (s *Server) visible(id string) (*channel, error) {
	if direct, ok := s.work.directs[id]; ok {
		id = direct
	}
	c := s.work.channels[id]
	if c == nil || c.kind != "channel" && !c.members[s.o.BotUser] {
		return nil, refuse("channel_not_found")
	}
	return c, nil
}

// within gives a channel that the bot is in.
func (s *Server) within(id string) (*channel, error) {
	c, err := s.visible(id)
	if err == nil && !c.members[s.o.BotUser] {
		err = refuse("not_in_channel")
	}
	return c, err
}

// spend counts a post against the rate of a channel.
func (s *Server) spend(c *channel) error {
	rate := s.o.PerChannel
	if rate.Off {
		return nil
	}
	now := s.o.Now()
	if c.filled.IsZero() {
		c.tokens = float64(rate.Burst)
	} else {
		c.tokens = min(float64(rate.Burst), c.tokens+float64(now.Sub(c.filled))/float64(rate.Every))
	}
	c.filled = now
	if c.tokens < 1 {
		return &refusal{code: "ratelimited", wait: time.Duration((1 - c.tokens) * float64(rate.Every))}
	}
	c.tokens--
	return nil
}

// thread judges the thread_ts of a post. The timestamp of a reply is taken, as
// Slack takes it, but counts as a violation: it makes a thread that nobody sees.
func (s *Server) thread(c *channel, ts string) error {
	if ts == "" {
		return nil
	}
	root := c.find(ts)
	if root == nil {
		return refuse("thread_not_found")
	}
	if root.thread != "" {
		s.violate("thread_ts of a post is that of a reply")
	}
	return nil
}

func (s *Server) postMessage(a args) (map[string]any, error) {
	p, err := s.judged(readPost(a))
	if err != nil {
		return nil, err
	}
	if a.flag("reply_broadcast") {
		s.violate("reply_broadcast: the stand-in shows no replies in the channel")
	}
	s.work.mu.Lock()
	c, err := s.within(a.str("channel"))
	if err == nil {
		err = s.spend(c)
	}
	if err == nil {
		err = s.thread(c, p.ThreadTS)
	}
	if err != nil {
		s.work.mu.Unlock()
		return nil, err
	}
	m, events := s.put(c, p)
	out := map[string]any{"channel": c.id, "ts": m.ts, "message": s.object(m, true)}
	s.work.mu.Unlock()
	s.sendAll(events)
	return out, nil
}

// put adds a message of the bot. The workspace is locked.
func (s *Server) put(c *channel, p post) (*message, []event) {
	m := &message{
		ts: c.stamps.stamp(s.o.Now()), thread: p.ThreadTS, user: s.o.BotUser, bot: s.o.BotID, text: p.Text,
		blocks: p.Blocks, attachments: p.Attachments, metadata: p.Metadata, arrived: time.Now(),
	}
	c.add(m)
	return m, s.said(c, m)
}

func (s *Server) sendAll(events []event) {
	s.notice.changed()
	for _, e := range events {
		s.emit(e)
	}
}

func (s *Server) postEphemeral(a args) (map[string]any, error) {
	p, err := s.judged(readPost(a))
	if err != nil {
		return nil, err
	}
	user := a.str("user")
	s.work.mu.Lock()
	defer s.work.mu.Unlock()
	c, err := s.within(a.str("channel"))
	if err != nil {
		return nil, err
	}
	if s.work.users[user] == nil || !c.members[user] {
		return nil, refuse("user_not_in_channel")
	}
	if err := s.spend(c); err != nil {
		return nil, err
	}
	if err := s.thread(c, p.ThreadTS); err != nil {
		return nil, err
	}
	return map[string]any{"message_ts": s.whisper(c, user, p)}, nil
}

// Ephemeral is a message that only one person sees.
type Ephemeral struct {
	Channel, User, TS, ThreadTS, Text string
	Blocks                            json.RawMessage
	Arrived                           time.Time
}

// whisper is called with the workspace locked.
func (s *Server) whisper(c *channel, user string, p post) string {
	ts := c.stamps.stamp(s.o.Now())
	s.work.byEph[c.id+" "+ts] = len(s.work.ephemerals)
	s.work.ephemerals = append(s.work.ephemerals, Ephemeral{c.id, user, ts, p.ThreadTS, p.Text, p.Blocks, time.Now()})
	s.notice.changed()
	return ts
}

// Ephemerals are the messages that only one person saw in a channel, by
// chat.postEphemeral, by the answer to a command, or by a response URL.
func (s *Server) Ephemerals(channel string) []Ephemeral {
	s.work.mu.Lock()
	defer s.work.mu.Unlock()
	var out []Ephemeral
	for _, e := range s.work.ephemerals {
		if e.Channel == channel {
			out = append(out, e)
		}
	}
	return out
}

// show shows the answer to a command, or what came by a response URL.
func (s *Server) show(channel, user string, p post, all bool) error {
	p, err := s.judged(p)
	if err != nil {
		return err
	}
	s.work.mu.Lock()
	c := s.work.channels[channel]
	if !all {
		s.whisper(c, user, p)
		s.work.mu.Unlock()
		return nil
	}
	_, events := s.put(c, p)
	s.work.mu.Unlock()
	s.sendAll(events)
	return nil
}

// update changes a message of the bot. Blocks stay when neither text nor blocks
// are given; a text alone takes them away.
func (s *Server) update(a args) (map[string]any, error) {
	p := readPost(a)
	hasBlocks, hasFiles := len(p.Blocks) > 0, len(p.Attachments) > 0
	var err error
	if p.Text == "" && !hasBlocks && !hasFiles && len(p.Metadata) > 0 {
		err = judgeMetadata(p.Metadata)
	} else {
		p, err = s.judged(p)
	}
	if err != nil {
		return nil, err
	}
	s.work.mu.Lock()
	c, err := s.within(a.str("channel"))
	var m *message
	if err == nil {
		m, err = s.ours(c, a.str("ts"), "cant_update_message")
	}
	if err != nil {
		s.work.mu.Unlock()
		return nil, err
	}
	e := s.changed(c, m, func(m *message, stamp string) { m.rewrite(p, hasBlocks, hasFiles, stamp) })
	out := map[string]any{"channel": c.id, "ts": m.ts, "text": m.text, "message": s.object(m, true)}
	s.work.mu.Unlock()
	s.sendAll([]event{e})
	return out, nil
}

// rewrite gives a message what an update brings.
func (m *message) rewrite(p post, hasBlocks, hasFiles bool, stamp string) {
	if p.Text != "" || hasBlocks {
		m.text, m.blocks = p.Text, p.Blocks
	}
	if p.Text != "" && !hasBlocks {
		m.edited = &edited{m.user, stamp} // Slack marks no edit where there are blocks
	}
	if hasFiles {
		m.attachments = p.Attachments
	}
	if len(p.Metadata) > 0 {
		m.metadata = p.Metadata
	}
	m.edits++
}

// ours gives a message of the bot.
func (s *Server) ours(c *channel, ts, otherwise string) (*message, error) {
	m := c.find(ts)
	switch {
	case m == nil:
		return nil, refuse("message_not_found")
	case m.bot != s.o.BotID:
		return nil, refuse(otherwise)
	}
	return m, nil
}

func (s *Server) deleteMessage(a args) (map[string]any, error) {
	s.work.mu.Lock()
	c, err := s.within(a.str("channel"))
	var m *message
	if err == nil {
		m, err = s.ours(c, a.str("ts"), "cant_delete_message")
	}
	if err != nil {
		s.work.mu.Unlock()
		return nil, err
	}
	e := s.deleted(c, m)
	out := map[string]any{"channel": c.id, "ts": m.ts}
	s.work.mu.Unlock()
	s.sendAll([]event{e})
	return out, nil
}

func (s *Server) authTest(args) (map[string]any, error) {
	return map[string]any{
		"url": "https://" + s.o.Team.Domain + ".slack.com/", "team": s.o.Team.Domain, "user": s.o.BotName,
		"team_id": s.o.Team.ID, "user_id": s.o.BotUser, "bot_id": s.o.BotID, "is_enterprise_install": false,
	}, nil
}

func (s *Server) connectionsOpen(args) (map[string]any, error) {
	q := &s.queue
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.refusing {
		return nil, &refusal{code: "service_unavailable", status: 503}
	}
	ticket := s.uuid()
	q.tickets[ticket] = true
	return map[string]any{"url": "ws" + strings.TrimPrefix(s.base, "http") + "/link/?ticket=" + ticket + "&app_id=" + s.o.AppID}, nil
}
