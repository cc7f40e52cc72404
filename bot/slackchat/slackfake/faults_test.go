package slackfake_test

import (
	"encoding/json"
	"errors"
	"net/url"
	"testing"
	"time"

	"ferrule/bot/slackchat/slackfake"

	"github.com/slack-go/slack"
)

func TestFaultsOfCalls(t *testing.T) {
	fake := workspace(t, slackfake.Options{})
	api := client(fake)
	post := func() error {
		_, _, err := api.PostMessage(faults, slack.MsgOptionText("x", false))
		return err
	}
	fake.Fail("chat.postMessage", slackfake.Fault{Times: 2, Error: "fatal_error"})
	fake.Fail("chat.postMessage", slackfake.Fault{Status: 429, RetryAfter: 30 * time.Second})
	fake.Fail("chat.postMessage", slackfake.Fault{Status: 429, NoRetryAfter: true})
	fake.Fail("chat.postMessage", slackfake.Fault{Status: 503})
	for i, want := range []string{"fatal_error", "fatal_error", "429 after 30s"} {
		if got := code(post()); got != want {
			t.Errorf("call %d gives %q, want %q", i, got, want)
		}
	}
	for _, want := range []int{429, 503} {
		var status slack.StatusCodeError
		if err := post(); !errors.As(err, &status) || status.Code != want {
			t.Errorf("got %v, want the status %d", err, want)
		}
	}
	if n := len(fake.Messages(faults)); n != 0 {
		t.Errorf("%d messages were posted by calls that failed", n)
	}
	fake.Fail("chat.postMessage", slackfake.Fault{Lost: true})
	if err := post(); err == nil || code(err) == "" {
		t.Error("a lost answer is no error")
	}
	if n := len(fake.Messages(faults)); n != 1 {
		t.Errorf("a call whose answer was lost made %d messages, want 1", n)
	}
	fake.Fail("*", slackfake.Fault{Delay: 30 * time.Millisecond})
	begun := time.Now()
	if err := post(); err != nil || time.Since(begun) < 30*time.Millisecond {
		t.Errorf("a slow call: %v in %v", err, time.Since(begun))
	}
	if n := fake.Calls("chat.postMessage"); n != 7 {
		t.Errorf("%d calls are counted, want 7", n)
	}
}

func TestResponseURLIsGoodFiveTimesInHalfAnHour(t *testing.T) {
	now := time.Unix(1_800_000_000, 0)
	fake := workspace(t, slackfake.Options{Now: func() time.Time { return now }})
	address := func() string {
		id := ok[string](t)(fake.Slash(faults, ada, "/ferrule", "status"))
		d, _ := fake.Delivery(id)
		var p struct {
			ResponseURL string `json:"response_url"`
		}
		if err := json.Unmarshal(d.Payload, &p); err != nil {
			t.Fatal(err)
		}
		return p.ResponseURL
	}
	one := address()
	for i := range 6 {
		err := slack.PostWebhook(one, &slack.WebhookMessage{Text: "x", ResponseType: "ephemeral"})
		if (err == nil) != (i < 5) {
			t.Errorf("use %d: %v", i+1, err)
		}
	}
	if n := len(fake.Ephemerals(faults)); n != 5 {
		t.Errorf("%d answers were shown", n)
	}
	two := address()
	now = now.Add(30*time.Minute + time.Second)
	if err := slack.PostWebhook(two, &slack.WebhookMessage{Text: "x"}); err == nil {
		t.Error("a response URL is good for more than half an hour")
	}
	if _, err := url.Parse(one); err != nil {
		t.Error(err)
	}
	three := address()
	_, _, err := client(fake).PostMessage(faults, slack.MsgOptionText("to all", false), slack.MsgOptionResponseURL(three, "in_channel"))
	if err != nil || len(fake.Messages(faults)) != 1 {
		t.Errorf("an answer to all: %v, %d messages", err, len(fake.Messages(faults)))
	}
}
