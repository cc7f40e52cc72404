package blocks_test

import (
	"bytes"
	"cmp"
	"encoding/json"
	"flag"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"log/slog"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/slack-go/slack"

	"ferrule/bot"
	"ferrule/bot/bottest"
	"ferrule/bot/demo"
	"ferrule/bot/slackchat/blocks"
	"ferrule/bot/slackchat/service"
	"ferrule/store"
	"ferrule/store/review"
)

var pictures = flag.String("pictures", "", "draw what the bot posts, at the width of a phone, into this folder")

// shot is a picture of a conversation: what is said, of which the last
// messages are shown.
type shot struct {
	name string
	says []string
	last int
}

var shots = []shot{
	{"measure", []string{"bittern siren very quiet when it goes off"}, 1},
	{"measure-cautions", []string{"battery fault at the panel, power was off for 30 hours"}, 1},
	{"measure-sure", []string{"wireless keypad won't enrol, gen 1 hub I think"}, 1},
	{"repair-certain", []string{"wireless keypad won't enrol, gen 1 hub, signal 72 %"}, 1},
	{"repair-probable", []string{"rill-p in the stock room drops out at night, only one drops, behind the roller shutter, drops with the shutter down"}, 1},
	{"repair-noted", []string{"keypad dead, Moor Large fw 3.08, Fen Wide hub fw 1.12, wick-w signal 31 %, noise 8 %, cell 3.0 V, battery 12.9 V, charger 13.7 V, bus 12.1 V at the panel"}, 1},
	{"level", []string{"wireless keypad shows only 38 %, it is 6 m from the hub in the open"}, 1},
	{"stop", []string{"battery fault on the moor large", "battery is hot and swollen"}, 1},
	{"confirm", []string{"wireless keypad won't enrol, gen 1 hub", "done"}, 1},
	{"close", []string{"wireless keypad won't enrol, gen 1 hub", "done", "yes", "40 min, measured"}, 2},
	{"declined", []string{"what's the engineer code for moor small"}, 1},
	{"not-understood", []string{"bittern siren very quiet when it goes off", "how many amps can I charge it with"}, 1},
	{"why", []string{"rill-p in the stock room drops out at night, only one drops, behind the roller shutter, drops with the shutter down, signal 31 %", "why"}, 1},
	{"more", []string{"rill-p in the stock room drops out at night", "more"}, 1},
	{"help", []string{"help"}, 1},
	{"readings", []string{"rill-p wont enrol on moor small, fen wide hub, panel fw 3.10, hub fw 1.08, cell 3.0 V under load", "readings"}, 1},
	{"calc", []string{"calc cable 40 m of 0.22 mm2, 85 mA"}, 1},
	{"german", []string{"Funkbedienteil lässt sich nicht einlernen, Signal 72 %"}, 1},
	{"answer", []string{"cant connect to the panel, usb straight in, no com port comes up, its a phone charging lead"}, 1},
	{"thread", []string{"kp dead in the warehouse", "its a wick-c, 9.8 V at the keypad", "13.6 V at the panel"}, 3},
}

// TestPictures draws what the bot shows into the folder of -pictures, to be
// looked at: conversations, both forms, the home page, and the review of a week.
func TestPictures(t *testing.T) {
	if *pictures == "" {
		t.Skip("no folder is given: -args -pictures DIR")
	}
	browser := os.Getenv("CHROME")
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil && browser == "" {
			browser = path
		}
	}
	if browser == "" {
		t.Fatal("no browser: install chromium, or set CHROME")
	}
	to, err := filepath.Abs(*pictures)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(to, 0o750); err != nil {
		t.Fatal(err)
	}
	var all []map[string]any
	for _, s := range shots {
		all = append(all, map[string]any{"name": s.name, "messages": conversation(t, s)})
	}
	all = append(all, views(t)...)
	raw, err := json.Marshal(all)
	if err != nil {
		t.Fatal(err)
	}
	dir := installed(t, "pictures")
	if err := os.WriteFile(filepath.Join(dir, "pictures.json"), raw, 0o600); err != nil {
		t.Fatal(err)
	}
	t.Setenv("CHROME", browser)
	if out, err := run(t, dir, "node", "render.mjs", "pictures.json", to); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	for _, p := range all {
		if err := fewColours(filepath.Join(to, fmt.Sprint(p["name"], ".png"))); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("%d pictures in %s", len(all), to)
}

// fewColours writes a picture again with its 32 commonest colours, which makes
// it a third as large: letters on paper have few.
func fewColours(path string) error {
	raw, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	full, err := png.Decode(bytes.NewReader(raw))
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	uses := map[color.Color]int{}
	for y := range full.Bounds().Dy() {
		for x := range full.Bounds().Dx() {
			uses[full.At(x, y)]++
		}
	}
	common := slices.SortedFunc(maps.Keys(uses), func(a, b color.Color) int {
		return cmp.Or(cmp.Compare(uses[b], uses[a]), cmp.Compare(fmt.Sprint(a), fmt.Sprint(b)))
	})
	few := image.NewPaletted(full.Bounds(), common[:min(len(common), 32)])
	draw.Draw(few, few.Bounds(), full, image.Point{}, draw.Src)
	var out bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&out, few); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	return os.WriteFile(path, out.Bytes(), 0o600)
}

// message is one of a picture, as render.mjs takes it.
type message struct {
	From   string        `json:"from"`
	Time   string        `json:"time"`
	Text   string        `json:"text,omitempty"`
	Blocks []slack.Block `json:"blocks,omitempty"`
}

func conversation(t *testing.T, s shot) []message {
	t.Helper()
	var out []message
	b := newBot(t)
	for i, says := range s.says {
		at := time.Date(2026, 3, 2, 9, 4+2*i, 0, 0, time.UTC)
		r := said(t, b, "ada", s.name, at, says)
		if i < len(s.says)-s.last {
			continue
		}
		out = append(out, message{From: "ada", Time: at.Format("15:04"), Text: says})
		out = append(out, posted(r, at)...)
	}
	return out
}

func posted(r bot.Reply, at time.Time) []message {
	var out []message
	for _, m := range blocks.Draw(r) {
		out = append(out, message{From: "Ferrule", Time: at.Format("15:04"), Text: m.Text, Blocks: m.Blocks})
	}
	return out
}

func said(t *testing.T, b *bot.Bot, actor, where string, at time.Time, text string) bot.Reply {
	t.Helper()
	r, err := b.Handle(t.Context(), bot.Text{Text: text, Envelope: bot.Envelope{
		Actor: actor, Conversation: "slack:T0LANTERN:C0FAULTS:" + where, Delivery: where + at.String(), Message: at.String(), Sent: at,
	}})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// views are the forms and home pages, and the review of the last week of the
// invented year.
func views(t *testing.T) []map[string]any {
	t.Helper()
	program, err := starterProgram()
	if err != nil {
		t.Fatal(err)
	}
	prepared, err := bottest.Starter()
	if err != nil {
		t.Fatal(err)
	}
	st := store.NewMemory()
	if _, err := demo.Write(t.Context(), st, program, 7, nil); err != nil {
		t.Fatal(err)
	}
	b := bot.New(slog.New(slog.DiscardHandler), prepared, st, "test")
	friday := demo.Ends().Add(-2*24*time.Hour - 8*time.Hour)
	said(t, b, "ada", "1", friday.Add(-48*time.Hour), "false alarms again, pir in the showroom, at site Quince Row")
	said(t, b, "ada", "2", friday.Add(-time.Hour), "wireless keypad won't enrol, gen 1 hub")
	r := said(t, b, "ada", "3", friday, "keypad dead after a power cut, it shows nothing, 9.8 V at the keypad")
	sheet, err := b.Sheet(t.Context(), r.Case)
	if err != nil {
		t.Fatal(err)
	}
	closing, err := b.ClosingSheet(t.Context(), r.Case)
	if err != nil {
		t.Fatal(err)
	}
	view := func(name string, v any) map[string]any { return map[string]any{"name": name, "view": v} }
	out := []map[string]any{
		view("form", blocks.Form(sheet, "slack:T0LANTERN:C0FAULTS:3")), view("form-closing", blocks.Closing(closing, "slack:T0LANTERN:C0FAULTS:3")),
		{"name": "review", "messages": weekly(t, st, b)},
	}
	for name, lead := range map[string]bool{"home": false, "home-lead": true} {
		h, err := b.Home(t.Context(), "ada", lead, friday.Add(time.Hour))
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, view(name, blocks.Home(h, func(c string) string { return "https://example.com/" + c })))
	}
	h, err := newBot(t).Home(t.Context(), "ben", false, friday)
	if err != nil {
		t.Fatal(err)
	}
	return append(out, view("home-new", blocks.Home(h, func(string) string { return "" })))
}

// weekly is the review of a week as it is posted.
func weekly(t *testing.T, st store.Store, b *bot.Bot) []message {
	t.Helper()
	monday := demo.Ends().Add(7 * time.Hour)
	if err := service.PostReview(t.Context(), st, b.Pack(), "T0LANTERN", "C0FAULTS", review.WeekOf(monday).Before(1)); err != nil {
		t.Fatal(err)
	}
	due, err := st.Lease(t.Context(), monday.Add(time.Hour), time.Minute, 100)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range due {
		if strings.HasPrefix(e.Outgoing.Key, "review/") {
			var p bot.Posting
			if err := json.Unmarshal(e.Body, &p); err != nil || p.Reply == nil {
				t.Fatalf("%s: %v", e.Body, err)
			}
			return posted(*p.Reply, monday)
		}
	}
	t.Fatalf("no review among %d entries", len(due))
	return nil
}
