// Package manifest writes the manifest of the Slack app, from which Slack makes
// the app in one step, and checks that tokens carry what the manifest asks for.
// It asks for the scopes and events that are used and for no others; uses.go
// says for each what it is for.
//
// The types are ours since slack.Manifest leaves out every false, and what Slack
// takes instead of what is left out (is the messages tab read-only then?) is
// written down nowhere.
package manifest

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"net/url"
	"regexp"
	"strings"
	"unicode/utf8"
)

// Options are what differs between installations.
type Options struct {
	Name    string // of the app; Ferrule when empty
	Command string // the slash command; /ferrule when empty
	URL     string // the HTTP mode's address; Socket Mode when empty
	Groups  bool   // user groups decide who is a lead
}

// Manifest is an app manifest, by the names of Slack's schema.
type Manifest struct {
	Metadata Metadata `json:"_metadata"`
	Display  Display  `json:"display_information"`
	Features Features `json:"features"`
	OAuth    OAuth    `json:"oauth_config"`
	Settings Settings `json:"settings"`
}

// Metadata is the version of the schema.
type Metadata struct {
	Major int `json:"major_version"`
	Minor int `json:"minor_version"`
}

// Display is how the app looks in a list.
type Display struct {
	Name        string `json:"name"`
	Description string `json:"description"`
	Color       string `json:"background_color"`
}

// Features are what people see of the app.
type Features struct {
	Home     Home      `json:"app_home"`
	Bot      BotUser   `json:"bot_user"`
	Commands []Command `json:"slash_commands"`
}

// Home is the app's own page and the direct messages with it.
type Home struct {
	Tab              bool `json:"home_tab_enabled"`
	Messages         bool `json:"messages_tab_enabled"`
	MessagesReadOnly bool `json:"messages_tab_read_only_enabled"`
}

// BotUser is the user as which the app writes.
type BotUser struct {
	Name   string `json:"display_name"`
	Online bool   `json:"always_online"`
}

// Command is a slash command.
type Command struct {
	Command     string `json:"command"`
	Description string `json:"description"`
	Hint        string `json:"usage_hint"`
	Escape      bool   `json:"should_escape"`
	URL         string `json:"url,omitempty"`
}

// OAuth are the scopes that an installation grants.
type OAuth struct {
	Scopes struct {
		Bot []string `json:"bot"`
	} `json:"scopes"`
}

// Settings say what Slack delivers, and how.
type Settings struct {
	Events        Events        `json:"event_subscriptions"`
	Interactivity Interactivity `json:"interactivity"`
	OrgDeploy     bool          `json:"org_deploy_enabled"`
	SocketMode    bool          `json:"socket_mode_enabled"`
	TokenRotation bool          `json:"token_rotation_enabled"`
}

// Events are those that Slack delivers, and where to in the HTTP mode.
type Events struct {
	URL string   `json:"request_url,omitempty"`
	Bot []string `json:"bot_events"`
}

// Interactivity is that of buttons and forms.
type Interactivity struct {
	Enabled bool   `json:"is_enabled"`
	URL     string `json:"request_url,omitempty"`
}

// App is the manifest of an installation.
func App(o Options) Manifest {
	name := cmp.Or(o.Name, "Ferrule")
	command := "/" + strings.TrimPrefix(cmp.Or(o.Command, "/ferrule"), "/")
	m := Manifest{
		Metadata: Metadata{Major: 1, Minor: 1},
		Display:  Display{Name: name, Description: "Finds faults in alarm systems, one step at a time, in a thread", Color: "#1f3a4d"},
		Features: Features{
			Home: Home{Tab: true, Messages: true},
			Bot:  BotUser{Name: displayName(name), Online: true},
			Commands: []Command{{
				Command: command, Description: "Open a case in a thread of its own", Hint: "[what is wrong, or: help]",
				Escape: true, URL: o.URL,
			}},
		},
		Settings: Settings{
			Events:        Events{URL: o.URL, Bot: names(events)},
			Interactivity: Interactivity{Enabled: true, URL: o.URL},
			SocketMode:    o.URL == "",
		},
	}
	m.OAuth.Scopes.Bot = names(scopesFor(o.Groups))
	return m
}

// displayName is the bot user's name in the letters that Slack allows there.
func displayName(name string) string {
	s := regexp.MustCompile(`[^a-z0-9._-]+`).ReplaceAllString(strings.ToLower(name), "-")
	return cmp.Or(strings.Trim(s, "-"), "ferrule")
}

// Scopes are those that the bot token has to have.
func (m Manifest) Scopes() []string { return m.OAuth.Scopes.Bot }

// JSON is the manifest as Slack's API takes it.
func (m Manifest) JSON() ([]byte, error) {
	if err := m.valid(); err != nil {
		return nil, err
	}
	raw, err := json.MarshalIndent(m, "", "  ")
	if err != nil {
		return nil, fmt.Errorf("writing the manifest: %w", err)
	}
	return append(raw, '\n'), nil
}

// valid finds what Slack would refuse of what an installation chooses. The
// figures are those of the comments of Slack's types (@slack/web-api,
// request/manifest.d.ts).
func (m Manifest) valid() error {
	const longestName, longestCommand = 35, 32
	var faults []error
	if n := utf8.RuneCountInString(m.Display.Name); n > longestName {
		faults = append(faults, fmt.Errorf("the app's name has %d characters, Slack takes %d", n, longestName))
	}
	for _, c := range m.Features.Commands {
		if !regexp.MustCompile(`^/[a-z0-9_-]+$`).MatchString(c.Command) || len(c.Command) > longestCommand {
			faults = append(faults, fmt.Errorf("the command %q must be a slash and then at most %d small letters, digits, - and _", c.Command, longestCommand-1))
		}
	}
	if !m.Settings.SocketMode {
		if u, err := url.Parse(m.Settings.Events.URL); err != nil || u.Scheme != "https" || u.Host == "" {
			faults = append(faults, fmt.Errorf("the address %q must begin with https:// and name a host", m.Settings.Events.URL))
		}
	}
	return errors.Join(faults...)
}
