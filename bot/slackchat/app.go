package slackchat

import (
	"context"
	"encoding/json"
	"errors"
	"log/slog"
	"slices"
	"sync"
	"time"

	lru "github.com/hashicorp/golang-lru/v2"
	"github.com/slack-go/slack"

	"ferrule/bot"
	"ferrule/store"
)

// Options say whose deliveries are taken, and what for. Bot, Store, API, Team
// and Self have to be set.
type Options struct {
	Bot   *bot.Bot
	Store store.Store
	API   *slack.Client

	Team     string   // the one workspace that is served
	Self     string   // the bot's own user ID
	Home     string   // address of the workspace, with a slash at its end; for links
	Channels []string // in which it works; empty: wherever it is invited
	People   People
	Command  string // the slash command, such as /ferrule

	Take   func(store.Leased) // a reply that was put into the outbox and is to be sent; may be nil
	Kick   func()             // something else was put into the outbox
	Before func()             // called before a message is handled
	AtOnce int                // conversations that are handled at once; 0 means 64
	Now    func() time.Time
	Log    *slog.Logger
}

// App answers what Slack delivers. Its methods are safe for concurrent use.
type App struct {
	Options
	roster  roster
	lanes   *lanes
	parked  parked
	seen    *lru.Cache[string, struct{}] // deliveries that were stored of late
	called  *lru.Cache[string, string]   // who called it of late in a thread that has no case yet
	sent    partsSent
	replies *lru.Cache[uint64, bot.Reply] // that were made here, by their entries
	mark    mark

	mu   sync.Mutex
	end  error
	over chan struct{}
	side sync.WaitGroup // what is done besides the lanes
}

// mostKeys is how many deliveries are known again without asking the store.
const mostKeys = 16_384

func newKeys() *lru.Cache[string, struct{}] { return newCache[string, struct{}](mostKeys) }

func newCache[K comparable, V any](most int) *lru.Cache[K, V] {
	c, err := lru.New[K, V](most)
	if err != nil {
		panic(err) // unreachable: only a size below 1 is refused
	}
	return c
}

// mostReplies is how many replies are kept until they are posted; one that is
// not is read from the store.
const mostReplies = 4096

// New makes an App. It works until ctx ends.
func New(ctx context.Context, o Options) *App {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.AtOnce <= 0 {
		o.AtOnce = 64
	}
	for _, f := range []*func(){&o.Kick, &o.Before} {
		if *f == nil {
			*f = func() {}
		}
	}
	return &App{
		Options: o, lanes: newLanes(ctx, o.Log, o.AtOnce), seen: newKeys(), called: newCache[string, string](mostKeys), replies: newCache[uint64, bot.Reply](mostReplies), over: make(chan struct{}),
		roster: roster{people: o.People, api: o.API, now: o.Now, log: o.Log},
	}
}

// Over is closed when the app can't go on; Err says why.
func (a *App) Over() <-chan struct{} { return a.over }

// Err is why the app can't go on, or nil.
func (a *App) Err() error {
	a.mu.Lock()
	defer a.mu.Unlock()
	return a.end
}

func (a *App) giveUp(err error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.end == nil {
		a.end = err
		close(a.over)
	}
}

// Wait returns when nothing is under way.
func (a *App) Wait() {
	a.lanes.wait()
	a.side.Wait()
}

// Receive is the Receiver of the app.
func (a *App) Receive(ctx context.Context, d Delivery, done func([]byte, error)) {
	var once sync.Once
	answer := done
	done = func(with []byte, err error) { once.Do(func() { answer(with, err) }) }
	switch d.Kind {
	case Events:
		a.event(ctx, d, done)
	case Interactive:
		a.interaction(ctx, d, done)
	case SlashCommand:
		a.slash(ctx, d, done)
	default:
		done(nil, nil)
	}
}

func (a *App) event(ctx context.Context, d Delivery, done func([]byte, error)) {
	w, e, err := decodeEvent(d.Payload)
	if err != nil {
		a.Log.Error("an event can't be read", "event", w.ID, "error", err)
		done(nil, nil)
		return
	}
	if w.Team != a.Team {
		a.Log.Warn("an event of another workspace is left alone", "team", w.Team)
		done(nil, nil)
		return
	}
	switch e.Type {
	case "message", "app_mention":
		a.message(ctx, e, done)
	case "app_home_opened":
		done(nil, nil)
		if e.Tab != "messages" {
			a.aside(ctx, func(ctx context.Context) { a.home(ctx, e.User) })
		}
	case "app_uninstalled", "tokens_revoked":
		done(nil, nil)
		a.giveUp(FatalCode("account_inactive"))
	default:
		done(nil, nil)
	}
}

// asideTime bounds what is done besides the answer, such as opening a form,
// which Slack allows within three seconds.
const asideTime = 10 * time.Second

// aside does what needs no storing, besides everything else.
func (a *App) aside(ctx context.Context, do func(ctx context.Context)) {
	a.side.Go(func() {
		ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), asideTime)
		defer cancel()
		do(ctx)
	})
}

// allowedIn tells whether the bot works in a channel.
func (a *App) allowedIn(channel string) bool {
	return isDirect(channel) || len(a.Channels) == 0 || slices.Contains(a.Channels, channel)
}

// actor is the pseudonym of a user.
func (a *App) actor(user string) string { return bot.Pseudonym(transport + ":" + a.Team + ":" + user) }

// replyHeld is how long a reply is left to this process before the outbox hands
// it to another.
const replyHeld = 2 * time.Minute

// envelope is that of something that a user did in a conversation.
func (a *App) envelope(c conversation, user, delivery, message string, sent time.Time, now circumstances) bot.Envelope {
	env := bot.Envelope{
		Actor: a.actor(user), Delivery: delivery, Message: message, Sent: sent, Conversation: c.String(), Direct: c.direct(),
		Waiting: now.waiting, Post: true,
	}
	if a.Take != nil {
		env.Held = a.Now().Add(replyHeld)
	}
	return env
}

// handle has the bot answer an event, for as long as the store needs; done is
// called when that is stored.
func (a *App) handle(ctx context.Context, in bot.Incoming, delivery string, done func([]byte, error)) (bot.Reply, bool) {
	if a.seen.Contains(delivery) {
		done(nil, nil)
		return bot.Reply{}, false
	}
	a.Before()
	for wait := firstWait; ; wait = min(2*wait, longestWait) {
		r, err := a.Bot.Handle(ctx, in)
		var fields *bot.FieldErrors
		switch {
		case err == nil:
			a.seen.Add(delivery, struct{}{})
			done(nil, nil)
			a.hand(r)
			return r, true
		case errors.As(err, &fields):
			done(formErrors(fields), nil)
			return bot.Reply{}, false
		case errors.Is(err, store.ErrUncertain):
			// Whether it was stored shows when the file is opened again; the
			// delivery comes again then.
			done(nil, err)
			a.giveUp(err)
			return bot.Reply{}, false
		case !errors.Is(err, store.ErrUnavailable) && !errors.Is(err, store.ErrConflict) && ctx.Err() == nil:
			a.Log.Error("an event can't be handled", "delivery", delivery, "error", err)
			done(nil, nil) // it would go wrong again
			return bot.Reply{}, false
		}
		a.Log.Error("an event is not stored yet", "delivery", delivery, "error", err)
		select {
		case <-ctx.Done():
			done(nil, err)
			return bot.Reply{}, false
		case <-time.After(wait):
		}
	}
}

// hand has a reply sent.
func (a *App) hand(r bot.Reply) {
	if r.Entry == nil {
		a.Kick()
		return
	}
	a.replies.Add(r.Entry.ID, r)
	a.Take(*r.Entry)
}

// How long is waited before the store is tried again.
const (
	firstWait   = 200 * time.Millisecond
	longestWait = 5 * time.Second
)

// formErrors is the acknowledgement that shows errors at the fields of a form.
func formErrors(e *bot.FieldErrors) []byte {
	answer, err := json.Marshal(slack.NewErrorsViewSubmissionResponse(e.Fields))
	if err != nil {
		return nil // unreachable: strings by strings
	}
	return answer
}
