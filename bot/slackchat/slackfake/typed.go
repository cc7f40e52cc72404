package slackfake

import (
	"regexp"
	"strings"
)

// marks are what people pick from a list while they type, and addresses. All
// else that they type is plain text.
var marks = regexp.MustCompile(`<@[UW][A-Z0-9]+>|<#C[A-Z0-9]+(?:\|[^<>|]*)?>|<!(?:here|channel|everyone)>|<!subteam\^S[A-Z0-9]+>|https?://[^\s<>]+`)

var escaper = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;")

// typed turns what a person types into the text of a message and into the
// elements of rich text that Slack's editor makes of it. Mentions of people,
// channels and groups that there are, such as <@U0ADA>, stay as they are;
// addresses become links; &, < and > are escaped in the text and not in the
// elements.
func (s *Server) typed(in string) (string, []any) {
	var text strings.Builder
	var parts []any
	plain := func(t string) {
		if t != "" {
			text.WriteString(escaper.Replace(t))
			parts = append(parts, map[string]any{"type": "text", "text": t})
		}
	}
	at := 0
	for _, span := range marks.FindAllStringIndex(in, -1) {
		part, written := s.mark(in[span[0]:span[1]])
		if part == nil {
			continue
		}
		plain(in[at:span[0]])
		text.WriteString(written)
		parts = append(parts, part)
		at = span[1]
	}
	plain(in[at:])
	return text.String(), parts
}

// mark gives the element of something picked and how the text has it, or nil
// for what only looks like it.
func (s *Server) mark(in string) (part any, written string) {
	s.work.mu.Lock()
	defer s.work.mu.Unlock()
	inner := strings.TrimSuffix(in, ">")
	switch {
	case strings.HasPrefix(in, "http"):
		return map[string]any{"type": "link", "url": in}, "<" + escaper.Replace(in) + ">"
	case strings.HasPrefix(in, "<@"):
		if id := inner[2:]; s.work.users[id] != nil {
			return map[string]any{"type": "user", "user_id": id}, in
		}
	case strings.HasPrefix(in, "<#"):
		id, _, _ := strings.Cut(inner[2:], "|")
		if c := s.work.channels[id]; c != nil {
			return map[string]any{"type": "channel", "channel_id": id}, "<#" + id + "|" + c.name + ">"
		}
	case strings.HasPrefix(in, "<!subteam^"):
		if id := inner[len("<!subteam^"):]; s.work.groups[id] != nil {
			return map[string]any{"type": "usergroup", "usergroup_id": id}, in
		}
	default:
		return map[string]any{"type": "broadcast", "range": inner[2:]}, in
	}
	return nil, ""
}

// richText is the block that Slack's editor makes of what is typed.
func (s *Server) richText(parts []any) []any {
	if len(parts) == 0 {
		return nil
	}
	return []any{map[string]any{
		"type": "rich_text", "block_id": strings.ToLower(s.newID("")),
		"elements": []any{map[string]any{"type": "rich_text_section", "elements": parts}},
	}}
}
