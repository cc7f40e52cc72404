package bot_test

import (
	"context"
	"fmt"
	"io/fs"
	"log/slog"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"ferrule/bot"
	"ferrule/bot/dialogue"
	"ferrule/knowledge"
	"ferrule/knowledge/starter"
	"ferrule/rules/check"
	"ferrule/store"
)

var start = time.Date(2026, 11, 16, 14, 2, 0, 0, time.UTC)

// starterPack is prepared once for all tests.
var starterPack = sync.OnceValues(func() (*bot.Prepared, error) {
	pack, err := knowledge.Load(starter.FS)
	if err != nil {
		return nil, err
	}
	program, err := check.Pack(pack)
	if err != nil {
		return nil, err
	}
	return bot.Prepare(program), nil
})

func prepared(t testing.TB) *bot.Prepared {
	t.Helper()
	p, err := starterPack()
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// talk is a conversation in a test: each turn is a minute after the last.
type talk struct {
	t     testing.TB
	bot   *bot.Bot
	store store.Store
	actor string
	room  string
	turn  int
}

func newTalk(t testing.TB) *talk {
	t.Helper()
	return talkBy(t, prepared(t))
}

// talkBy is a conversation by a pack of the test's own.
func talkBy(t testing.TB, p *bot.Prepared) *talk {
	t.Helper()
	st := store.NewMemory()
	t.Cleanup(func() {
		if err := st.Close(); err != nil {
			t.Error(err)
		}
	})
	b := bot.New(slog.New(slog.DiscardHandler), p, st, "test")
	return &talk{t: t, bot: b, store: st, actor: "p-1", room: "test:1"}
}

func (k *talk) envelope() bot.Envelope {
	k.turn++
	return bot.Envelope{
		Actor: k.actor, Conversation: k.room, Delivery: fmt.Sprintf("%s/%d", k.room, k.turn),
		Message: fmt.Sprintf("m%d", k.turn), Sent: start.Add(time.Duration(k.turn) * time.Minute),
	}
}

func (k *talk) say(text string) bot.Reply {
	k.t.Helper()
	reply, err := k.bot.Handle(context.Background(), bot.Text{Envelope: k.envelope(), Text: text})
	if err != nil {
		k.t.Fatalf("%q: %v", text, err)
	}
	return reply
}

func (k *talk) snapshot(r bot.Reply) bot.Snapshot {
	k.t.Helper()
	s, err := k.bot.Snapshot(context.Background(), r)
	if err != nil {
		k.t.Fatal(err)
	}
	return s
}

// TestDialogues plays the dialogues of the starter pack.
func TestDialogues(t *testing.T) {
	names, err := fs.Glob(starter.FS, "dialogues/*.txt")
	if err != nil || len(names) < 3 {
		t.Fatalf("%d dialogues, %v; want three or more", len(names), err)
	}
	for _, name := range names {
		t.Run(strings.TrimSuffix(filepath.Base(name), ".txt"), func(t *testing.T) {
			src, err := fs.ReadFile(starter.FS, name)
			if err != nil {
				t.Fatal(err)
			}
			d, err := dialogue.Parse(filepath.Base(name), string(src))
			if err != nil {
				t.Fatal(err)
			}
			k := newTalk(t)
			result, err := dialogue.Play(context.Background(), k.bot, k.store, d, start)
			if err != nil {
				t.Fatal(err)
			}
			for _, f := range result.Faults {
				t.Errorf("%v\nthe reply was:\n%s", f, f.Reply)
			}
		})
	}
}
