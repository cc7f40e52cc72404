package bot_test

import (
	"bufio"
	"context"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"ferrule/bot"
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
	st := store.NewMemory()
	t.Cleanup(func() {
		if err := st.Close(); err != nil {
			t.Error(err)
		}
	})
	b := bot.New(slog.New(slog.DiscardHandler), prepared(t), st, "test")
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

// TestDialogues plays the dialogues of testdata. A line that starts with >
// is a message; the lines behind it are what has to hold after it:
//
//	~ TEXT            the reply says TEXT
//	! TEXT            the reply does not say TEXT
//	found RULE        a finding of this rule holds
//	not found RULE    none holds
//	next KIND [NAME]  the next step, and a reading or the cause in it
//	noted READING SUBJECT VALUE
//	first CAUSE       the most probable cause
//	closed CAUSE      the case is closed with this cause
func TestDialogues(t *testing.T) {
	names, err := filepath.Glob("../testdata/dialogues/*.txt")
	if err != nil || len(names) < 3 {
		t.Fatalf("%d dialogues, %v; want three or more", len(names), err)
	}
	for _, name := range names {
		t.Run(strings.TrimSuffix(filepath.Base(name), ".txt"), func(t *testing.T) { play(t, name) })
	}
}

func play(t *testing.T, name string) {
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	k := newTalk(t)
	var reply bot.Reply
	checks := 0
	lines := bufio.NewScanner(f)
	for n := 1; lines.Scan(); n++ {
		line := strings.TrimSpace(lines.Text())
		switch {
		case line == "" || strings.HasPrefix(line, "#"):
		case strings.HasPrefix(line, ">"):
			reply = k.say(strings.TrimSpace(line[1:]))
		default:
			checks++
			if wrong := holds(k, reply, line); wrong != "" {
				t.Errorf("%s:%d: %s: %s\nthe reply was:\n%s", filepath.Base(name), n, line, wrong, reply.Text())
			}
		}
	}
	if err := lines.Err(); err != nil {
		t.Fatal(err)
	}
	if checks == 0 {
		t.Error("the dialogue checks nothing")
	}
}

// holds returns what is wrong with an expectation, or "".
func holds(k *talk, reply bot.Reply, line string) string {
	word, rest, _ := strings.Cut(line, " ")
	s := k.snapshot(reply)
	found := func(rule string) bool {
		return slices.ContainsFunc(s.Findings, func(p bot.Point) bool { return p.Rule == rule })
	}
	switch word {
	case "~":
		if !strings.Contains(strings.ToLower(reply.Text()), strings.ToLower(rest)) {
			return "not said"
		}
	case "!":
		if strings.Contains(strings.ToLower(reply.Text()), strings.ToLower(rest)) {
			return "said"
		}
	case "found":
		if !found(rest) {
			return fmt.Sprintf("found %v", s.Findings)
		}
	case "not":
		if found(strings.TrimPrefix(rest, "found ")) {
			return "found"
		}
	case "next":
		return nextHolds(s, reply, strings.Fields(rest))
	case "noted":
		return notedHolds(s, rest)
	case "first":
		if len(s.Causes) == 0 || s.Causes[0].Cause != rest {
			return fmt.Sprintf("got %v", s.Causes[:min(3, len(s.Causes))])
		}
	case "closed":
		c, err := k.store.Case(context.Background(), reply.Case)
		if err != nil || c.State != store.Closed || c.Outcome.Cause != rest {
			return fmt.Sprintf("the case is %s with %+v, %v", c.State, c.Outcome, err)
		}
	default:
		return "no such check"
	}
	return ""
}

func nextHolds(s bot.Snapshot, reply bot.Reply, want []string) string {
	if s.Next.Kind != want[0] {
		return "next is " + s.Next.Kind
	}
	if len(want) > 1 && !slices.Contains(s.Next.Readings, want[1]) && reply.Step.Cause != want[1] {
		return fmt.Sprintf("next is %v %s", s.Next.Readings, reply.Step.Cause)
	}
	return ""
}

func notedHolds(s bot.Snapshot, want string) string {
	var got []string
	for _, u := range s.Understood {
		line := fmt.Sprintf("%s %s %v", u.Reading, u.Subject, u.Value)
		if line == want {
			return ""
		}
		got = append(got, line)
	}
	return "noted: " + strings.Join(got, "; ")
}
