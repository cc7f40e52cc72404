package slackchat

import (
	"cmp"
	"context"
	"encoding/json"
	"strings"
	"time"

	"github.com/slack-go/slack"

	"ferrule/bot"
	"ferrule/bot/slackchat/blocks"
	"ferrule/bot/wording"
)

// interaction is what is used of the press of a button or of a form that was
// sent.
type interaction struct {
	Type    string `json:"type"`
	Trigger string `json:"trigger_id"`
	Team    struct {
		ID string `json:"id"`
	} `json:"team"`
	User struct {
		ID   string `json:"id"`
		Team string `json:"team_id"`
	} `json:"user"`
	Channel struct {
		ID string `json:"id"`
	} `json:"channel"`
	Message struct {
		Stamp  string `json:"ts"`
		Thread string `json:"thread_ts"`
	} `json:"message"`
	Actions []struct {
		ID    string `json:"action_id"`
		Value string `json:"value"`
		Stamp string `json:"action_ts"`
	} `json:"actions"`
	View struct {
		ID       string          `json:"id"`
		Callback string          `json:"callback_id"`
		Metadata string          `json:"private_metadata"`
		State    slack.ViewState `json:"state"`
	} `json:"view"`
}

func (a *App) interaction(ctx context.Context, d Delivery, done func([]byte, error)) {
	var i interaction
	if err := json.Unmarshal(d.Payload, &i); err != nil {
		a.Log.Error("a press of a button can't be read", "error", err)
		done(nil, nil)
		return
	}
	if i.Team.ID != a.Team {
		a.Log.Warn("a press of another workspace is left alone", "team", i.Team.ID)
		done(nil, nil)
		return
	}
	switch i.Type {
	case "block_actions":
		a.pressed(ctx, i, done)
	case "view_submission":
		a.submitted(ctx, i, done)
	default:
		done(nil, nil)
	}
}

// pressed takes the button of a message. Who presses it is asked for, not who
// got the message.
func (a *App) pressed(ctx context.Context, i interaction, done func([]byte, error)) {
	if len(i.Actions) == 0 || i.Channel.ID == "" {
		done(nil, nil) // such as a link on the home page
		return
	}
	act := i.Actions[0]
	p, err := blocks.ParseValue(act.Value)
	if err != nil {
		a.Log.Warn("a button that was not drawn here was pressed", "action", act.ID, "error", err)
		done(nil, nil)
		return
	}
	c := a.threadOf(i.Channel.ID, i.Message.Stamp, i.Message.Thread)
	stamp := cmp.Or(act.Stamp, stampOf(a.Now()))
	who := asks{i.User.ID, i.User.Team, c.channel, i.Message.Thread, c.delivery("press", i.User.ID, stamp, "hint"), false}
	if act.ID == blocks.OpenReadings || act.ID == blocks.OpenClosing {
		done(nil, nil)
		a.aside(ctx, func(ctx context.Context) {
			if a.permitted(ctx, who, func([]byte, error) {}) {
				a.openForm(ctx, act.ID, p, c, i)
			}
		})
		return
	}
	if !strings.HasPrefix(act.ID, blocks.Answer) {
		done(nil, nil)
		return
	}
	at, ok := timeOf(stamp)
	if !ok {
		at = a.Now()
	}
	delivery := c.delivery(i.Message.Stamp, "press", i.User.ID, stamp)
	a.lanes.add(c.String(), job{stamp: stamp, done: done, run: func(ctx context.Context, now circumstances) *held {
		if a.permitted(ctx, who, done) {
			env := a.envelope(c, i.User.ID, delivery, "press-"+stamp, at, now)
			a.handle(ctx, bot.Choice{Envelope: env, Case: p.Case, Version: p.Version, Value: p.Answer}, delivery, done)
		}
		return nil
	}})
}

// formTime is how long the case book may take to lay out a form; a trigger is
// good for three seconds.
const formTime = 2 * time.Second

// openForm opens the form that a button asks for.
func (a *App) openForm(ctx context.Context, which string, p blocks.Pressed, c conversation, i interaction) {
	view, err := a.form(ctx, which, p, c)
	if err == nil {
		_, err = a.API.OpenViewContext(ctx, i.Trigger, view)
	}
	if err != nil {
		a.Log.Error("a form could not be opened", "case", p.Case, "error", err)
		a.hint(ctx, c.channel, i.User.ID, c.thread, wording.In("").Say("try_again"))
	}
}

func (a *App) form(ctx context.Context, which string, p blocks.Pressed, c conversation) (slack.ModalViewRequest, error) {
	ctx, cancel := context.WithTimeout(ctx, formTime)
	defer cancel()
	if which == blocks.OpenClosing {
		s, err := a.Bot.ClosingSheet(ctx, p.Case)
		return blocks.Closing(s, c.String()), err
	}
	s, err := a.Bot.Sheet(ctx, p.Case)
	return blocks.Form(s, c.String()), err
}

// submitted takes a form that was sent. Errors go back to its fields.
func (a *App) submitted(ctx context.Context, i interaction, done func([]byte, error)) {
	p, err := blocks.ParseValue(i.View.Metadata)
	c, ok := parseConversation(p.Answer)
	if err != nil || !ok || c.team != a.Team {
		a.Log.Warn("a form that was not drawn here was sent", "form", i.View.Callback)
		done(nil, nil)
		return
	}
	delivery := c.delivery("form", i.View.ID)
	sent := a.Now()
	a.lanes.add(c.String(), job{stamp: stampOf(sent), done: done, run: func(ctx context.Context, now circumstances) *held {
		if !a.permitted(ctx, asks{i.User.ID, i.User.Team, c.channel, c.thread, delivery + "/hint", false}, done) {
			return nil
		}
		env := a.envelope(c, i.User.ID, delivery, "form-"+i.View.ID, sent, now)
		a.handle(ctx, bot.Form{
			Envelope: env, Case: p.Case, Version: p.Version, Closing: i.View.Callback == blocks.ClosingForm,
			Fields: blocks.Filled(i.View.Callback, i.View.State),
		}, delivery, done)
		return nil
	}})
}

// home publishes the home page of a user.
func (a *App) home(ctx context.Context, user string) {
	view, err := a.homeOf(ctx, user)
	if err == nil {
		_, err = a.API.PublishViewContext(ctx, slack.PublishViewContextRequest{UserID: user, View: view})
	}
	if err != nil {
		a.Log.Error("a home page could not be shown", "error", err)
	}
}

func (a *App) homeOf(ctx context.Context, user string) (slack.HomeTabViewRequest, error) {
	allowed, err := a.roster.allowed(ctx, user)
	if err != nil {
		return slack.HomeTabViewRequest{}, err
	}
	if !allowed {
		return blocks.Notice(wording.In("").Say("not_allowed")), nil
	}
	lead, err := a.roster.lead(ctx, user)
	if err != nil {
		return slack.HomeTabViewRequest{}, err
	}
	h, err := a.Bot.Home(ctx, a.actor(user), lead, a.Now())
	return blocks.Home(h, a.link), err
}

// link is where a conversation can be opened.
func (a *App) link(name string) string {
	c, ok := parseConversation(name)
	if !ok || a.Options.Home == "" {
		return ""
	}
	address := a.Options.Home + "archives/" + c.channel
	if c.thread != "" {
		address += "/p" + strings.ReplaceAll(c.thread, ".", "")
	}
	return address
}
