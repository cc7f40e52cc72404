package webhook_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"

	"ferrule/bot/slackchat"
	"ferrule/bot/slackchat/webhook"
)

const event = `{"type":"event_callback","team_id":"T0LANTERN","event_id":"Ev1","event":{"type":"app_mention","channel":"C0FAULTS","text":"hub <@U0FERRULE> & more"}}`

func TestAnEventIsDeliveredAsItIs(t *testing.T) {
	in := inbox{}
	w := serve(handler(in.receive), signed(noon, jsonType, event))
	want := []slackchat.Delivery{{Kind: slackchat.Events, Payload: json.RawMessage(event)}}
	if w.Code != 200 || w.Body.Len() > 0 || w.Header().Get("Content-Type") != "" {
		t.Errorf("answered %d %q %v, want 200 and nothing", w.Code, w.Body, w.Header())
	}
	if d := cmp.Diff(want, in.got); d != "" {
		t.Error(d)
	}
}

func TestRetriesAreDeliveredWithNumberAndReason(t *testing.T) {
	for _, c := range []struct {
		num, reason string
		attempt     int
		want        string
	}{
		{"", "", 0, ""},
		{"1", "http_timeout", 1, "http_timeout"},
		{"3", "http_error", 3, "http_error"},
		{"many", "x", 0, "x"},
		{"-1", "x", 0, "x"},
		{"99999999999999999999", "x", 0, "x"},
		{"2", strings.Repeat("x", 1000), 2, strings.Repeat("x", 64)},
	} {
		in := inbox{}
		r := signed(noon, jsonType, event)
		r.Header.Set("X-Slack-Retry-Num", c.num)
		r.Header.Set("X-Slack-Retry-Reason", c.reason)
		serve(handler(in.receive), r)
		if len(in.got) != 1 || in.got[0].Attempt != c.attempt || in.got[0].Reason != c.want {
			t.Errorf("%q %q: %+v", c.num, c.reason, in.got)
		}
	}
}

func TestTheChallengeIsAnswered(t *testing.T) {
	in := inbox{}
	w := serve(handler(in.receive), signed(noon, jsonType, `{"token":"x","challenge":"3eZbrw1a \"B\"","type":"url_verification"}`))
	var got map[string]string
	if err := json.Unmarshal(w.Body.Bytes(), &got); err != nil || w.Code != 200 || w.Header().Get("Content-Type") != jsonType {
		t.Errorf("%d %v %q: %v", w.Code, w.Header(), w.Body, err)
	}
	if d := cmp.Diff(map[string]string{"challenge": `3eZbrw1a "B"`}, got); d != "" {
		t.Error(d)
	}
	if len(in.got) > 0 {
		t.Errorf("delivered %v", in.got)
	}
}

func TestACommandIsAnObjectOfStrings(t *testing.T) {
	form := url.Values{
		"command": {"/ferrule"}, "text": {"Füllstand 38 % – hub größer 📶 & <b>"},
		"user_id": {"U0ADA"}, "team_id": {"T0LANTERN"}, "twice": {"first", "second"}, "empty": {""},
	}
	want := map[string]string{
		"command": "/ferrule", "text": "Füllstand 38 % – hub größer 📶 & <b>",
		"user_id": "U0ADA", "team_id": "T0LANTERN", "twice": "first", "empty": "",
	}
	for _, contentType := range []string{formType, formType + "; charset=utf-8"} {
		in := inbox{answer: []byte(`{"response_type":"ephemeral","text":"ok"}`)}
		w := serve(handler(in.receive), signed(noon, contentType, form.Encode()))
		if w.Code != 200 || w.Header().Get("Content-Type") != jsonType || w.Body.String() != string(in.answer) {
			t.Errorf("%d %v %q", w.Code, w.Header(), w.Body)
		}
		var got map[string]string
		if len(in.got) != 1 || in.got[0].Kind != slackchat.SlashCommand || json.Unmarshal(in.got[0].Payload, &got) != nil {
			t.Fatalf("delivered %+v", in.got)
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Error(d)
		}
	}
}

func TestAnInteractionIsThePayload(t *testing.T) {
	payload := `{"type":"block_actions","actions":[{"value":"17 3 38 % 📶"}]}`
	in := inbox{}
	w := serve(handler(in.receive), signed(noon, formType, url.Values{"payload": {payload}, "command": {"/no"}}.Encode()))
	want := []slackchat.Delivery{{Kind: slackchat.Interactive, Payload: json.RawMessage(payload)}}
	if d := cmp.Diff(want, in.got); w.Code != 200 || d != "" {
		t.Error(w.Code, d)
	}
}

// What the address's query says is not signed.
func TestTheQueryIsIgnored(t *testing.T) {
	in := inbox{}
	r := signed(noon, formType, "command=%2Fferrule")
	r.URL.RawQuery = "payload=%7B%7D&text=smuggled"
	serve(handler(in.receive), r)
	if len(in.got) != 1 || string(in.got[0].Payload) != `{"command":"/ferrule"}` {
		t.Errorf("%+v", in.got)
	}
}

func TestWhatNeedsNoReceiverIsNotDelivered(t *testing.T) {
	for _, c := range []struct {
		name, method, contentType, body string
		want                            int
	}{
		{"a type that is not known", "POST", jsonType, `{"type":"app_rate_limited"}`, 200},
		{"a try of the certificate", "POST", formType, `ssl_check=1&token=x`, 200},
		{"no JSON", "POST", jsonType, `{"type":"event_callback"`, 400},
		{"more than JSON", "POST", jsonType, event + "x", 400},
		{"a type that is no string", "POST", jsonType, `{"type":1}`, 400},
		{"no type", "POST", jsonType, `{}`, 400},
		{"null", "POST", jsonType, `null`, 400},
		{"a list", "POST", jsonType, `[]`, 400},
		{"no body", "POST", jsonType, ``, 400},
		{"a challenge without one", "POST", jsonType, `{"type":"url_verification"}`, 400},
		{"a form that says nothing", "POST", formType, `text=x`, 400},
		{"a broken escape", "POST", formType, `command=%zz`, 400},
		{"a semicolon", "POST", formType, `command=%2Fferrule;text=x`, 400},
		{"a payload that is no JSON", "POST", formType, `payload=x`, 400},
		{"a payload that is no object", "POST", formType, `payload=%5B%5D`, 400},
		{"a payload of null", "POST", formType, `payload=null`, 400},
		{"an empty payload", "POST", formType, `payload=&command=%2Fferrule`, 400},
		{"a form that says it is JSON", "POST", jsonType, `command=%2Fferrule`, 400},
		{"too large", "POST", jsonType, `{"type":"event_callback","x":"` + strings.Repeat("x", 1<<20) + `"}`, 413},
		{"GET", "GET", jsonType, event, 405},
		{"HEAD", "HEAD", jsonType, event, 405},
		{"PUT", "PUT", jsonType, event, 405},
	} {
		t.Run(c.name, func(t *testing.T) {
			in := inbox{}
			r := signed(noon, c.contentType, c.body)
			r.Method = c.method
			w := serve(handler(in.receive), r)
			if w.Code != c.want || w.Body.Len() > 0 || len(in.got) > 0 {
				t.Errorf("answered %d %q, want %d; delivered %v", w.Code, w.Body, c.want, in.got)
			}
			if allow := w.Header().Get("Allow"); (c.want == 405) != (allow == "POST") {
				t.Errorf("Allow: %q", allow)
			}
		})
	}
}

// The limit holds as well where the length is not said beforehand, and a body
// of just that length passes.
func TestTheBodyIsLimited(t *testing.T) {
	const limit = 1 << 20
	fill := func(n int) string {
		const head, tail = `{"type":"event_callback","x":"`, `"}`
		return head + strings.Repeat("x", n-len(head)-len(tail)) + tail
	}
	for _, c := range []struct{ size, want int }{{limit, 200}, {limit + 1, 413}} {
		r := signed(noon, jsonType, fill(c.size))
		r.ContentLength = -1
		in := inbox{}
		if w := serve(handler(in.receive), r); w.Code != c.want {
			t.Errorf("%d bytes: %d, want %d", c.size, w.Code, c.want)
		}
	}
}

func TestWhatIsNotTakenIsDeliveredAgain(t *testing.T) {
	in := inbox{answer: []byte(`{"text":"no"}`), err: errors.New("the store is gone")}
	if w := serve(handler(in.receive), signed(noon, jsonType, event)); w.Code != 503 || w.Body.Len() > 0 {
		t.Errorf("%d %q", w.Code, w.Body)
	}
}

func TestDoneHasUntilTheDeadline(t *testing.T) {
	for _, c := range []struct {
		after time.Duration
		want  int
	}{{2499 * time.Millisecond, 200}, {2501 * time.Millisecond, 503}, {time.Minute, 503}} {
		synctest.Test(t, func(t *testing.T) {
			receive := func(_ context.Context, _ slackchat.Delivery, done func([]byte, error)) {
				// A second done is one too many, and harmless like a late one.
				time.AfterFunc(c.after, func() { done(nil, nil); done(nil, errors.New("twice")) })
			}
			start := time.Now()
			w := serve(handler(receive), signed(noon, jsonType, event))
			if took := time.Since(start); w.Code != c.want || took > 2500*time.Millisecond {
				t.Errorf("done after %s: %d after %s, want %d", c.after, w.Code, took, c.want)
			}
			time.Sleep(time.Hour) // the late done
		})
	}
}

// When Slack closes the connection nobody is answered, and what is being stored
// goes on.
func TestNobodyIsAnsweredWhenSlackGaveUp(t *testing.T) {
	var handed context.Context
	receive := func(ctx context.Context, _ slackchat.Delivery, _ func([]byte, error)) { handed = ctx }
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	w := &silent{ResponseRecorder: httptest.NewRecorder()}
	handler(receive).ServeHTTP(w, signed(noon, jsonType, event).WithContext(ctx))
	if w.wrote {
		t.Error("an answer was written")
	}
	if handed.Err() != nil {
		t.Error("the receiver was called off")
	}
}

type silent struct {
	*httptest.ResponseRecorder
	wrote bool
}

func (s *silent) WriteHeader(int)             { s.wrote = true }
func (s *silent) Write(b []byte) (int, error) { s.wrote = true; return len(b), nil }

// Neither the secret nor what people write is logged.
func TestTheLogIsDiscreet(t *testing.T) {
	var log bytes.Buffer
	options := webhook.Options{
		Secret: secret, Now: func() time.Time { return noon },
		Receive: (&inbox{err: errors.New("the store is gone")}).receive,
		Log:     slog.New(slog.NewTextHandler(&log, &slog.HandlerOptions{Level: slog.LevelDebug})),
	}
	h := webhook.Handler(options)
	unsigned := signed(noon, jsonType, event)
	unsigned.Header.Set("X-Slack-Signature", "v0=0011223344")
	for _, r := range []*http.Request{
		signed(noon, jsonType, event), unsigned,
		signed(noon, jsonType, `{"type":"hub broken"`), signed(noon, jsonType, `{"type":"app_rate_limited","x":"hub broken"}`),
		signed(noon, formType, "text=hub+broken"), signed(noon, formType, "command=hub broken%zz"),
		signed(noon, formType, "payload=hub+broken"), signed(noon.Add(-time.Hour), jsonType, event),
	} {
		serve(h, r)
	}
	for _, word := range []string{secret, "hub", "broken", "0011223344"} {
		if strings.Contains(log.String(), word) {
			t.Errorf("the log says %q:\n%s", word, log.String())
		}
	}
	for _, word := range []string{"the store is gone", "app_rate_limited", "1h0m0s old", "signing secret"} {
		if !strings.Contains(log.String(), word) {
			t.Errorf("the log does not say %q:\n%s", word, log.String())
		}
	}
}

func FuzzHandler(f *testing.F) {
	stamp := noon.Unix()
	f.Add([]byte(event), jsonType, stamp, "", "1", "http_timeout", true)
	f.Add([]byte(event), jsonType, stamp, "v0=00", "", "", false)
	f.Add([]byte(`command=%2Fferrule&text=38+%25`), formType, stamp, "", "", "", true)
	f.Add([]byte(`payload=%7B%22type%22%3A%22block_actions%22%7D`), formType, stamp, "", "", "", true)
	f.Add([]byte(`{"type":"url_verification","challenge":"x"}`), jsonType, stamp-301, "", "", "", true)
	f.Add([]byte("\xff\x00=%"), "a/b; c", int64(-1), "v0=", "-", "\xff", false)
	f.Fuzz(func(t *testing.T, body []byte, contentType string, at int64, forged, num, reason string, genuine bool) {
		in := inbox{}
		r := signed(time.Unix(at, 0), contentType, string(body))
		right := r.Header.Get("X-Slack-Signature")
		if !genuine {
			r.Header.Set("X-Slack-Signature", forged)
		}
		r.Header.Set("X-Slack-Retry-Num", num)
		r.Header.Set("X-Slack-Retry-Reason", reason)
		w := serve(handler(in.receive), r)
		trusted := (genuine || forged == right) && at >= stamp-300 && at <= stamp+300
		if !trusted && (w.Code != 401 || len(in.got) > 0) {
			t.Fatalf("not signed, and answered %d, delivered %v", w.Code, in.got)
		}
		if trusted && w.Code != 200 && w.Code != 400 {
			t.Fatalf("signed, and answered %d", w.Code)
		}
		for _, d := range in.got {
			var object map[string]any
			if err := json.Unmarshal(d.Payload, &object); err != nil || w.Code != 200 {
				t.Fatalf("delivered %q with %d: %v", d.Payload, w.Code, err)
			}
		}
	})
}

func BenchmarkSignedEvent(b *testing.B) {
	h := handler(func(_ context.Context, _ slackchat.Delivery, done func([]byte, error)) { done(nil, nil) })
	body := strings.Replace(event, "more", strings.Repeat("more ", 200), 1)
	r := signed(noon, jsonType, body)
	for b.Loop() {
		r.Body = http.NoBody
		again := r.Clone(b.Context())
		again.Body = readCloser{strings.NewReader(body)}
		w := httptest.NewRecorder()
		h.ServeHTTP(w, again)
		if w.Code != 200 {
			b.Fatal(w.Code)
		}
	}
	b.SetBytes(int64(len(body)))
}

type readCloser struct{ *strings.Reader }

func (readCloser) Close() error { return nil }
