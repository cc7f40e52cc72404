package service_test

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"flag"
	"fmt"
	"io/fs"
	"log/slog"
	"path"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/slack-go/slack"
	"go.etcd.io/bbolt"

	"ferrule/bot/dialogue"
	"ferrule/bot/slackchat"
	"ferrule/bot/slackchat/service"
	"ferrule/bot/slackchat/slackfake"
	"ferrule/bot/slackchat/socket"
	"ferrule/knowledge/starter"
)

var long = flag.Bool("long", false, "the whole load: 2,000 at once, and 200 a second for a minute")

var lasting = flag.Duration("lasting", time.Minute, "how long the steady part of the whole load lasts")

// load is how much is sent.
type load struct {
	burst, rate int
	lasts       time.Duration
}

// TestLoad sends many direct messages, each from another person, at once and
// then at a steady rate: nothing is lost and nothing said twice. Times are told
// and not asserted, beside those of a bot that only repeats what it hears, and of
// one that commits as many bytes to a database of its own before it acknowledges:
// what is acknowledged after it is stored can't be faster.
func TestLoad(t *testing.T) {
	l := load{200, 50, 2 * time.Second}
	if *long {
		l = load{2000, 200, *lasting}
	}
	echo := measure(t, l, func(t *testing.T, f *firm) { echoBot(t, f, func() error { return nil }) })
	commits := measure(t, l, func(t *testing.T, f *firm) { echoBot(t, f, bareCommits(t)) })
	ours := measure(t, l, func(t *testing.T, f *firm) { f.start() })
	for _, part := range []string{"burst", "steady"} {
		for what, of := range map[string]func(times) durations{"acknowledgement": func(x times) durations { return x.ack }, "reply": func(x times) durations { return x.reply }} {
			o, e, c := of(ours[part]), of(echo[part]), of(commits[part])
			t.Logf("%s, event to %s: p50 %v p99 %v; echo %v %v, ratio of p99 %.1f; echo that commits %v %v, ratio %.1f",
				part, what, o.at(50), o.at(99), e.at(50), e.at(99), ratio(o, e), c.at(50), c.at(99), ratio(o, c))
		}
	}
}

type durations []time.Duration

func (d durations) at(percent int) time.Duration {
	if len(d) == 0 {
		return 0
	}
	return d[min(len(d)-1, len(d)*percent/100)].Round(10 * time.Microsecond)
}

func ratio(a, b durations) float64 { return float64(a.at(99)) / float64(b.at(99)) }

type times struct{ ack, reply durations }

// firstMessages are those of all dialogues.
func firstMessages(t *testing.T) []string {
	t.Helper()
	names, err := fs.Glob(starter.FS, "dialogues/*.txt")
	if err != nil || len(names) < 30 {
		t.Fatalf("%d dialogues, %v", len(names), err)
	}
	var out []string
	for _, name := range names {
		src, err := fs.ReadFile(starter.FS, name)
		if err != nil {
			t.Fatal(err)
		}
		d, err := dialogue.Parse(path.Base(name), string(src))
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, d.Turns[0].Says)
	}
	return out
}

// measure has people write to a bot, and times it.
func measure(t *testing.T, l load, start func(t *testing.T, f *firm)) map[string]times {
	t.Helper()
	f := newFirm(t, false, slackfake.Options{})
	steady := int(float64(l.rate) * l.lasts.Seconds())
	room := func(i int) string { return fmt.Sprintf("D%05d", i) }
	user := func(i int) string { return fmt.Sprintf("U%05d", i) }
	for i := range l.burst + steady {
		f.fake.AddUser(user(i), fmt.Sprint("person ", i))
		f.fake.AddDirect(room(i), user(i))
	}
	messages := firstMessages(t)
	start(t, f)
	say := func(i int) { f.say(room(i), user(i), messages[i%len(messages)], "") }
	for i := range l.burst {
		say(i)
	}
	f.allAnswered(0, l.burst, room)
	tick := time.NewTicker(time.Second / time.Duration(l.rate))
	defer tick.Stop()
	for i := range steady {
		<-tick.C
		say(l.burst + i)
	}
	f.allAnswered(l.burst, l.burst+steady, room)
	return map[string]times{"burst": f.times(0, l.burst, room), "steady": f.times(l.burst, l.burst+steady, room)}
}

func (f *firm) allAnswered(from, to int, room func(int) string) {
	f.t.Helper()
	ctx, cancel := context.WithTimeout(f.t.Context(), 2*time.Minute)
	defer cancel()
	i := from
	err := f.fake.WaitFor(ctx, func() bool {
		for i < to && len(f.fake.Messages(room(i))) > 1 {
			i++
		}
		return i == to && f.fake.Undelivered() == 0
	})
	if err != nil {
		f.t.Fatalf("%s is not answered: %v\n%s", room(i), err, tail(f.log.String()))
	}
}

// times gathers how long it took, and holds that each was answered once.
func (f *firm) times(from, to int, room func(int) string) times {
	f.t.Helper()
	written, acked := map[string]time.Time{}, map[string]time.Time{} // by stamp
	again := 0
	for _, d := range f.fake.Deliveries() {
		written[d.TS], acked[d.TS] = d.Attempts[0].Written, d.Acked
		again += len(d.Attempts) - 1
	}
	if again > 0 { // a slow machine does not acknowledge all within three seconds
		f.t.Logf("%d deliveries came again", again)
	}
	var out times
	for i := from; i < to; i++ {
		said := f.fake.Messages(room(i))
		if len(said) != 2 {
			f.t.Errorf("%s: %d messages: %q", room(i), len(said), texts(said))
			continue
		}
		out.ack = append(out.ack, acked[said[0].TS].Sub(written[said[0].TS]))
		out.reply = append(out.reply, said[1].Arrived.Sub(written[said[0].TS]))
	}
	slices.Sort(out.ack)
	slices.Sort(out.reply)
	return out
}

// bareCommits commits what a message is, some 8 kB, in a transaction of its own.
func bareCommits(t *testing.T) func() error {
	db, err := bbolt.Open(filepath.Join(t.TempDir(), "bare.db"), 0o600, nil)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = db.Close() })
	record := bytes.Repeat([]byte("x"), 8<<10)
	return func() error {
		return db.Update(func(tx *bbolt.Tx) error {
			b, err := tx.CreateBucketIfNotExists([]byte("records"))
			if err != nil {
				return err
			}
			n, err := b.NextSequence()
			if err != nil {
				return err
			}
			return b.Put(binary.BigEndian.AppendUint64(nil, n), record)
		})
	}
}

// echoBot repeats what it hears, by the same connections and client; it
// acknowledges after something else.
func echoBot(t *testing.T, f *firm, first func() error) {
	api := service.Client(service.Tokens{App: f.fake.AppToken(), Bot: f.fake.BotToken()}, f.fake.URL())
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	posts := make(chan struct{}, 64)
	receive := func(ctx context.Context, d slackchat.Delivery, done func([]byte, error)) {
		var e struct {
			Event struct {
				Channel string `json:"channel"`
				Text    string `json:"text"`
				Bot     string `json:"bot_id"`
			} `json:"event"`
		}
		if err := json.Unmarshal(d.Payload, &e); err != nil {
			t.Error(err)
			return
		}
		if e.Event.Bot != "" {
			done(nil, nil)
			return
		}
		go func() {
			if err := first(); err != nil {
				t.Error(err)
			}
			done(nil, nil)
			posts <- struct{}{}
			defer func() { <-posts }()
			if _, _, err := api.PostMessageContext(ctx, e.Event.Channel, slack.MsgOptionText(e.Event.Text, true)); err != nil {
				t.Error(err)
			}
		}()
	}
	go func() {
		ended <- socket.Run(ctx, socket.Options{Receive: receive, Log: slog.New(slog.DiscardHandler), Open: func(ctx context.Context) (string, error) {
			_, address, err := api.StartSocketModeContext(ctx)
			return address, err
		}})
	}()
	t.Cleanup(func() {
		stop()
		<-ended
	})
	f.wait("a connection", func() bool { return f.fake.Connections() > 0 })
}
