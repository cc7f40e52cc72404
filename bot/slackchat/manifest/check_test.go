package manifest_test

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/slack-go/slack"

	"ferrule/bot/slackchat/manifest"
)

// The tokens are invented.
const (
	botToken = "xoxb-1-bot"
	appToken = "xapp-1-app"
	ticket   = "wss://ticket.example/link"
)

// workspace stands for Slack: it answers the two methods as it is told.
type workspace struct {
	auth, open string // answers
	scopes     string
	status     int
	opened     int
}

func (s *workspace) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if s.scopes != "" {
		w.Header().Set("X-OAuth-Scopes", s.scopes)
	}
	w.Header().Set("Content-Type", "application/json")
	if s.status != 0 {
		w.WriteHeader(s.status)
		return
	}
	switch {
	case r.URL.Path == "/auth.test" && r.FormValue("token") == botToken:
		fmt.Fprint(w, s.auth)
	case r.URL.Path == "/apps.connections.open" && r.Header.Get("Authorization") == "Bearer "+appToken:
		s.opened++
		fmt.Fprint(w, s.open)
	default:
		fmt.Fprint(w, `{"ok":false,"error":"not_authed"}`)
	}
}

const (
	authOK = `{"ok":true,"url":"https://lanternyard.slack.example/","team":"Lantern Yard Alarms","user":"ferrule","team_id":"T0LANTERN","user_id":"U0FERRULE","bot_id":"B0FERRULE"}`
	openOK = `{"ok":true,"url":"` + ticket + `"}`
	all    = "app_mentions:read,chat:write,commands,im:history,channels:history,groups:history,files:read"
	notOK  = `{"ok":false,"error":"%s","needed":"connections:write","provided":"none"}`
	person = `{"ok":true,"team":"Lantern Yard Alarms","user":"ada","team_id":"T0LANTERN","user_id":"U0ADA"}`
)

func check(ctx context.Context, t *testing.T, s *workspace, o manifest.Options, team string, options ...slack.Option) (manifest.Report, error) {
	t.Helper()
	server := httptest.NewServer(s)
	t.Cleanup(server.Close)
	options = append([]slack.Option{slack.OptionAPIURL(server.URL + "/"), slack.OptionAppLevelToken(appToken)}, options...)
	return manifest.Check(ctx, slack.New(botToken, options...), manifest.App(o), team)
}

func TestCheckSaysWhatIsWrong(t *testing.T) {
	failed := func(code string) string { return fmt.Sprintf(notOK, code) }
	for _, c := range []struct {
		name   string
		slack  workspace
		o      manifest.Options
		team   string
		faults []string // one word of each
		notes  []string
	}{
		{name: "all well", slack: workspace{auth: authOK, open: openOK, scopes: all}, team: "T0LANTERN"},
		{name: "spaces and another order", slack: workspace{auth: authOK, open: openOK, scopes: "files:read, groups:history, channels:history, im:history, commands, chat:write, app_mentions:read"}, team: "T0LANTERN"},
		{name: "no workspace is named", slack: workspace{auth: authOK, open: openOK, scopes: all}, notes: []string{"no workspace"}},
		{name: "another workspace", slack: workspace{auth: authOK, open: openOK, scopes: all}, team: "T0OTHER", faults: []string{"meant for T0OTHER"}},
		{name: "two scopes are missing", slack: workspace{auth: authOK, open: openOK, scopes: "app_mentions:read,chat:write,commands,channels:history,groups:history"}, team: "T0LANTERN",
			faults: []string{"im:history (message.im", "files:read (files.info"}, notes: []string{"install the app again"}},
		{name: "a scope too many", slack: workspace{auth: authOK, open: openOK, scopes: all + ",users:read.email"}, team: "T0LANTERN", notes: []string{"users:read.email, which is not used"}},
		{name: "user groups are missing", slack: workspace{auth: authOK, open: openOK, scopes: all}, o: manifest.Options{Groups: true}, team: "T0LANTERN",
			faults: []string{"usergroups:read (usergroups.users.list"}, notes: []string{"install the app again"}},
		{name: "user groups are not used", slack: workspace{auth: authOK, open: openOK, scopes: all + ",usergroups:read"}, team: "T0LANTERN", notes: []string{"usergroups:read, which is not used"}},
		{name: "no scopes are said", slack: workspace{auth: authOK, open: openOK}, team: "T0LANTERN", faults: []string{"does not say which scopes"}},
		{name: "a wrong bot token", slack: workspace{auth: failed("invalid_auth"), open: openOK}, faults: []string{"the bot token: Slack says invalid_auth: a token is wrong"}},
		{name: "an app that was uninstalled", slack: workspace{auth: failed("account_inactive"), open: openOK}, faults: []string{"the bot token: Slack says account_inactive"}},
		{name: "a person's token", slack: workspace{auth: person, open: openOK, scopes: all}, faults: []string{"begins with xoxb-"}},
		{name: "both tokens are wrong", slack: workspace{auth: failed("token_revoked"), open: failed("invalid_auth")}, faults: []string{"the bot token: Slack says token_revoked", "the app-level token: Slack says invalid_auth"}},
		{name: "the app-level token lacks its scope", slack: workspace{auth: authOK, open: failed("missing_scope"), scopes: all}, team: "T0LANTERN", faults: []string{"lacks the scope connections:write"}},
		{name: "mixed up tokens", slack: workspace{auth: authOK, open: failed("not_allowed_token_type"), scopes: all}, team: "T0LANTERN", faults: []string{"SLACK_APP_TOKEN begins with xapp-"}},
		{name: "Socket Mode is off", slack: workspace{auth: authOK, open: failed("link_disabled"), scopes: all}, team: "T0LANTERN", faults: []string{"Socket Mode is turned off"}},
		{name: "HTTP needs no app-level token", slack: workspace{auth: authOK, open: failed("invalid_auth"), scopes: all}, o: manifest.Options{URL: address}, team: "T0LANTERN"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := check(t.Context(), t, &c.slack, c.o, c.team)
			if err != nil {
				t.Fatal(err)
			}
			words(t, "fault", r.Faults, c.faults)
			words(t, "note", r.Notes, c.notes)
			text := r.Text()
			for _, said := range append(r.Faults, r.Notes...) {
				if !strings.Contains(text, said) {
					t.Errorf("not said: %s", said)
				}
			}
			if ok := strings.Contains(text, "The tokens are right"); ok != r.OK() || ok != (len(c.faults) == 0) {
				t.Errorf("OK is %t:\n%s", r.OK(), text)
			}
			discreet(t, text)
			if c.o.URL != "" && c.slack.opened > 0 {
				t.Error("a connection was asked for in the HTTP mode")
			}
		})
	}
}

// words holds that there are as many sentences as words, each with its own.
func words(t *testing.T, kind string, said, want []string) {
	t.Helper()
	if len(said) != len(want) {
		t.Errorf("%ss: %q, want %q", kind, said, want)
		return
	}
	for i, w := range want {
		if !strings.Contains(said[i], w) {
			t.Errorf("%s: %q, want %q", kind, said[i], w)
		}
	}
}

// discreet holds that no token and no address of a socket is shown.
func discreet(t *testing.T, text string) {
	t.Helper()
	for _, hidden := range []string{botToken, appToken, ticket} {
		if strings.Contains(text, hidden) {
			t.Errorf("%q shows %q", text, hidden)
		}
	}
}

func TestTheReportNamesWorkspaceAndBot(t *testing.T) {
	r, err := check(t.Context(), t, &workspace{auth: authOK, open: openOK, scopes: "chat:write,pins:read"}, manifest.Options{}, "T0LANTERN")
	if err != nil {
		t.Fatal(err)
	}
	r.Faults, r.Notes = nil, nil
	want := manifest.Report{
		Team: "T0LANTERN", TeamName: "Lantern Yard Alarms", Bot: "U0FERRULE", BotName: "ferrule",
		Missing: []string{"app_mentions:read", "commands", "im:history", "channels:history", "groups:history", "files:read"},
		Spare:   []string{"pins:read"},
	}
	if d := cmp.Diff(want, r); d != "" {
		t.Error(d)
	}
	for _, line := range []string{"workspace: Lantern Yard Alarms (T0LANTERN)\n", "bot: ferrule (U0FERRULE)\n"} {
		if !strings.Contains(r.Text(), line) {
			t.Errorf("not said: %s", line)
		}
	}
}

func TestAMissingAppTokenIsAFault(t *testing.T) {
	r, err := check(t.Context(), t, &workspace{auth: authOK, open: openOK, scopes: all}, manifest.Options{}, "T0LANTERN", slack.OptionAppLevelToken(""))
	if err != nil {
		t.Fatal(err)
	}
	words(t, "fault", r.Faults, []string{"the app-level token: Slack says not_authed"})
}

// What hinders the check is no fault of the tokens.
func TestWhatHindersTheCheckIsAnError(t *testing.T) {
	over, cancel := context.WithCancel(t.Context())
	cancel()
	for _, c := range []struct {
		name  string
		ctx   context.Context
		slack workspace
		want  string
	}{
		{"Slack is down", t.Context(), workspace{status: 502}, "the bot token"},
		{"the check was called off", over, workspace{auth: authOK, open: openOK, scopes: all}, "the bot token"},
		{"an answer that may pass", t.Context(), workspace{auth: fmt.Sprintf(notOK, "internal_error")}, "the bot token"},
		{"the other method fails", t.Context(), workspace{auth: authOK, open: fmt.Sprintf(notOK, "internal_error"), scopes: all}, "the app-level token"},
		{"an answer that is no JSON", t.Context(), workspace{auth: "<html>"}, "the bot token"},
	} {
		_, err := check(c.ctx, t, &c.slack, manifest.Options{}, "T0LANTERN")
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		discreet(t, err.Error())
	}
}
