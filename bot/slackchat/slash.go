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
	"ferrule/store"
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
	a.aside(ctx, func(ctx context.Context) { a.take(ctx, s, text, done) })
}

// take puts a question into the outbox, from where it is posted and answered:
// posting may take longer than Slack waits for the acknowledgement.
func (a *App) take(ctx context.Context, s command, text string, done func([]byte, error)) {
	hint, err := a.hintFor(ctx, asks{user: s.User, channel: s.Channel})
	if err == nil && hint != "" {
		done(private(hint), nil)
		return
	}
	c := conversation{a.Team, s.Channel, ""}
	clean, found := redact.Redact(text)
	if err == nil {
		var body []byte
		body, err = bot.AskingOf(bot.Question{User: s.User, Text: clean, Secrets: len(found)})
		if err == nil {
			_, err = a.Store.Apply(ctx, store.Change{Delivery: c.delivery("slash", s.Trigger), Outbox: []store.Outgoing{{Channel: c.String(), Body: body}}})
		}
	}
	if err != nil {
		a.Log.Error("a slash command could not be taken", "channel", s.Channel, "error", err)
		done(private(wording.In("").Say("try_again")), nil)
		return
	}
	done(nil, nil)
	a.Kick()
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

// ask posts a question and has it answered in its thread. One that may have been
// posted before is looked for first.
func (a *App) ask(ctx context.Context, e store.Leased, c conversation, q bot.Question) error {
	key := partKey(e, 0)
	found, err := a.askedBefore(ctx, e, c, key)
	if err != nil {
		return err
	}
	stamp := found
	if stamp == "" {
		if stamp, err = a.question(ctx, c, q, key); err != nil {
			a.notInvited(ctx, c, q, err)
			return err
		}
	}
	at, ok := timeOf(stamp)
	if !ok {
		at = a.Now()
	}
	c.thread = stamp
	delivery := c.delivery(stamp)
	r, err := a.Bot.Handle(ctx, bot.Text{Envelope: a.envelope(c, q.User, delivery, messageID(c.channel, stamp), at, circumstances{}), Text: q.Text, Secrets: q.Secrets})
	if err != nil {
		return fmt.Errorf("answering a question: %w", err)
	}
	if r.Case == 0 {
		a.called.Add(c.String(), q.User)
	}
	a.hand(r)
	a.sent.set(e.ID, 0)
	return nil
}

func (a *App) askedBefore(ctx context.Context, e store.Leased, c conversation, key string) (string, error) {
	if e.Attempts < 2 && a.sent.of(e.ID) == 0 {
		a.sent.set(e.ID, 1) // another try within this process looks, too
		return "", nil
	}
	found, err := a.postedIn(ctx, c, questionEvent)
	return found[key], err
}

// notInvited tells who asked that the bot is not in the channel.
func (a *App) notInvited(ctx context.Context, c conversation, q bot.Question, err error) {
	if refused := (slack.SlackErrorResponse{}); errors.As(err, &refused) && (refused.Err == "not_in_channel" || refused.Err == "channel_not_found") {
		a.hint(ctx, c.channel, q.User, "", wording.In("").Say("not_invited"))
	}
}

// question posts what somebody asked, and gives its stamp.
func (a *App) question(ctx context.Context, c conversation, q bot.Question, key string) (string, error) {
	says := q.Text
	const longest = 2000
	if r := []rune(says); len(r) > longest {
		says = string(r[:longest]) + "…"
	}
	said := slack.NewRichTextBlock("", slack.NewRichTextSection(
		slack.NewRichTextSectionUserElement(q.User, nil), slack.NewRichTextSectionTextElement(": "+says, nil)))
	_, stamp, err := a.API.PostMessageContext(ctx, c.channel, slack.MsgOptionBlocks(said), slack.MsgOptionText(says, true),
		slack.MsgOptionDisableMarkdown(), slack.MsgOptionDisableLinkUnfurl(), slack.MsgOptionDisableMediaUnfurl(), tagged(questionEvent, key))
	if err != nil {
		return "", fmt.Errorf("posting a question: %w", err)
	}
	return stamp, nil
}
