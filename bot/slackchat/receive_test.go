package slackchat

import (
	"encoding/json"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"sync/atomic"
	"testing"
	"time"

	"github.com/slack-go/slack"
	"pgregory.net/rapid"

	"ferrule/bot"
	"ferrule/bot/bottest"
	"ferrule/store"
)

// newApp is an app whose Slack refuses everything.
func newApp(t testing.TB) *App {
	t.Helper()
	p, err := bottest.Starter()
	if err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "application/json")
		_, _ = w.Write([]byte(`{"ok": false, "error": "channel_not_found"}`))
	}))
	t.Cleanup(server.Close)
	st := store.NewMemory()
	a := New(t.Context(), Options{
		Bot: bot.New(slog.New(slog.DiscardHandler), p, st, "test"), Store: st, Team: "T1", Self: "UBOT", Command: "/ferrule",
		API: slack.New("xoxb-1", slack.OptionAPIURL(server.URL+"/")),
	})
	t.Cleanup(a.Wait)
	return a
}

// Whatever is delivered, it is answered once for good or not at all, and nothing
// panics; what was not stored is not acknowledged with an error hidden.
func FuzzReceive(f *testing.F) {
	for _, s := range []struct{ kind, payload string }{
		{"events_api", `{"team_id":"T1","event":{"type":"app_mention","user":"U1","text":"<@UBOT> weak signal 30 %","ts":"1796000000.000100","channel":"C1"}}`},
		{"events_api", `{"team_id":"T1","event":{"type":"message","channel_type":"im","user":"U1","text":"hello","ts":"1796000000.000100","channel":"D1","files":[{"id":"F1","permalink":"https://x.slack.com/f"}]}}`},
		{"events_api", `{"team_id":"T1","event":{"type":"message","subtype":"message_changed","channel":"C1","message":{"user":"U1","text":"x","ts":"1796000000.000100","edited":{"ts":"1796000001.000000"}},"previous_message":{"text":"y"}}}`},
		{"events_api", `{"team_id":"T1","event":{"type":"message","subtype":"message_deleted","channel":"C1","deleted_ts":"1796000000.000100","previous_message":null}}`},
		{"events_api", `{"team_id":"T1","event":{"type":"message","text":7}}`},
		{"events_api", `{"team_id":"T1"}`}, {"events_api", `[]`}, {"events_api", ``}, {"hello", `{}`},
		{"interactive", `{"type":"block_actions","team":{"id":"T1"},"user":{"id":"U1"},"channel":{"id":"C1"},"message":{"ts":"1796000000.000100"},"actions":[{"action_id":"answer-0","value":"1 1 yes","action_ts":"1796000000.000200"}]}`},
		{"interactive", `{"type":"block_actions","team":{"id":"T1"},"user":{"id":"U1"},"channel":{"id":"C1"},"actions":[{"action_id":"open-readings","value":"1 1 open-readings"}]}`},
		{"interactive", `{"type":"view_submission","team":{"id":"T1"},"user":{"id":"U1"},"view":{"id":"V1","callback_id":"readings","private_metadata":"1 1 slack:T1:C1:1796000000.000100","state":{"values":{"radio.signal":{"value":{"type":"plain_text_input","value":"140"}}}}}}`},
		{"slash_commands", `{"team_id":"T1","channel_id":"C1","user_id":"U1","command":"/ferrule","text":"weak signal","trigger_id":"1.2"}`},
		{"slash_commands", `{"team_id":"T1","channel_id":"D1","user_id":"U1","text":"help"}`},
	} {
		f.Add(s.kind, []byte(s.payload))
	}
	a := newApp(f)
	f.Fuzz(func(t *testing.T, kind string, payload []byte) {
		var times atomic.Int32
		done := make(chan struct{})
		a.Receive(t.Context(), Delivery{Kind: Kind(kind), Payload: payload}, func(answer []byte, err error) {
			if len(answer) > 0 && !json.Valid(answer) {
				t.Errorf("the answer is no JSON: %q", answer)
			}
			if times.Add(1) == 1 {
				close(done)
			}
		})
		select {
		case <-done:
		case <-time.After(20 * time.Second):
			t.Fatal("not answered")
		}
		a.lanes.wait()
		if n := times.Load(); n != 1 {
			t.Errorf("answered %d times", n)
		}
	})
}

// Stamps are times and back.
func TestStamps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := time.UnixMicro(rapid.Int64Range(1_000_000, 4_000_000_000_000_000).Draw(t, "time")).UTC()
		if got, ok := timeOf(stampOf(at)); !ok || !got.Equal(at) {
			t.Fatalf("%v is %s, which is %v", at, stampOf(at), got)
		}
	})
	for _, s := range []string{"", "x", "-1.0", "0", "1.2345678", "1.x", "1.-2", "1796000000.0001000"} {
		if at, ok := timeOf(s); ok {
			t.Errorf("%q is %v", s, at)
		}
	}
}

// Names of conversations are read as they were written, and those of others are not.
func TestConversations(t *testing.T) {
	for _, c := range []conversation{{"T1", "C1", "1796000000.000100"}, {"T1", "D1", ""}} {
		if got, ok := parseConversation(c.String()); !ok || got != c {
			t.Errorf("%v is read as %v", c, got)
		}
	}
	for _, s := range []string{"", "terminal:x", "slack:T1:C1", "slack:T1::1", "slack::C1:1", "slack:T1:C1:1:2"} {
		if c, ok := parseConversation(s); ok {
			t.Errorf("%q is %v", s, c)
		}
	}
}

// Parked messages are given back in order, once, those written after a stamp;
// old ones make room.
func TestParked(t *testing.T) {
	var p parked
	now := time.Unix(1_796_000_000, 0)
	for _, stamp := range []string{"3", "1", "2"} {
		p.put("a", message{Stamp: stamp}, now)
	}
	p.drop("a", "2")
	if got := p.take("a", "1", now); len(got) != 1 || got[0].Stamp != "3" {
		t.Errorf("got %+v", got)
	}
	if got := p.take("a", "", now); len(got) != 0 {
		t.Errorf("given twice: %+v", got)
	}
	for range mostParked + 1 {
		p.put("b", message{Stamp: "1"}, now)
	}
	if p.count != mostParked {
		t.Errorf("%d are parked", p.count)
	}
	p.put("c", message{Stamp: "1"}, now.Add(parkedFor))
	if p.count != 1 || len(p.take("b", "", now)) != 0 {
		t.Errorf("%d are parked after ten minutes", p.count)
	}
}
