package manifest_test

import (
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
	"github.com/google/go-cmp/cmp"

	"ferrule/bot/slackchat/manifest"
)

var update = flag.Bool("update", false, "write the golden manifests again")

// address is invented.
const address = "https://bot.lanternyard.example/slack"

// installations are those that the golden files are of.
var installations = map[string]manifest.Options{
	"socket": {},
	"http":   {Name: "Fault Desk", Command: "fault", URL: address, Groups: true},
}

func TestTheWrittenManifests(t *testing.T) {
	for name, o := range installations {
		got, err := manifest.App(o).YAML()
		if err != nil {
			t.Fatal(err)
		}
		path := filepath.Join("testdata", name+".yaml")
		if *update {
			if err := os.WriteFile(path, got, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(string(want), string(got)); d != "" {
			t.Errorf("%s (-update writes it again):\n%s", path, d)
		}
	}
}

// Both forms say the same, whatever the comments.
func TestYAMLAndJSONAgree(t *testing.T) {
	for name, o := range installations {
		m := manifest.App(o)
		y, err := m.YAML()
		if err != nil {
			t.Fatal(err)
		}
		j, err := m.JSON()
		if err != nil {
			t.Fatal(err)
		}
		if y, err = yaml.YAMLToJSON(y); err != nil {
			t.Fatal(err)
		}
		var a, b any
		if json.Unmarshal(y, &a) != nil || json.Unmarshal(j, &b) != nil {
			t.Fatalf("%s: no JSON", name)
		}
		if d := cmp.Diff(a, b); d != "" || a == nil {
			t.Errorf("%s:\n%s", name, d)
		}
	}
}

// What a scope lets in and allows, by the pages of Slack's reference that name
// it: docs.slack.dev/reference/scopes/NAME (chat.write, channels.history,
// files.read), .../methods/usergroups.users.list, .../events/app_mention. Rows
// with * are from memory, and agree with /reference/scopes by their names only.
var published = map[string][]string{
	"app_mentions:read": {"app_mention"},
	"chat:write":        {"chat.postMessage", "chat.postEphemeral"},
	"commands":          {"slash_commands"},                                                   // *
	"im:history":        {"message.im", "conversations.history", "conversations.replies"},     // *
	"groups:history":    {"message.groups", "conversations.history", "conversations.replies"}, // *
	"channels:history":  {"message.channels", "conversations.history", "conversations.replies"},
	"files:read":        {"files.info"},
	"usergroups:read":   {"usergroups.users.list"},
}

func TestEachScopeIsUsedAndEachEventHasItsScope(t *testing.T) {
	withoutScope := []string{"app_home_opened", "app_uninstalled", "tokens_revoked"} // *
	for _, groups := range []bool{false, true} {
		m := manifest.App(manifest.Options{Groups: groups})
		y, err := m.YAML()
		if err != nil {
			t.Fatal(err)
		}
		let := slices.Clone(withoutScope)
		for _, s := range m.Scopes() {
			use, ok := published[s]
			if !ok {
				t.Errorf("the scope %s is of no known use", s)
			}
			let = append(let, use...)
			line := "- " + s + " # " + strings.Join(use, ", ") + ": "
			if !strings.Contains(string(y), line) {
				t.Errorf("the manifest does not say %q", line)
			}
		}
		for _, e := range m.Settings.Events.Bot {
			if !slices.Contains(let, e) {
				t.Errorf("the event %s is let in by no scope", e)
			}
			if !strings.Contains(string(y), "- "+e+" # ") {
				t.Errorf("the manifest does not say what %s is for", e)
			}
		}
		if slices.Contains(m.Scopes(), "usergroups:read") != groups {
			t.Errorf("groups %t: %v", groups, m.Scopes())
		}
	}
}

func TestTheAddressDecidesTheMode(t *testing.T) {
	for _, c := range []struct {
		address, token string
		socket         bool
	}{{"", "connections:write", true}, {address, "SLACK_SIGNING_SECRET", false}} {
		m := manifest.App(manifest.Options{URL: c.address})
		s := m.Settings
		got := []any{s.SocketMode, s.Events.URL, s.Interactivity.URL, m.Features.Commands[0].URL}
		if d := cmp.Diff([]any{c.socket, c.address, c.address, c.address}, got); d != "" {
			t.Error(d)
		}
		y, err := m.YAML()
		if err != nil || !strings.Contains(string(y), c.token) {
			t.Errorf("%v\n%s", err, y)
		}
		if c.socket == strings.Contains(string(y), "request_url") {
			t.Errorf("Socket Mode %t:\n%s", c.socket, y)
		}
	}
}

func TestWhatSlackWouldRefuseIsNotWritten(t *testing.T) {
	long := strings.Repeat("ä", 35)
	for _, c := range []struct {
		name string
		o    manifest.Options
		want string
	}{
		{"the defaults", manifest.Options{}, ""},
		{"a long name", manifest.Options{Name: long}, ""},
		{"a longer name", manifest.Options{Name: long + "x"}, "36 characters"},
		{"a long command", manifest.Options{Command: "/" + strings.Repeat("x", 31)}, ""},
		{"a longer command", manifest.Options{Command: "/" + strings.Repeat("x", 32)}, "the command"},
		{"two words", manifest.Options{Command: "/fault desk"}, "the command"},
		{"capitals", manifest.Options{Command: "/Fault"}, "the command"},
		{"a slash alone", manifest.Options{Command: "/"}, "the command"},
		{"an address without TLS", manifest.Options{URL: "http://bot.example/slack"}, "https://"},
		{"an address without a host", manifest.Options{URL: "https:///slack"}, "https://"},
		{"no address", manifest.Options{URL: "bot"}, "https://"},
		{"two faults", manifest.Options{URL: "bot", Command: "/ä"}, "the command"},
	} {
		m := manifest.App(c.o)
		_, yamlErr := m.YAML()
		_, jsonErr := m.JSON()
		for _, err := range []error{yamlErr, jsonErr} {
			if (err == nil) != (c.want == "") || err != nil && !strings.Contains(err.Error(), c.want) {
				t.Errorf("%s: %v, want %q", c.name, err, c.want)
			}
		}
	}
}

// Slack allows a-z, 0-9, -, _ and . in the name of a bot user.
func TestTheBotHasANameThatSlackAllows(t *testing.T) {
	for name, want := range map[string]string{
		"": "ferrule", "Fault Desk 2.0": "fault-desk-2.0", "Störung": "st-rung", "!!": "ferrule", "(Desk)": "desk",
	} {
		if got := manifest.App(manifest.Options{Name: name}).Features.Bot.Name; got != want {
			t.Errorf("%q: %q, want %q", name, got, want)
		}
	}
}
