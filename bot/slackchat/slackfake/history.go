package slackfake

import (
	"encoding/base64"
	"slices"
	"strconv"
	"strings"
)

const (
	usualPage = 100
	mostPage  = 999
)

// page is which part of a list a call asks for.
type page struct {
	oldest, latest string
	inclusive      bool
	metadata       bool
	limit          int
	from           int
}

func readPage(a args) (page, error) {
	p := page{
		oldest: fullStamp(a.str("oldest")), latest: fullStamp(a.str("latest")), inclusive: a.flag("inclusive"),
		metadata: a.flag("include_all_metadata"), limit: min(max(a.number("limit", usualPage), 1), mostPage),
	}
	cursor := a.str("cursor")
	if cursor == "" {
		return p, nil
	}
	raw, err := base64.StdEncoding.DecodeString(cursor)
	at, found := strings.CutPrefix(string(raw), "next:")
	if n, err2 := strconv.Atoi(at); err == nil && found && err2 == nil && n > 0 {
		p.from = n
		return p, nil
	}
	return p, refuse("invalid_cursor")
}

// fullStamp gives a timestamp all its digits: 1 and 1.000000 are the same.
func fullStamp(ts string) string {
	if ts == "" || ts == "0" {
		return ""
	}
	whole, part, _ := strings.Cut(ts, ".")
	return whole + "." + (part + "000000")[:6]
}

// cut gives a page of a list, and what says where the next one begins.
func cut[T any](all []T, p page) (part []T, meta map[string]any, more bool) {
	from := min(p.from, len(all))
	to := min(from+p.limit, len(all))
	cursor := ""
	if more = to < len(all); more {
		cursor = base64.StdEncoding.EncodeToString([]byte("next:" + strconv.Itoa(to)))
	}
	return all[from:to], map[string]any{"next_cursor": cursor}, more
}

// readable gives a channel whose messages the bot may read.
func (s *Server) readable(id string) (*channel, error) {
	c, err := s.visible(id)
	if err != nil {
		return nil, err
	}
	if err := s.needs(c.scope("history")); err != nil {
		return nil, err
	}
	return s.within(id)
}

func (s *Server) history(a args) (map[string]any, error) {
	p, err := readPage(a)
	if err != nil {
		return nil, err
	}
	s.work.mu.Lock()
	defer s.work.mu.Unlock()
	c, err := s.readable(a.str("channel"))
	if err != nil {
		return nil, err
	}
	all := slices.Clone(between(c.top, p.oldest, p.latest, p.inclusive))
	all = slices.DeleteFunc(all, func(m *message) bool { return m.gone })
	slices.Reverse(all) // newest first
	out := s.paged(all, p)
	out["pin_count"] = 0
	return out, nil
}

// replies gives a thread: its first message, and those between the bounds.
func (s *Server) replies(a args) (map[string]any, error) {
	p, err := readPage(a)
	if err != nil {
		return nil, err
	}
	s.work.mu.Lock()
	defer s.work.mu.Unlock()
	c, err := s.readable(a.str("channel"))
	if err != nil {
		return nil, err
	}
	m := c.find(a.str("ts"))
	if m == nil {
		return nil, refuse("thread_not_found")
	}
	root := c.byTS[m.root()]
	all := between(root.alive(), p.oldest, p.latest, p.inclusive)
	return s.paged(append([]*message{root}, all...), p), nil
}

// paged is an answer with one page of messages.
func (s *Server) paged(all []*message, p page) map[string]any {
	part, meta, more := cut(all, p)
	out := map[string]any{"messages": s.objects(part, p.metadata), "has_more": more}
	if more {
		out["response_metadata"] = meta
	}
	return out
}

func (s *Server) objects(messages []*message, withMetadata bool) []any {
	out := []any{}
	for _, m := range messages {
		o := s.object(m, withMetadata)
		if m.gone {
			o = map[string]any{"type": "message", "subtype": "tombstone", "hidden": true, "user": "USLACKBOT", "ts": m.ts, "text": "This message was deleted."}
			s.threadFields(o, m)
		}
		out = append(out, o)
	}
	return out
}

func (s *Server) info(a args) (map[string]any, error) {
	s.work.mu.Lock()
	defer s.work.mu.Unlock()
	c, err := s.visible(a.str("channel"))
	if err != nil {
		return nil, err
	}
	if err := s.needs(c.scope("read")); err != nil {
		return nil, err
	}
	return map[string]any{"channel": s.channelObject(c)}, nil
}

func (s *Server) channelObject(c *channel) map[string]any {
	o := map[string]any{
		"id": c.id, "created": c.made.Unix(), "is_archived": false, "is_channel": c.kind == "channel", "is_group": c.kind == "group",
		"is_im": c.kind == "im", "is_mpim": false, "is_private": c.kind != "channel", "is_org_shared": false,
		"context_team_id": s.o.Team.ID,
	}
	if c.kind == "im" {
		for user, id := range s.work.directs {
			if id == c.id {
				o["user"] = user
			}
		}
		return o
	}
	o["name"], o["name_normalized"] = c.name, c.name
	o["is_member"], o["is_general"], o["num_members"] = c.members[s.o.BotUser], false, len(c.members)
	return o
}

// list gives the channels that the bot can see; is_member says where it is in.
func (s *Server) list(a args) (map[string]any, error) { return s.channelList(a, false) }

// memberships gives the channels that the bot is in.
func (s *Server) memberships(a args) (map[string]any, error) { return s.channelList(a, true) }

func (s *Server) channelList(a args, onlyMine bool) (map[string]any, error) {
	p, err := readPage(a)
	if err != nil {
		return nil, err
	}
	types := a.str("types")
	if types == "" {
		types = "public_channel"
	}
	kinds := map[string]string{"public_channel": "channel", "private_channel": "group", "im": "im", "mpim": "mpim"}
	want := map[string]bool{}
	for typ := range strings.SplitSeq(types, ",") {
		kind, ok := kinds[strings.TrimSpace(typ)]
		if !ok {
			return nil, refuse("invalid_types")
		}
		if kind != "mpim" { // there are none here
			if err := s.needs((&channel{kind: kind}).scope("read")); err != nil {
				return nil, err
			}
		}
		want[kind] = true
	}
	s.work.mu.Lock()
	defer s.work.mu.Unlock()
	var all []any
	for _, id := range s.work.channelIDs {
		c := s.work.channels[id]
		member := c.members[s.o.BotUser]
		if want[c.kind] && (member || c.kind == "channel" && !onlyMine) {
			all = append(all, s.channelObject(c))
		}
	}
	part, meta, _ := cut(all, p)
	return map[string]any{"channels": append([]any{}, part...), "response_metadata": meta}, nil
}

func (s *Server) usersInfo(a args) (map[string]any, error) {
	s.work.mu.Lock()
	defer s.work.mu.Unlock()
	u := s.work.users[a.str("user")]
	if u == nil {
		return nil, refuse("user_not_found")
	}
	bot := u.id == s.o.BotUser
	return map[string]any{"user": map[string]any{
		"id": u.id, "team_id": s.o.Team.ID, "name": u.name, "real_name": u.name, "deleted": false,
		"tz": "Europe/Dublin", "tz_label": "Greenwich Mean Time", "tz_offset": 0,
		"is_bot": bot, "is_admin": false, "is_owner": false, "is_app_user": false, "updated": 1700000000,
		"profile": map[string]any{
			"real_name": u.name, "real_name_normalized": u.name, "display_name": u.name, "display_name_normalized": u.name, "team": s.o.Team.ID,
		},
	}}, nil
}

func (s *Server) groupUsers(a args) (map[string]any, error) {
	s.work.mu.Lock()
	defer s.work.mu.Unlock()
	members, ok := s.work.groups[a.str("usergroup")]
	if !ok {
		return nil, refuse("no_such_subteam")
	}
	return map[string]any{"users": append([]string{}, members...)}, nil
}
