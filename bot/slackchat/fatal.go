package slackchat

import (
	"errors"
	"fmt"

	"github.com/slack-go/slack"
)

// Fatal is an answer of Slack's after which trying again is of no use: the
// process ends with what to do.
type Fatal struct {
	Code string // Slack's word for it
	Do   string // what the person who runs the bot has to do
}

func (f *Fatal) Error() string { return fmt.Sprintf("Slack says %s: %s", f.Code, f.Do) }

const newToken = "copy the tokens from the app's page again (OAuth & Permissions: bot token; Basic Information: app-level token)"

// fatal are the answers that no waiting mends.
var fatal = map[string]string{
	"invalid_auth":            "a token is wrong or was taken back; " + newToken,
	"not_authed":              "no token was sent; set SLACK_BOT_TOKEN and SLACK_APP_TOKEN",
	"token_revoked":           "the token was taken back; install the app again, then " + newToken,
	"token_expired":           "the token has expired; turn token rotation off or " + newToken,
	"account_inactive":        "the app was uninstalled or its workspace is gone; install it again, then " + newToken,
	"not_allowed_token_type":  "the two tokens are mixed up: SLACK_APP_TOKEN begins with xapp-, SLACK_BOT_TOKEN with xoxb-",
	"missing_scope":           "a scope is missing; ferrule slack --check says which, then install the app again",
	"no_permission":           "the app lacks a permission; ferrule slack --check says which",
	"team_access_not_granted": "the app is not installed in this workspace; install it there",
	"link_disabled":           "Socket Mode is turned off for the app; turn it on, or run with --listen",
	"org_login_required":      "the workspace is being moved to another organisation; ask its owner",
	"ekm_access_denied":       "the workspace's owners keep the app out; ask them",
	"team_added_to_org":       "the workspace is being moved to another organisation; ask its owner",
}

// FatalCode gives a *Fatal for Slack's word for an error, or nil where trying
// again may help.
func FatalCode(code string) error {
	if do, ok := fatal[code]; ok {
		return &Fatal{code, do}
	}
	return nil
}

// AsFatal gives the *Fatal in an error of the Slack API, or nil.
func AsFatal(err error) error {
	if f := (*Fatal)(nil); errors.As(err, &f) {
		return f
	}
	if s := (slack.SlackErrorResponse{}); errors.As(err, &s) {
		return FatalCode(s.Err)
	}
	return nil
}
