// Package service runs the bot in a workspace of Slack: it puts together how
// deliveries come in, what answers them, and what sends the replies.
package service

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"sync"
	"time"

	"github.com/slack-go/slack"

	"ferrule/bot"
	"ferrule/bot/slackchat"
	"ferrule/bot/slackchat/outbox"
	"ferrule/bot/slackchat/socket"
	"ferrule/bot/slackchat/webhook"
	"ferrule/store"
)

// Tokens are the secrets of an installed app.
type Tokens struct {
	App     string // xapp-..., for Socket Mode
	Bot     string // xoxb-...
	Signing string // for the HTTP mode
}

// Options say what runs where. Bot, Store and Tokens have to be set.
type Options struct {
	Bot    *bot.Bot
	Store  store.Store
	Tokens Tokens
	API    string // address of Slack's Web API; empty: Slack's own

	// Listen takes Slack's requests; nil means Socket Mode.
	Listen net.Listener

	Team     string // the workspace that is meant; empty: that of the bot token
	Channels []string
	People   slackchat.People
	Command  string
	Review   Review

	Connections int
	BackOff     socket.BackOff
	Every       time.Duration // between two posts of a channel
	Grace       time.Duration // for what is under way at the end; 0 means five seconds
	Before      func()        // called before a message is handled
	Up          func(Up)      // called once when the bot is there
	Now         func() time.Time
	Log         *slog.Logger
}

// Up says where the bot runs.
type Up struct {
	Team, TeamName string
	User, UserName string
}

// Client is a client of the Web API. Its answers are waited for a bounded time,
// and its connections are kept.
func Client(t Tokens, api string) *slack.Client {
	transport := http.DefaultTransport.(*http.Transport).Clone()
	transport.MaxIdleConnsPerHost = 64 // one for each worker
	options := []slack.Option{
		slack.OptionAppLevelToken(t.App),
		slack.OptionHTTPClient(&http.Client{Transport: transport, Timeout: 20 * time.Second}),
	}
	if api != "" {
		options = append(options, slack.OptionAPIURL(api))
	}
	return slack.New(t.Bot, options...)
}

// ErrOtherWorkspace is returned when the token belongs to another workspace than
// the one that is meant.
var ErrOtherWorkspace = errors.New("the bot token belongs to another workspace")

// Run serves until ctx ends; then what is under way is finished. An error that
// no waiting mends ends it as well: a *slackchat.Fatal, or what the store says.
func Run(ctx context.Context, o Options) error {
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Grace <= 0 {
		o.Grace = 5 * time.Second
	}
	api := Client(o.Tokens, o.API)
	who, err := api.AuthTestContext(ctx)
	if err != nil {
		if fatal := slackchat.AsFatal(err); fatal != nil {
			return fatal
		}
		return fmt.Errorf("asking Slack who the bot is: %w", err)
	}
	if o.Team != "" && o.Team != who.TeamID {
		return fmt.Errorf("%w: it is for %s (%s), not %s", ErrOtherWorkspace, who.TeamID, who.Team, o.Team)
	}
	if o.Up != nil {
		o.Up(Up{who.TeamID, who.Team, who.UserID, who.User})
	}
	return o.serve(ctx, api, who)
}

// serve runs the parts. They are stopped in the order of the way of a message,
// so that what came in is answered: reading first, then handling, then sending.
func (o Options) serve(ctx context.Context, api *slack.Client, who *slack.AuthTestResponse) error {
	reading, stopReading := context.WithCancel(ctx)
	defer stopReading()
	handling, stopHandling := context.WithCancel(context.WithoutCancel(ctx))
	defer stopHandling()
	sending, stopSending := context.WithCancel(context.WithoutCancel(ctx))
	defer stopSending()

	var worker *outbox.Worker
	guarded := &guard{Store: o.Store, broken: make(chan error, 1)}
	app := slackchat.New(handling, slackchat.Options{
		Bot: o.Bot, Store: guarded, API: api, Team: who.TeamID, Self: who.UserID, Home: who.URL,
		Channels: o.Channels, People: o.People, Command: o.Command, Before: o.Before, Now: o.Now, Log: o.Log,
		Kick: func() { worker.Kick() }, Take: func(e store.Leased) { worker.Take(e) },
	})
	worker = outbox.New(outbox.Options{Store: guarded, Sender: app, Route: app.Route, Every: o.Every, Grace: o.Grace, Now: o.Now, Log: o.Log})
	sent := make(chan error, 1)
	go func() {
		err := worker.Run(sending)
		stopReading()
		sent <- err
	}()
	broken := make(chan error, 1)
	go func() {
		defer close(broken)
		select {
		case <-app.Over():
			stopReading()
		case err := <-guarded.broken:
			broken <- err
			stopReading()
		case <-reading.Done():
		}
	}()
	go o.Review.keep(reading, guarded, o, who.TeamID, worker.Kick)

	if err := app.Begin(ctx); err != nil {
		o.Log.Error("it is not known since when messages may have been missed", "error", err)
	}
	err := o.read(reading, api, app)
	timeout := time.AfterFunc(o.Grace, stopHandling)
	app.Wait()
	timeout.Stop()
	stopSending()
	stopReading()
	return errors.Join(err, app.Err(), <-broken, <-sent)
}

// read takes deliveries until it is stopped.
func (o Options) read(ctx context.Context, api *slack.Client, app *slackchat.App) error {
	if o.Listen != nil {
		var caught sync.WaitGroup
		caught.Go(func() { app.CatchUp(ctx) })
		defer caught.Wait()
		handler := webhook.Handler(webhook.Options{Secret: o.Tokens.Signing, Receive: app.Receive, Now: o.Now, Log: o.Log})
		err := webhook.Serve(ctx, o.Listen, handler, o.Grace)
		if ctx.Err() != nil && errors.Is(err, context.DeadlineExceeded) {
			o.Log.Warn("requests were left unanswered at the end; Slack sends them again", "error", err)
			return nil
		}
		return err
	}
	open := func(ctx context.Context) (string, error) {
		_, address, err := api.StartSocketModeContext(ctx)
		return address, err
	}
	return socket.Run(ctx, socket.Options{
		Open: open, Receive: app.Receive, Ready: app.CatchUp, Connections: o.Connections, BackOff: o.BackOff, Grace: o.Grace, Log: o.Log,
	})
}
