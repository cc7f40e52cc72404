package webhook_test

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"ferrule/bot/slackchat"
	"ferrule/bot/slackchat/webhook"
)

// The example that Slack publishes, with its secret:
// https://docs.slack.dev/authentication/verifying-requests-from-slack
const (
	publishedSecret    = "8f742231b10e8888abcd99yyyzzz85a5"
	publishedStamp     = "1531420618"
	publishedBody      = "token=xyzz0WbapA4vBCDEFasx0q6G&team_id=T1DC2JH3J&team_domain=testteamnow&channel_id=G8PSS9T3V&channel_name=foobar&user_id=U2CERLKJA&user_name=roadrunner&command=%2Fwebhook-collect&text=&response_url=https%3A%2F%2Fhooks.slack.com%2Fcommands%2FT1DC2JH3J%2F397700885554%2F96rGlfmibIGlgcZRskXaIFfN&trigger_id=398738663015.47445629121.803a0bc887a14d10d2c447fce8b6703c"
	publishedSignature = "v0=a2114d57b48eac39b9ad189dd8316235a7b4a8d21a10bd27519666489c69b503"
)

func TestPublishedSignature(t *testing.T) {
	at := time.Unix(1531420618, 0)
	for _, c := range []struct {
		name   string
		late   time.Duration // our clock, after the signature's
		change func(h http.Header)
		body   string
		secret string
		want   int
	}{
		{name: "at its time", want: 200},
		{name: "five minutes old", late: 300 * time.Second, want: 200},
		{name: "five minutes from now", late: -300 * time.Second, want: 200},
		{name: "older than five minutes", late: 301 * time.Second, want: 401},
		{name: "more than five minutes from now", late: -301 * time.Second, want: 401},
		{name: "a changed body", body: publishedBody + "&", want: 401},
		{name: "an empty body", body: " ", want: 401},
		{name: "another secret", secret: publishedSecret + "5", want: 401},
		{name: "no secret", secret: " ", want: 401},
		{name: "another time", change: set("X-Slack-Request-Timestamp", "1531420619"), want: 401},
		{name: "a time with a sign", change: set("X-Slack-Request-Timestamp", "+1531420618"), want: 401},
		{name: "a time that is no number", change: set("X-Slack-Request-Timestamp", "noon"), want: 401},
		{name: "a time beyond all clocks", change: set("X-Slack-Request-Timestamp", "9223372036854775807"), want: 401},
		{name: "no time", change: drop("X-Slack-Request-Timestamp"), want: 401},
		{name: "no signature", change: drop("X-Slack-Signature"), want: 401},
		{name: "an empty signature", change: set("X-Slack-Signature", ""), want: 401},
		{name: "another scheme", change: set("X-Slack-Signature", "v1"+publishedSignature[2:]), want: 401},
		{name: "no scheme", change: set("X-Slack-Signature", publishedSignature[3:]), want: 401},
		{name: "upper-case digits", change: set("X-Slack-Signature", "v0="+strings.ToUpper(publishedSignature[3:])), want: 401},
		{name: "half a signature", change: set("X-Slack-Signature", publishedSignature[:35]), want: 401},
		{name: "a longer signature", change: set("X-Slack-Signature", publishedSignature+"00"), want: 401},
		{name: "two times", change: add("X-Slack-Request-Timestamp", publishedStamp), want: 401},
		{name: "two signatures", change: add("X-Slack-Signature", publishedSignature), want: 401},
		{name: "a wrong signature before the right one", change: func(h http.Header) {
			h["X-Slack-Signature"] = []string{"v0=00", publishedSignature}
		}, want: 401},
	} {
		t.Run(c.name, func(t *testing.T) {
			in := inbox{}
			h := webhook.Handler(webhook.Options{
				Secret:  strings.TrimSpace(or(c.secret, publishedSecret)),
				Receive: in.receive,
				Now:     func() time.Time { return at.Add(c.late) },
			})
			r := httptest.NewRequest(http.MethodPost, "/", strings.NewReader(strings.TrimSpace(or(c.body, publishedBody))))
			r.Header.Set("Content-Type", formType)
			r.Header.Set("X-Slack-Request-Timestamp", publishedStamp)
			r.Header.Set("X-Slack-Signature", publishedSignature)
			if c.change != nil {
				c.change(r.Header)
			}
			if got := serve(h, r).Code; got != c.want {
				t.Errorf("answered %d, want %d", got, c.want)
			}
			if delivered := len(in.got) > 0; delivered != (c.want == 200) {
				t.Errorf("delivered: %v", in.got)
			}
			if c.want == 200 && in.got[0].Kind != slackchat.SlashCommand {
				t.Errorf("delivered as %s", in.got[0].Kind)
			}
		})
	}
}

// Anybody can sign with the empty secret, so that it opens nothing.
func TestNothingPassesWithoutASecret(t *testing.T) {
	in := inbox{}
	h := webhook.Handler(webhook.Options{Receive: in.receive, Now: func() time.Time { return noon }})
	r := signed(noon, jsonType, `{"type":"event_callback"}`)
	r.Header.Set("X-Slack-Signature", signature("", r.Header.Get("X-Slack-Request-Timestamp"), `{"type":"event_callback"}`))
	if w := serve(h, r); w.Code != 401 || len(in.got) > 0 {
		t.Errorf("answered %d, delivered %d", w.Code, len(in.got))
	}
}

// A time is digits, even where the signature covers something else.
func TestOnlyDigitsAreATime(t *testing.T) {
	digits := fmt.Sprint(noon.Unix())
	for stamp, want := range map[string]int{
		digits: 200, "0" + digits: 200, "+" + digits: 401, "-" + digits: 401, digits + ".0": 401, "0x6925": 401, "": 401, "99999999999999999999": 401,
	} {
		in := inbox{}
		r := signed(noon, jsonType, event)
		r.Header.Set("X-Slack-Request-Timestamp", stamp)
		r.Header.Set("X-Slack-Signature", signature(secret, stamp, event))
		if w := serve(handler(in.receive), r); w.Code != want || len(in.got) > 0 != (want == 200) {
			t.Errorf("%q: answered %d, want %d", stamp, w.Code, want)
		}
	}
}

func or(s, otherwise string) string {
	if s == "" {
		return otherwise
	}
	return s
}

func set(name, value string) func(http.Header) {
	return func(h http.Header) { h.Set(name, value) }
}

func add(name, value string) func(http.Header) {
	return func(h http.Header) { h.Add(name, value) }
}

func drop(name string) func(http.Header) {
	return func(h http.Header) { h.Del(name) }
}
