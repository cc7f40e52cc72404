package manifest

import "strings"

// use is what a scope or an event is asked for.
type use struct {
	name string
	by   []string // the methods that a scope allows and the events that it lets in
	why  string   // for whoever installs the app
}

// scopes are all that an installation may need. Whoever calls another method of
// Slack's adds its scope here; views.* and auth.test need none.
var scopes = []use{
	{"app_mentions:read", []string{"app_mention"}, "somebody calls the bot in a channel"},
	{"chat:write", []string{"chat.postMessage", "chat.postEphemeral"}, "answers"},
	{"commands", []string{"slash_commands"}, "the slash command"},
	{"im:history", []string{"message.im", "conversations.history", "conversations.replies"}, "direct messages, also those that came while the bot was away"},
	{"channels:history", []string{"message.channels", "conversations.history", "conversations.replies"}, "answers in the thread of a case, which come without a mention"},
	{"groups:history", []string{"message.groups", "conversations.history", "conversations.replies"}, "the same in private channels"},
	{"files:read", []string{"files.info"}, "photos that people add to a case"},
	groupScope,
}

var groupScope = use{"usergroups:read", []string{"usergroups.users.list"}, "a user group says who is a lead"}

// events are those that Slack delivers; the scope of each stands above.
var events = []use{
	{name: "app_mention", why: "somebody calls the bot in a channel"},
	{name: "message.im", why: "a direct message"},
	{name: "message.channels", why: "an answer in the thread of a case; the bot leaves others alone"},
	{name: "message.groups", why: "the same in a private channel"},
	{name: "app_home_opened", why: "the home page is drawn when somebody looks at it"},
	{name: "app_uninstalled", why: "the bot says that it stops, and stops"},
	{name: "tokens_revoked", why: "likewise"},
}

// scopesFor are the scopes of an installation.
func scopesFor(groups bool) []use {
	var used []use
	for _, s := range scopes {
		if s.name != groupScope.name || groups {
			used = append(used, s)
		}
	}
	return used
}

func names(uses []use) []string {
	all := make([]string, len(uses))
	for i, u := range uses {
		all[i] = u.name
	}
	return all
}

// about says what a scope or an event is for; nothing of one that is not known.
func about(uses []use, name string) string {
	for _, u := range uses {
		if u.name == name && len(u.by) > 0 {
			return strings.Join(u.by, ", ") + ": " + u.why
		}
		if u.name == name {
			return u.why
		}
	}
	return ""
}
