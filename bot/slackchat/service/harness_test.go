package service_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/slack-go/slack"

	"ferrule/bot"
	"ferrule/bot/bottest"
	"ferrule/bot/slackchat/manifest"
	"ferrule/bot/slackchat/service"
	"ferrule/bot/slackchat/slackfake"
	"ferrule/bot/slackchat/socket"
	"ferrule/store"
)

// The workspace of every test.
const (
	faults = "C0FAULTS"
	other  = "C0OTHER"
	direct = "D0ADA"
	ada    = "U0ADA"
	ben    = "U0BEN"
	cleo   = "U0CLEO"
)

// firm is a workspace with the bot in it.
type firm struct {
	t     *testing.T
	fake  *slackfake.Server
	store store.Store
	path  string // of the case book
	log   *lockedBuffer
	http  bool
	more  func(*service.Options)
	storm bool // no connection holds at first

	stop  context.CancelFunc
	ended chan error
}

type lockedBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *lockedBuffer) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *lockedBuffer) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

// newFirm makes a workspace and an empty case book on disk. The bot is not
// there yet.
func newFirm(t *testing.T, http bool, o slackfake.Options) *firm {
	t.Helper()
	if o.RetryAfter == nil {
		o.RetryAfter = []time.Duration{0, 200 * time.Millisecond, 400 * time.Millisecond}
	}
	o.Scopes = manifest.App(manifest.Options{Groups: true}).Scopes() // what the manifest asks for has to do
	fake, err := slackfake.New(o)
	if err != nil {
		t.Fatal(err)
	}
	f := &firm{t: t, fake: fake, path: filepath.Join(t.TempDir(), "cases.db"), log: &lockedBuffer{}, http: http, more: func(*service.Options) {}}
	t.Cleanup(fake.Close)
	for id, name := range map[string]string{ada: "ada", ben: "ben", cleo: "cleo"} {
		fake.AddUser(id, name)
	}
	fake.AddChannel(faults, "faults", ada, ben, cleo, fake.BotUser())
	fake.AddChannel(other, "other", ada, ben, cleo, fake.BotUser())
	fake.AddDirect(direct, ada)
	fake.AddDirect("D0BEN", ben)
	f.openStore()
	return f
}

func (f *firm) openStore() {
	f.t.Helper()
	st, err := store.OpenBolt(f.path, store.Options{})
	if err != nil {
		f.t.Fatal(err)
	}
	f.store = st
	f.t.Cleanup(func() { _ = st.Close() })
}

// start has the bot come to work.
func (f *firm) start() {
	f.t.Helper()
	f.startOn(f.store)
}

func (f *firm) startOn(st store.Store) {
	f.t.Helper()
	prepared, err := bottest.Starter()
	if err != nil {
		f.t.Fatal(err)
	}
	log := slog.New(slog.NewTextHandler(f.log, &slog.HandlerOptions{Level: slog.LevelDebug}))
	o := service.Options{
		Bot: bot.New(log, prepared, st, "test"), Store: st, API: f.fake.URL(), Log: log,
		Tokens:  service.Tokens{App: f.fake.AppToken(), Bot: f.fake.BotToken(), Signing: f.fake.SigningSecret()},
		Command: "/ferrule", Every: 20 * time.Millisecond, Grace: time.Second,
		BackOff: socket.BackOff{First: 20 * time.Millisecond, Most: 200 * time.Millisecond},
	}
	if f.http {
		if o.Listen, err = net.Listen("tcp", "127.0.0.1:0"); err != nil {
			f.t.Fatal(err)
		}
	}
	f.more(&o)
	ctx, stop := context.WithCancel(context.Background())
	f.stop, f.ended = stop, make(chan error, 1)
	ended := f.ended
	go func() { ended <- service.Run(ctx, o) }()
	f.t.Cleanup(func() {
		stop()
		<-ended
	})
	if f.http {
		if err := f.fake.DeliverTo(f.t.Context(), "http://"+o.Listen.Addr().String()); err != nil {
			f.t.Fatal(err)
		}
		return
	}
	if f.storm {
		return
	}
	f.wait("a connection", func() bool { return f.fake.Connections() > 0 })
}

// leave has the bot go, and waits until it is gone.
func (f *firm) leave() error {
	f.t.Helper()
	f.stop()
	err := <-f.ended
	f.ended <- err // for the clean-up
	return err
}

// wait waits for something in the workspace.
func (f *firm) wait(what string, done func() bool) {
	f.t.Helper()
	ctx, cancel := context.WithTimeout(f.t.Context(), 20*time.Second)
	defer cancel()
	if err := f.fake.WaitFor(ctx, done); err != nil {
		waiting, _ := f.store.Lease(context.Background(), time.Now().Add(time.Hour), time.Minute, 10)
		f.t.Fatalf("waiting for %s: %v\nviolations: %v\noutbox: %d\nlog:\n%s", what, err, f.fake.Violations(), len(waiting), tail(f.log.String()))
	}
}

func tail(s string) string { return s[max(0, len(s)-4000):] }

// say has somebody write, and gives the stamp.
func (f *firm) say(channel, user, text, thread string) string {
	f.t.Helper()
	ts, err := f.fake.Say(channel, user, text, thread)
	if err != nil {
		f.t.Fatal(err)
	}
	return ts
}

// opened has somebody call the bot, waits until that is answered and everything is
// quiet, and gives the stamp of the thread.
func (f *firm) opened(channel, user, text string) string {
	f.t.Helper()
	root := f.say(channel, user, f.fake.Mention()+text, "")
	f.answered(channel, root, 1)
	f.settled()
	return root
}

// answers are the bot's messages of a thread, or with no thread those of a
// channel that are in none.
func (f *firm) answers(channel, thread string) []slackfake.Message {
	var out []slackfake.Message
	for _, m := range f.fake.Messages(channel) {
		if m.BotID != "" && m.ThreadTS == thread {
			out = append(out, m)
		}
	}
	return out
}

// answered waits until the bot has said so many things in a thread, and gives
// the last.
func (f *firm) answered(channel, thread string, n int) slackfake.Message {
	f.t.Helper()
	f.wait(fmt.Sprintf("answer %d in %s", n, channel), func() bool { return len(f.answers(channel, thread)) >= n })
	got := f.answers(channel, thread)
	if len(got) > n {
		f.t.Errorf("%d answers; want %d: %q", len(got), n, texts(got))
	}
	return got[n-1]
}

func texts(ms []slackfake.Message) []string {
	out := make([]string, len(ms))
	for i, m := range ms {
		out[i] = m.Text
	}
	return out
}

// settled waits until everything that was delivered is acknowledged and nothing
// is left in the outbox.
func (f *firm) settled() {
	f.t.Helper()
	f.wait("quiet", func() bool { return f.fake.Undelivered() == 0 })
	ctx, cancel := context.WithTimeout(f.t.Context(), 10*time.Second)
	defer cancel()
	for {
		stats, err := f.store.(*store.Bolt).Stats(ctx)
		if err != nil {
			f.t.Fatalf("waiting for an empty outbox: %v", err)
		}
		if stats.Waiting == 0 {
			return
		}
	}
}

// clean holds that nothing was done that Slack forbids, and that no secret was
// written anywhere.
func (f *firm) clean() {
	f.t.Helper()
	for _, v := range f.fake.Violations() {
		f.t.Errorf("violation: %s", v)
	}
	for _, secret := range []string{f.fake.AppToken(), f.fake.BotToken(), f.fake.SigningSecret()} {
		if strings.Contains(f.log.String(), secret) {
			f.t.Errorf("a secret stands in the log:\n%s", f.log)
		}
	}
}

// button is the action ID of a button that shows a text.
func (f *firm) button(m slackfake.Message, shows string) string {
	f.t.Helper()
	var bs slack.Blocks
	if err := json.Unmarshal(m.Blocks, &bs); err != nil {
		f.t.Fatal(err)
	}
	for _, b := range bs.BlockSet {
		row, ok := b.(*slack.ActionBlock)
		if !ok {
			continue
		}
		for _, e := range row.Elements.ElementSet {
			if b, ok := e.(*slack.ButtonBlockElement); ok && b.Text.Text == shows {
				return b.ActionID
			}
		}
	}
	f.t.Fatalf("no button %q below %q", shows, m.Text)
	return ""
}

func (f *firm) press(channel string, m slackfake.Message, user, shows string) {
	f.t.Helper()
	if _, err := f.fake.Press(channel, m.TS, user, f.button(m, shows)); err != nil {
		f.t.Fatal(err)
	}
}

// cases are all cases, oldest first.
func (f *firm) cases() []store.Case {
	f.t.Helper()
	page, err := f.store.Cases(f.t.Context(), store.Query{}, "")
	if err != nil {
		f.t.Fatal(err)
	}
	return page.Cases
}

// form is the form that a person has open.
func (f *firm) form(user string) slackfake.View {
	f.t.Helper()
	open := func() (slackfake.View, bool) {
		for _, v := range f.fake.Views(user) {
			return v, true
		}
		return slackfake.View{}, false
	}
	f.wait("a form", func() bool { _, ok := open(); return ok })
	v, _ := open()
	return v
}

// both runs a test in Socket Mode and over HTTP.
func both(t *testing.T, test func(t *testing.T, http bool)) {
	for name, http := range map[string]bool{"Socket Mode": false, "HTTP": true} {
		t.Run(name, func(t *testing.T) { test(t, http) })
	}
}

var errStalled = errors.New("the disk does not answer")
