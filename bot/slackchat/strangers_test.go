package slackchat_test

import (
	"encoding/json"
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/slack-go/slack"

	"ferrule/bot"
	"ferrule/bot/bottest"
	"ferrule/bot/slackchat"
	"ferrule/store"
)

// Somebody of another workspace is refused when the message is delivered, and
// not let in when the catch-up finds the same message.
func TestStrangersAreNotCaughtUpOn(t *testing.T) {
	p, err := bottest.Starter()
	if err != nil {
		t.Fatal(err)
	}
	st := store.NewMemory()
	b := bot.New(slog.New(slog.DiscardHandler), p, st, "test")
	now := time.Now()
	stamp := func(d time.Duration) string { return fmt.Sprintf("%d.000100", now.Add(d).Unix()) }
	stranger := map[string]any{"type": "message", "user": "U9STRANGER", "team": "T9OTHER", "text": "<@U0BOT> wireless keypad won't enrol, gen 1 hub", "ts": stamp(-10 * time.Second)}
	api := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		out := map[string]any{"ok": true, "messages": []any{}}
		if strings.HasSuffix(r.URL.Path, "conversations.history") {
			out["messages"] = []any{stranger}
		}
		_ = json.NewEncoder(w).Encode(out)
	}))
	defer api.Close()
	app := slackchat.New(t.Context(), slackchat.Options{Bot: b, Store: st, API: slack.New("xoxb-x", slack.OptionAPIURL(api.URL+"/")), Team: "T1", Self: "U0BOT"})
	deliver := func(e map[string]any) {
		e["channel"] = "C1"
		body, _ := json.Marshal(map[string]any{"team_id": "T1", "event_id": "E", "event": e})
		app.Receive(t.Context(), slackchat.Delivery{Kind: slackchat.Events, Payload: body}, func([]byte, error) {})
		app.Wait()
	}
	deliver(map[string]any{"type": "message", "user": "U1ADA", "team": "T1", "text": "<@U0BOT> weak signal 83 %", "ts": stamp(-30 * time.Second)})
	deliver(stranger)
	count := func() int { page, _ := st.Cases(t.Context(), store.Query{}, ""); return len(page.Cases) }
	if count() != 1 {
		t.Fatalf("%d cases after the deliveries", count())
	}
	if err := app.Begin(t.Context()); err != nil {
		t.Fatal(err)
	}
	app.CatchUp(t.Context())
	app.Wait()
	if count() != 1 {
		t.Errorf("the catch-up opened a case for somebody of another workspace")
	}
}
