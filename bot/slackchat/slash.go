package slackchat

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"github.com/slack-go/slack"

	"ferrule/bot"
	"ferrule/bot/redact"
	"ferrule/bot/slackchat/markup"
	"ferrule/bot/wording"
)

// command is what is used of a slash command.
type command struct {
	Team    string `json:"team_id"`
	Channel string `json:"channel_id"`
	User    string `json:"user_id"`
	Command string `json:"command"`
	Text    string `json:"text"`
	Trigger string `json:"trigger_id"`
}

// slash opens a case in a thread of its own: what was written behind the
// command is posted, and answered in its thread. What can't be done is told to
// the person alone, in the acknowledgement.
func (a *App) slash(ctx context.Context, d Delivery, done func([]byte, error)) {
	var s command
	if err := json.Unmarshal(d.Payload, &s); err != nil {
		a.Log.Error("a slash command can't be read", "error", err)
		done(nil, nil)
		return
	}
	say := wording.In("").Say
	text := markup.Plain(s.Text, a.Self)
	switch {
	case s.Team != a.Team:
		a.Log.Warn("a slash command of another workspace is left alone", "team", s.Team)
		done(nil, nil)
		return
	case strings.EqualFold(text, "help"):
		done(private(bot.Help("").Text()), nil)
		return
	case text == "":
		done(private(say("slash_usage", "Command", cmp.Or(s.Command, a.Command))), nil)
		return
	case isDirect(s.Channel):
		done(private(say("wrong_channel")), nil)
		return
	}
	if hint := a.hintFor(ctx, s.User, "", s.Channel); hint != "" {
		done(private(hint), nil)
		return
	}
	key := conversation{a.Team, s.Channel, ""}.delivery("slash", s.Trigger)
	a.lanes.add(key, job{run: func(ctx context.Context, now circumstances) *held {
		a.ask(ctx, s, d, text, key, now, done)
		return nil
	}})
}

func private(says string) []byte {
	answer, err := json.Marshal(map[string]string{"response_type": "ephemeral", "text": slackEscaped(says)})
	if err != nil {
		return nil // unreachable: strings by strings
	}
	return answer
}

// slackEscaped keeps words from being markup.
func slackEscaped(s string) string {
	return strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;").Replace(s)
}

// ask posts the question of a slash command and has it answered in its thread.
func (a *App) ask(ctx context.Context, s command, d Delivery, text, key string, now circumstances, done func([]byte, error)) {
	stamp, err := a.question(ctx, s, text, key, d.Attempt > 0)
	if err != nil {
		a.Log.Error("the question of a slash command could not be posted", "channel", s.Channel, "error", err)
		says := wording.In("").Say("try_again")
		if refused := (slack.SlackErrorResponse{}); errors.As(err, &refused) && (refused.Err == "not_in_channel" || refused.Err == "channel_not_found") {
			says = wording.In("").Say("not_invited")
		}
		done(private(says), nil)
		return
	}
	at, ok := timeOf(stamp)
	if !ok {
		at = a.Now()
	}
	c := conversation{a.Team, s.Channel, stamp}
	a.handle(ctx, bot.Text{Envelope: a.envelope(c, s.User, key, stamp, at, now), Text: text}, key, done)
}

// question posts what somebody asked by a slash command, without codes, and
// gives its stamp. One that may have been posted before is looked for first.
func (a *App) question(ctx context.Context, s command, text, key string, again bool) (string, error) {
	if again {
		found, err := a.postedIn(ctx, conversation{a.Team, s.Channel, ""}, questionEvent)
		if err != nil {
			return "", err
		}
		if stamp := found[key]; stamp != "" {
			return stamp, nil
		}
	}
	clean, _ := redact.Redact(text)
	const longest = 2000
	if r := []rune(clean); len(r) > longest {
		clean = string(r[:longest]) + "…"
	}
	said := slack.NewRichTextBlock("", slack.NewRichTextSection(
		slack.NewRichTextSectionUserElement(s.User, nil), slack.NewRichTextSectionTextElement(": "+clean, nil)))
	_, stamp, err := a.API.PostMessageContext(ctx, s.Channel, slack.MsgOptionBlocks(said), slack.MsgOptionText(clean, true),
		slack.MsgOptionDisableMarkdown(), slack.MsgOptionDisableLinkUnfurl(), slack.MsgOptionDisableMediaUnfurl(), tagged(questionEvent, key))
	if err != nil {
		return "", fmt.Errorf("posting a question: %w", err)
	}
	return stamp, nil
}
