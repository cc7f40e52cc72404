package main

import (
	"context"
	"encoding/json"
	"io"
	"io/fs"
	"log/slog"
	"net"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/slack-go/slack"

	"ferrule/bot"
	"ferrule/bot/console"
	"ferrule/bot/dialogue"
	"ferrule/bot/slackchat/service"
	"ferrule/bot/slackchat/slackfake"
	"ferrule/knowledge/starter"
	"ferrule/rules/check"
	"ferrule/store"
)

const (
	channel = "C0FAULTS"
	ada     = "U0ADA"
)

// The dialogues that are played over HTTP, too.
var overHTTP = []string{"old-hub.txt", "place-too-weak.txt", "module-short-of-volts.txt"}

// Every dialogue leads to the same case in Slack as in the terminal. Where an
// answer has a button, the button is pressed.
func TestDialoguesInSlack(t *testing.T) {
	program, _, err := check.Files(starter.FS)
	if err != nil {
		t.Fatal(err)
	}
	prepared := bot.Prepare(program)
	files, err := fs.Glob(starter.FS, "dialogues/*.txt")
	if err != nil || len(files) < 30 {
		t.Fatalf("%d dialogues, %v", len(files), err)
	}
	for _, file := range files {
		name := path.Base(file)
		src, err := fs.ReadFile(starter.FS, file)
		if err != nil {
			t.Fatal(err)
		}
		d, err := dialogue.Parse(name, string(src))
		if err != nil {
			t.Fatal(err)
		}
		want := inTerminal(t, prepared, d)
		for mode, http := range map[string]bool{"Socket Mode": false, "HTTP": true} {
			if http && !slices.Contains(overHTTP, name) {
				continue
			}
			t.Run(name+" "+mode, func(t *testing.T) {
				got, pressed := inSlack(t, prepared, d, http)
				if diff := cmp.Diff(want, got); diff != "" {
					t.Errorf("terminal and Slack differ (-terminal +Slack):\n%s", diff)
				}
				t.Logf("%d events, %d of %d turns by a button", len(got.Events), pressed, len(d.Turns))
			})
		}
	}
}

// The readings of a dialogue, given in a form instead of in words, lead to the
// same readings, findings and outcome.
func TestFormsInSlack(t *testing.T) {
	program, _, err := check.Files(starter.FS)
	if err != nil {
		t.Fatal(err)
	}
	prepared := bot.Prepare(program)
	typed := &dialogue.Dialogue{Name: "typed", Turns: []dialogue.Turn{
		{Says: "weak signal on the wireless keypad"}, {Says: "signal 31.5 %, 12 m from the hub, noise level 5 %"}, {Says: "close, place too weak, 20 min, measured"}}}
	want := inTerminal(t, prepared, typed)
	for mode, http := range map[string]bool{"Socket Mode": false, "HTTP": true} {
		t.Run(mode, func(t *testing.T) {
			w := newWorkspace(t, prepared, http)
			root := w.say(w.fake.Mention()+" "+typed.Turns[0].Says, "")
			first := w.answer(root, 1)
			w.fill(first, "Several readings", map[string]string{"radio.signal": "31,5", "radio.distance": "12 m", "radio.noise": "5 %"})
			second := w.answer(root, 2)
			_ = second
			w.say("close", root) // asks what it was
			third := w.answer(root, 3)
			w.fill(third, "Close the case", map[string]string{"cause": want.Outcome.Cause, "minutes": "20", "confirmed": "measurement"})
			w.answer(root, 4)
			got := w.only()
			if diff := cmp.Diff(values(want), values(got)); diff != "" {
				t.Errorf("readings (-terminal +Slack):\n%s", diff)
			}
			for i := range want.Findings {
				if i >= len(got.Findings) || want.Findings[i].Rule != got.Findings[i].Rule || want.Findings[i].Says != got.Findings[i].Says {
					t.Errorf("finding %d: %+v; want %+v", i, got.Findings, want.Findings[i])
				}
			}
			if diff := cmp.Diff(want.Outcome, got.Outcome); diff != "" {
				t.Errorf("outcome (-terminal +Slack):\n%s", diff)
			}
		})
	}
}

// values are readings without the words and the message that they came in.
func values(c store.Case) map[string]store.Reading {
	out := map[string]store.Reading{}
	for _, r := range c.Readings {
		r.Words, r.Message = "", ""
		out[r.Name+" "+r.Subject] = r
	}
	return out
}

func openBook(t *testing.T) store.Store {
	t.Helper()
	st, err := store.OpenBolt(filepath.Join(t.TempDir(), "cases.db"), store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = st.Close() })
	return st
}

// inTerminal plays a dialogue as typed lines.
func inTerminal(t *testing.T, p *bot.Prepared, d *dialogue.Dialogue) store.Case {
	t.Helper()
	st := openBook(t)
	var lines strings.Builder
	for _, turn := range d.Turns {
		lines.WriteString(turn.Says + "\n")
	}
	err := console.Run(t.Context(), bot.New(discard(), p, st, "test"), console.Pipe(strings.NewReader(lines.String())),
		console.Options{Out: io.Discard, Stream: "test", Actor: "ada", Now: time.Now})
	if err != nil {
		t.Fatal(err)
	}
	return comparable(t, onlyCase(t, st))
}

// inSlack plays a dialogue in a thread.
func inSlack(t *testing.T, p *bot.Prepared, d *dialogue.Dialogue, http bool) (store.Case, int) {
	t.Helper()
	w := newWorkspace(t, p, http)
	root := w.say(w.fake.Mention()+" "+d.Turns[0].Says, "")
	last := w.answer(root, 1)
	pressed := 0
	for i, turn := range d.Turns[1:] {
		if id := actionOf(last, turn.Says); id != "" {
			if _, err := w.fake.Press(channel, last.TS, ada, id); err != nil {
				t.Fatal(err)
			}
			pressed++
		} else {
			w.say(turn.Says, root)
		}
		last = w.answer(root, i+2)
	}
	for _, v := range w.fake.Violations() {
		t.Errorf("violation: %s", v)
	}
	return comparable(t, w.only()), pressed
}

// workspace is the stand-in with the bot in it.
type workspace struct {
	t     *testing.T
	fake  *slackfake.Server
	store store.Store
}

func newWorkspace(t *testing.T, p *bot.Prepared, http bool) *workspace {
	t.Helper()
	fake, err := slackfake.New(slackfake.Options{PerChannel: slackfake.Rate{Off: true}})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(fake.Close)
	fake.AddUser(ada, "ada")
	fake.AddChannel(channel, "faults", ada, fake.BotUser())
	w := &workspace{t, fake, openBook(t)}
	o := service.Options{
		Bot: bot.New(discard(), p, w.store, "test"), Store: w.store, API: fake.URL(), Command: "/ferrule", Every: 10 * time.Millisecond,
		Tokens: service.Tokens{App: fake.AppToken(), Bot: fake.BotToken(), Signing: fake.SigningSecret()},
	}
	if http {
		if o.Listen, err = net.Listen("tcp", "127.0.0.1:0"); err != nil {
			t.Fatal(err)
		}
	}
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- service.Run(ctx, o) }()
	t.Cleanup(func() {
		stop()
		if err := <-ended; err != nil {
			t.Errorf("the bot ended with %v", err)
		}
	})
	if http {
		if err := fake.DeliverTo(t.Context(), "http://"+o.Listen.Addr().String()); err != nil {
			t.Fatal(err)
		}
	}
	return w
}

func (w *workspace) say(text, thread string) string {
	w.t.Helper()
	ts, err := w.fake.Say(channel, ada, text, thread)
	if err != nil {
		w.t.Fatal(err)
	}
	return ts
}

// answer waits for the n-th reply of the bot in a thread; one that is parted
// counts once.
func (w *workspace) answer(thread string, n int) slackfake.Message {
	w.t.Helper()
	ctx, cancel := context.WithTimeout(w.t.Context(), 20*time.Second)
	defer cancel()
	var got []slackfake.Message
	err := w.fake.WaitFor(ctx, func() bool {
		got = got[:0]
		for _, m := range w.fake.Replies(channel, thread) {
			if m.BotID != "" && firstPart(m) {
				got = append(got, m)
			}
		}
		return len(got) >= n
	})
	if err != nil {
		w.t.Fatalf("waiting for answer %d: %v", n, err)
	}
	return got[n-1]
}

func firstPart(m slackfake.Message) bool {
	var tag struct {
		Payload struct {
			Key string `json:"key"`
		} `json:"event_payload"`
	}
	return json.Unmarshal(m.Metadata, &tag) == nil && strings.Split(tag.Payload.Key, "/")[1] == "0"
}

// actionOf is the button of a message that shows a text, or "".
func actionOf(m slackfake.Message, shows string) string {
	var bs slack.Blocks
	if json.Unmarshal(m.Blocks, &bs) != nil {
		return ""
	}
	for _, b := range bs.BlockSet {
		row, ok := b.(*slack.ActionBlock)
		if !ok {
			continue
		}
		for _, e := range row.Elements.ElementSet {
			if b, ok := e.(*slack.ButtonBlockElement); ok && strings.EqualFold(b.Text.Text, shows) {
				return b.ActionID
			}
		}
	}
	return ""
}

// fill opens the form of a button and sends it.
func (w *workspace) fill(m slackfake.Message, button string, values map[string]string) {
	w.t.Helper()
	if _, err := w.fake.Press(channel, m.TS, ada, actionOf(m, button)); err != nil {
		w.t.Fatalf("%s: %v\n%s", button, err, m.Blocks)
	}
	ctx, cancel := context.WithTimeout(w.t.Context(), 20*time.Second)
	defer cancel()
	if err := w.fake.WaitFor(ctx, func() bool { return len(w.fake.Views(ada)) > 0 }); err != nil {
		w.t.Fatal(err)
	}
	if _, err := w.fake.Submit(ada, w.fake.Views(ada)[0].ID, values); err != nil {
		w.t.Fatal(err)
	}
}

func (w *workspace) only() store.Case {
	w.t.Helper()
	return onlyCase(w.t, w.store)
}

func onlyCase(t *testing.T, st store.Store) store.Case {
	t.Helper()
	page, err := st.Cases(t.Context(), store.Query{}, "")
	if err != nil || len(page.Cases) != 1 {
		t.Fatalf("%d cases, %v", len(page.Cases), err)
	}
	return page.Cases[0]
}

// comparable takes out of a case what differs between transports: who, when,
// where, and the stamps of messages, which become numbers.
func comparable(t *testing.T, c store.Case) store.Case {
	t.Helper()
	raw, err := json.Marshal(c)
	if err != nil {
		t.Fatal(err)
	}
	text := string(raw)
	n := 0
	for _, e := range c.Events {
		if e.Message != nil && strings.Contains(text, `"`+e.Message.ID+`"`) {
			n++
			text = strings.ReplaceAll(text, `"`+e.Message.ID+`"`, `"message `+string(rune('a'+n))+`"`)
		}
	}
	var out store.Case
	if err := json.Unmarshal([]byte(text), &out); err != nil {
		t.Fatal(err)
	}
	if out.OnTest != nil {
		out.OnTest.Since = time.Time{}
	}
	out.Conversation, out.Actors, out.Opened, out.Closed, out.Last = "", nil, time.Time{}, time.Time{}, time.Time{}
	for i := range out.Events {
		e := &out.Events[i]
		e.At, e.Actor = time.Time{}, ""
		if e.Opened != nil {
			e.Opened.Conversation = ""
		}
		if e.OnTest != nil {
			e.OnTest.Since = time.Time{} // when the message was sent
		}
	}
	return out
}

func discard() *slog.Logger { return slog.New(slog.DiscardHandler) }
