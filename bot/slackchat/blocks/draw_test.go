package blocks_test

import (
	"context"
	"encoding/json"
	"io/fs"
	"log/slog"
	"path"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/slack-go/slack"
	"pgregory.net/rapid"

	"ferrule/bot"
	"ferrule/bot/bottest"
	"ferrule/bot/dialogue"
	"ferrule/bot/slackchat/blocks"
	"ferrule/knowledge"
	"ferrule/knowledge/starter"
	"ferrule/rules"
	"ferrule/store"
)

// spoken is a reply of a dialogue of the starter pack, where it stands, and the
// forms and home pages that can be opened then.
type spoken struct {
	where string
	reply bot.Reply
	forms []slack.ModalViewRequest
	homes []slack.HomeTabViewRequest
}

var starterProgram = sync.OnceValues(func() (*rules.Program, error) {
	p, err := knowledge.Load(starter.FS)
	if err != nil {
		return nil, err
	}
	return rules.Compile(p)
})

// newBot is a bot with the starter pack and an empty case book.
func newBot(t *testing.T) *bot.Bot {
	t.Helper()
	p, err := bottest.Starter()
	if err != nil {
		t.Fatal(err)
	}
	return bot.New(slog.New(slog.DiscardHandler), p, store.NewMemory(), "test")
}

// all are the replies of all dialogues, and what why, more, readings and help
// say in each at its end.
var all = sync.OnceValues(func() ([]spoken, error) {
	prepared, err := bottest.Starter()
	if err != nil {
		return nil, err
	}
	names, err := fs.Glob(starter.FS, "dialogues/*.txt")
	if err != nil {
		return nil, err
	}
	var out []spoken
	for _, name := range names {
		src, err := fs.ReadFile(starter.FS, name)
		if err != nil {
			return nil, err
		}
		d, err := dialogue.Parse(path.Base(name), string(src))
		if err != nil {
			return nil, err
		}
		var says []string
		for _, turn := range d.Turns {
			says = append(says, turn.Says)
		}
		b := bot.New(slog.New(slog.DiscardHandler), prepared, store.NewMemory(), "test")
		for i, s := range append(says, "why", "more", "readings", "help") {
			at := time.Date(2026, 3, 2, 9, i, 0, 0, time.UTC)
			r, err := b.Handle(context.Background(), bot.Text{Text: s, Envelope: bot.Envelope{
				Actor: "ada", Conversation: "slack:C1:" + name, Delivery: name + at.String(), Message: at.String(), Sent: at,
			}})
			if err != nil {
				return nil, err
			}
			heard := spoken{where: d.Name + ": " + s, reply: r}
			if err := heard.open(b, at); err != nil {
				return nil, err
			}
			out = append(out, heard)
		}
	}
	return out, nil
})

// open adds what can be opened after a reply: the home page of a technician who
// has the case, of one who has none, and of a lead.
func (s *spoken) open(b *bot.Bot, at time.Time) error {
	ctx := context.Background()
	const conversation = "slack:T0LANTERN:C0FAULTS:1772442000.000100"
	if s.reply.Case != 0 {
		sheet, err := b.Sheet(ctx, s.reply.Case)
		if err != nil {
			return err
		}
		closing, err := b.ClosingSheet(ctx, s.reply.Case)
		if err != nil {
			return err
		}
		s.forms = append(s.forms, blocks.Form(sheet, conversation), blocks.Closing(closing, conversation))
	}
	link := func(c string) string { return "https://example.com/" + c }
	for actor, lead := range map[string]bool{"ada": false, "ben": false, "cleo": true} {
		h, err := b.Home(ctx, actor, lead, at)
		if err != nil {
			return err
		}
		s.homes = append(s.homes, blocks.Home(h, link))
	}
	return nil
}

func replies(t testing.TB) []spoken {
	t.Helper()
	out, err := all()
	if err != nil {
		t.Fatal(err)
	}
	if len(out) < 200 {
		t.Fatalf("only %d replies: the dialogues are not all there", len(out))
	}
	return out
}

// numbered is what a list has instead of the numbers.
var numbered = regexp.MustCompile(`^\d+\. `)

// All that a reply says is in its blocks, and within Slack's limits.
func TestDialogues(t *testing.T) {
	for _, s := range replies(t) {
		var shown, plain strings.Builder
		for _, m := range blocks.Draw(s.reply) {
			if err := blocks.Check(m.Blocks); err != nil {
				t.Errorf("%s: %v", s.where, err)
			}
			if len(m.Blocks) == 0 || len([]rune(m.Text)) > blocks.LongestText {
				t.Errorf("%s: %d blocks, %d characters of text", s.where, len(m.Blocks), len([]rune(m.Text)))
			}
			shown.WriteString(words(t, m.Blocks))
			plain.WriteString(m.Text + "\n")
		}
		for _, l := range strings.Split(s.reply.Text(), "\n") {
			if !strings.Contains(plain.String(), l) {
				t.Errorf("%s: the text does not say %q", s.where, l)
			}
			if l = strings.TrimPrefix(strings.TrimSpace(l), "- "); strings.HasPrefix(l, "[") {
				continue // the answers, which are looked at below
			}
			if l = numbered.ReplaceAllString(l, ""); !strings.Contains(shown.String(), l) {
				t.Errorf("%s: the blocks do not say %q\n%s", s.where, l, shown.String())
			}
		}
		if s.reply.Step != nil {
			for _, c := range s.reply.Step.Choices {
				if len([]rune(c)) <= 75 && !strings.Contains(shown.String(), c) {
					t.Errorf("%s: no button %q", s.where, c)
				}
			}
		}
	}
}

// words are all texts of blocks, as they stand: those of a line of rich text
// together.
func words(t testing.TB, bs []slack.Block) string {
	t.Helper()
	raw, err := json.Marshal(bs)
	if err != nil {
		t.Fatal(err)
	}
	var tree any
	if err := json.Unmarshal(raw, &tree); err != nil {
		t.Fatal(err)
	}
	var out strings.Builder
	var walk func(any)
	walk = func(v any) {
		switch v := v.(type) {
		case []any:
			for _, e := range v {
				walk(e)
			}
		case map[string]any:
			if s, ok := v["text"].(string); ok {
				out.WriteString(s)
			}
			for _, e := range v {
				walk(e)
			}
			if kind, ok := v["type"]; ok && kind != "text" {
				out.WriteString("\n")
			}
		}
	}
	walk(tree)
	return strings.ReplaceAll(out.String(), "\u00a0", " ")
}

// The caution stands before the step, and the headline first.
func TestOrder(t *testing.T) {
	r := bot.Reply{
		Case: 7, Version: 3, Headline: "Change the battery.", New: []string{"battery 10.9 V"},
		Cautions: []string{"Lead-acid: no spark near it."}, Language: "en",
		Step: &bot.Step{Kind: "repair", Says: "Do this now.", Lines: []string{"Take the <old> one out.", "*Put* the new one in."}, Choices: []string{"done", "still the same"}},
	}
	ms := blocks.Draw(r)
	if len(ms) != 1 {
		t.Fatalf("%d messages", len(ms))
	}
	got, err := json.Marshal(ms[0].Blocks)
	if err != nil {
		t.Fatal(err)
	}
	shown, at := strings.ReplaceAll(string(got), "\u00a0", " "), 0
	for _, want := range []string{
		`{"type":"text","text":"Change the battery.\n","style":{"bold":true}}`,
		`"context"`, `battery 10.9 V`,
		`"rich_text_quote"`, `Careful: Lead-acid: no spark near it.`,
		`Do this now.`, `"rich_text_list"`, `Take the \u003cold\u003e one out.`, `*Put* the new one in.`,
		`"actions"`, `"value":"7 3 done"`, `"value":"7 3 still the same"`, `"value":"7 3 why"`, `"value":"7 3 more"`,
	} {
		i := strings.Index(shown[at:], want)
		if i < 0 {
			t.Fatalf("%s is missing, or stands too early, in\n%s", want, shown)
		}
		at += i
	}
}

// Long details go on in messages of their own, and lose nothing.
func TestLongDetails(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lines := rapid.SliceOfN(rapid.StringMatching(`(- )?[a-zäł]{1,40}( [a-z]{1,60}){0,9}( [a-z]{1,60}){0,9}`), 1, 120).Draw(t, "lines")
		r := bot.Reply{Case: 1, Headline: "What it rests on:", Details: lines}
		var text []string
		for _, m := range blocks.Draw(r) {
			if err := blocks.Check(m.Blocks); err != nil {
				t.Fatal(err)
			}
			if len([]rune(m.Text)) > blocks.LongestText || len(m.Blocks) == 0 {
				t.Fatalf("%d characters, %d blocks", len([]rune(m.Text)), len(m.Blocks))
			}
			text = append(text, m.Text)
		}
		if got, want := strings.Join(text, "\n"), r.Text(); got != want {
			t.Fatalf("got\n%s\nwant\n%s", got, want)
		}
	})
}

// Whatever a reply holds, what is drawn is within the limits.
func TestAnyReplyIsWithinTheLimits(t *testing.T) {
	str := rapid.OneOf(rapid.String(), rapid.Map(rapid.IntRange(0, 16_000), func(n int) string { return strings.Repeat("ø", n) }))
	rapid.Check(t, func(t *rapid.T) {
		r := bot.Reply{
			Case: 1, Version: 2, Headline: str.Draw(t, "headline"), New: rapid.SliceOfN(str, 0, 5).Draw(t, "new"),
			Notices: rapid.SliceOfN(str, 0, 5).Draw(t, "notices"), Cautions: rapid.SliceOfN(str, 0, 5).Draw(t, "cautions"),
			Details: rapid.SliceOfN(str, 0, 5).Draw(t, "details"),
			Step:    &bot.Step{Kind: "measure", Says: str.Draw(t, "says"), Lines: rapid.SliceOfN(str, 0, 5).Draw(t, "lines"), Choices: rapid.SliceOfN(str, 0, 30).Draw(t, "choices")},
		}
		for _, m := range blocks.Draw(r) {
			if err := blocks.Check(m.Blocks); err != nil {
				t.Fatal(err)
			}
			if n := len([]rune(m.Text)); n == 0 || n > blocks.LongestText {
				t.Fatalf("%d characters of text", n)
			}
		}
	})
}

func TestSaysNothing(t *testing.T) {
	if ms := blocks.Draw(bot.Reply{Case: 3}); ms != nil {
		t.Errorf("%d messages", len(ms))
	}
}

func BenchmarkDraw(b *testing.B) {
	all := replies(b)
	for i := 0; b.Loop(); i++ {
		blocks.Draw(all[i%len(all)].reply)
	}
}
