package manifest

import (
	"bytes"
	"fmt"

	"github.com/goccy/go-yaml"
)

// YAML is the manifest as it is pasted on Slack's page, with a comment for each
// scope and event, and what to do with it above.
func (m Manifest) YAML() ([]byte, error) {
	if err := m.valid(); err != nil {
		return nil, err
	}
	comments := yaml.CommentMap{}
	explain(comments, "$.oauth_config.scopes.bot", m.OAuth.Scopes.Bot, scopes)
	explain(comments, "$.settings.event_subscriptions.bot_events", m.Settings.Events.Bot, events)
	raw, err := yaml.MarshalWithOptions(m, yaml.WithComment(comments), yaml.IndentSequence(true))
	if err != nil {
		return nil, fmt.Errorf("writing the manifest: %w", err)
	}
	var out bytes.Buffer
	for _, line := range m.notes() {
		fmt.Fprintf(&out, "# %s\n", line)
	}
	out.Write(raw)
	return out.Bytes(), nil
}

// explain puts a comment behind each item of a list.
func explain(comments yaml.CommentMap, path string, list []string, uses []use) {
	for i, name := range list {
		if text := about(uses, name); text != "" {
			comments[fmt.Sprintf("%s[%d]", path, i)] = []*yaml.Comment{yaml.LineComment(" " + text)}
		}
	}
}

// notes are the steps around the manifest.
func (m Manifest) notes() []string {
	notes := []string{
		"1. https://api.slack.com/apps: Create New App, From a manifest, and paste this.",
		"2. Install the app. OAuth & Permissions has the bot token (xoxb-): SLACK_BOT_TOKEN.",
	}
	if m.Settings.SocketMode {
		notes = append(notes, "3. Basic Information, App-Level Tokens: make one with the scope connections:write,", "   which is no scope of this list (xapp-): SLACK_APP_TOKEN.")
	} else {
		notes = append(notes, "3. Basic Information has the signing secret: SLACK_SIGNING_SECRET. No app-level", "   token is needed. The bot must run when Slack verifies the address.")
	}
	return append(notes, "4. ferrule slack --check says whether all is well; then /invite @"+m.Features.Bot.Name+" into the channels.")
}
