package manifest

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"github.com/slack-go/slack"

	"ferrule/bot/slackchat"
)

// Report is what Slack says of the tokens.
type Report struct {
	Team, TeamName string   // the workspace of the bot token
	Bot, BotName   string   // the bot's user
	Missing        []string // scopes of the manifest that the token lacks
	Spare          []string // scopes that are not used
	Faults         []string // in words, each with what to do
	Notes          []string // what is no fault
}

// OK tells whether the bot can run with the tokens.
func (r Report) OK() bool { return len(r.Faults) == 0 }

// Text is the report for whoever installs the app.
func (r Report) Text() string {
	var b strings.Builder
	if r.Team != "" {
		fmt.Fprintf(&b, "workspace: %s (%s)\n", r.TeamName, r.Team)
	}
	if r.Bot != "" {
		fmt.Fprintf(&b, "bot: %s (%s)\n", r.BotName, r.Bot)
	}
	for _, f := range r.Faults {
		fmt.Fprintf(&b, "fault: %s\n", f)
	}
	for _, n := range r.Notes {
		fmt.Fprintf(&b, "note: %s\n", n)
	}
	if r.OK() {
		b.WriteString("The tokens are right and all scopes are there.\n")
	}
	return b.String()
}

// Check asks Slack about the tokens of api: that of the bot always, the
// app-level one in Socket Mode (no connection is made). team is the workspace
// that the bot is meant for, or empty. What Slack finds wrong is in the report;
// the error is for what hindered the check.
func Check(ctx context.Context, api *slack.Client, m Manifest, team string) (Report, error) {
	var r Report
	if err := r.checkBot(ctx, api, m, team); err != nil {
		return r, fmt.Errorf("asking Slack about the bot token: %w", err)
	}
	if !m.Settings.SocketMode {
		return r, nil
	}
	if err := r.checkApp(ctx, api); err != nil {
		return r, fmt.Errorf("asking Slack about the app-level token: %w", err)
	}
	return r, nil
}

func (r *Report) checkBot(ctx context.Context, api *slack.Client, m Manifest, team string) error {
	who, err := api.AuthTestContext(ctx)
	if fatal := slackchat.AsFatal(err); fatal != nil {
		r.fault("the bot token: %v", fatal)
		return nil
	}
	if err != nil {
		return err
	}
	r.Team, r.TeamName, r.Bot, r.BotName = who.TeamID, who.Team, who.UserID, who.User
	// Slack answers an app-level token and that of a person as well; neither
	// has a bot.
	if who.BotID == "" {
		r.fault("SLACK_BOT_TOKEN is no bot token; copy the one that begins with xoxb- from OAuth & Permissions")
		return nil
	}
	r.compareTeam(team)
	r.compareScopes(granted(who.Header), m)
	return nil
}

func (r *Report) compareTeam(team string) {
	switch team {
	case r.Team:
	case "":
		r.note("no workspace is named that the bot is meant for, so that any is right")
	default:
		r.fault("the bot token is of the workspace %s, and the bot is meant for %s; install the app there and take that token", r.Team, team)
	}
}

func (r *Report) compareScopes(has []string, m Manifest) {
	if len(has) == 0 {
		r.fault("Slack does not say which scopes the bot token has; try again without what stands between here and Slack")
		return
	}
	for _, s := range m.Scopes() {
		if !slices.Contains(has, s) {
			r.Missing = append(r.Missing, s)
			r.fault("the bot token lacks the scope %s (%s)", s, about(scopes, s))
		}
	}
	if len(r.Missing) > 0 {
		r.note("to add scopes, paste the manifest again on the app's page (App Manifest), then install the app again")
	}
	for _, s := range has {
		if !slices.Contains(m.Scopes(), s) {
			r.Spare = append(r.Spare, s)
			r.note("the bot token has the scope %s, which is not used", s)
		}
	}
}

func (r *Report) checkApp(ctx context.Context, api *slack.Client) error {
	_, _, err := api.StartSocketModeContext(ctx)
	if s := (slack.SlackErrorResponse{}); errors.As(err, &s) && s.Err == "missing_scope" {
		r.fault("the app-level token lacks the scope connections:write; make a new one (Basic Information, App-Level Tokens)")
		return nil
	}
	if fatal := slackchat.AsFatal(err); fatal != nil {
		r.fault("the app-level token: %v", fatal)
		return nil
	}
	return err
}

func (r *Report) fault(format string, args ...any) {
	r.Faults = append(r.Faults, fmt.Sprintf(format, args...))
}

func (r *Report) note(format string, args ...any) {
	r.Notes = append(r.Notes, fmt.Sprintf(format, args...))
}

// granted are the scopes that Slack names beside each of its answers.
func granted(h http.Header) []string {
	var all []string
	for _, s := range strings.Split(strings.Join(h.Values("X-OAuth-Scopes"), ","), ",") {
		if s = strings.TrimSpace(s); s != "" {
			all = append(all, s)
		}
	}
	return all
}
