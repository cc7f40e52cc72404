package slackfake_test

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"ferrule/bot/slackchat/slackfake"

	"github.com/slack-go/slack"
)

// The published example of a signed request:
// https://docs.slack.dev/authentication/verifying-requests-from-slack
func TestSignatureIsThePublishedOne(t *testing.T) {
	body := "token=xyzz0WbapA4vBCDEFasx0q6G&team_id=T1DC2JH3J&team_domain=testteamnow&channel_id=G8PSS9T3V&channel_name=foobar&user_id=U2CERLKJA&user_name=roadrunner&command=%2Fwebhook-collect&text=&response_url=https%3A%2F%2Fhooks.slack.com%2Fcommands%2FT1DC2JH3J%2F397700885554%2F96rGlfmibIGlgcZRskXaIFfN&trigger_id=398738663015.47445629121.803a0bc887a14d10d2c447fce8b6703c"
	got := slackfake.Sign("8f742231b10e8888abcd99yyyzzz85a5", "1531420618", []byte(body))
	if want := "v0=a2114d57b48eac39b9ad189dd8316235a7b4a8d21a10bd27519666489c69b503"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

// endpoint is a bot of HTTP mode that checks signatures by slack-go and keeps
// what it got.
type endpoint struct {
	t      *testing.T
	secret string
	answer func(kind string, n int) (status int, body string)

	mu  sync.Mutex
	got []received
}

type received struct{ kind, retry, reason, body string }

func (e *endpoint) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	raw, _ := io.ReadAll(r.Body)
	v, err := slack.NewSecretsVerifier(r.Header, e.secret)
	if err == nil {
		_, _ = v.Write(raw)
		err = v.Ensure()
	}
	if err != nil {
		e.t.Errorf("a request is not signed: %v", err)
		w.WriteHeader(http.StatusUnauthorized)
		return
	}
	if strings.Contains(string(raw), "url_verification") {
		var in struct{ Challenge string }
		_ = json.Unmarshal(raw, &in)
		_, _ = io.WriteString(w, in.Challenge)
		return
	}
	kind := "event"
	if r.Header.Get("Content-Type") == asForm {
		r.Body = io.NopCloser(strings.NewReader(string(raw)))
		if _ = r.ParseForm(); r.PostForm.Has("payload") {
			kind, raw = "interaction", []byte(r.PostForm.Get("payload"))
		} else {
			kind, raw = "command", []byte(r.PostForm.Get("command")+" "+r.PostForm.Get("text"))
		}
	}
	e.mu.Lock()
	e.got = append(e.got, received{kind, r.Header.Get("X-Slack-Retry-Num"), r.Header.Get("X-Slack-Retry-Reason"), string(raw)})
	n := len(e.got)
	e.mu.Unlock()
	status, body := e.answer(kind, n)
	w.WriteHeader(status)
	_, _ = io.WriteString(w, body)
}

func (e *endpoint) all() []received {
	e.mu.Lock()
	defer e.mu.Unlock()
	return append([]received(nil), e.got...)
}

func serve(t *testing.T, fake *slackfake.Server, answer func(kind string, n int) (int, string)) *endpoint {
	t.Helper()
	e := &endpoint{t: t, secret: fake.SigningSecret(), answer: answer}
	server := httptest.NewServer(e)
	t.Cleanup(server.Close)
	if err := fake.DeliverTo(t.Context(), server.URL); err != nil {
		t.Fatal(err)
	}
	return e
}

func TestRequestsAreSignedAndRetried(t *testing.T) {
	fake := workspace(t, quick())
	e := serve(t, fake, func(_ string, n int) (int, string) {
		switch n {
		case 1:
			return 500, ""
		case 2:
			time.Sleep(100 * time.Millisecond) // longer than the deadline
		}
		return 200, ""
	})
	ok[string](t)(fake.Say(direct, ada, "hello", ""))
	wait(t, fake, "an acknowledgement", func() bool { return fake.Undelivered() == 0 })
	var got []string
	for _, r := range e.all() {
		got = append(got, r.kind+" "+r.retry+" "+r.reason)
	}
	if want := "event  |event 1 http_error|event 2 http_timeout"; strings.Join(got, "|") != want {
		t.Errorf("requests %q, want %q", got, want)
	}
	clean(t, fake)
}

func TestCommandsAndFormsOverHTTP(t *testing.T) {
	fake := workspace(t, slackfake.Options{})
	e := serve(t, fake, func(kind string, _ int) (int, string) {
		switch kind {
		case "command":
			return 200, "plain words"
		case "interaction":
			return 200, `{"response_action":"errors","errors":{"level":"no"}}`
		}
		return 200, "ignored"
	})
	ok[string](t)(fake.Slash(faults, ada, "/ferrule", "38 % & ünder"))
	wait(t, fake, "an answer", func() bool { return len(fake.Ephemerals(faults)) == 1 })
	if got := fake.Ephemerals(faults)[0].Text; got != "plain words" {
		t.Errorf("the answer is %q", got)
	}
	if got := e.all()[0].body; got != "/ferrule 38 % &amp; ünder" {
		t.Errorf("the command came as %q", got)
	}
	if _, err := client(fake).OpenView(trigger(t, fake), form()); err != nil {
		t.Fatal(err)
	}
	ok[string](t)(fake.Submit(ada, fake.Views(ada)[0].ID, map[string]string{"level": "1"}))
	wait(t, fake, "an error in the form", func() bool { return fake.Views(ada)[0].Errors["level"] == "no" })
	ok[string](t)(fake.Say(direct, ada, "hello", ""))
	wait(t, fake, "all acknowledged", func() bool { return fake.Undelivered() == 0 })
	clean(t, fake)
}

func TestAddressesAreVerified(t *testing.T) {
	fake := workspace(t, quick())
	for _, answer := range []string{"", "something", `{"challenge":"x"}`} {
		server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { _, _ = io.WriteString(w, answer) }))
		if err := fake.DeliverTo(t.Context(), server.URL); err == nil {
			t.Errorf("an address that answers %q is taken", answer)
		}
		server.Close()
		if err := fake.DeliverTo(t.Context(), server.URL); err == nil {
			t.Error("an address where nobody answers is taken")
		}
	}
}

func TestNoRetryHeaderEndsRetries(t *testing.T) {
	fake := workspace(t, quick())
	mux := http.NewServeMux()
	calls := 0
	mux.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		raw, _ := io.ReadAll(r.Body)
		var in struct{ Challenge string }
		if _ = json.Unmarshal(raw, &in); in.Challenge != "" {
			fmt.Fprintf(w, `{"challenge":%q}`, in.Challenge)
			return
		}
		calls++
		w.Header().Set("X-Slack-No-Retry", "1")
		w.WriteHeader(500)
	})
	server := httptest.NewServer(mux)
	defer server.Close()
	if err := fake.DeliverTo(t.Context(), server.URL); err != nil {
		t.Fatal(err)
	}
	ok[string](t)(fake.Say(direct, ada, "hello", ""))
	wait(t, fake, "giving up", func() bool { return fake.Undelivered() == 0 })
	if d := fake.Deliveries()[0]; d.Failed != "http_error" || calls != 1 {
		t.Errorf("%d calls, %+v", calls, d)
	}
}

// What waited for a socket goes to the address that is entered.
func TestWhatWaitsGoesToTheAddress(t *testing.T) {
	fake := workspace(t, slackfake.Options{})
	ok[string](t)(fake.Say(direct, ada, "early", ""))
	e := serve(t, fake, func(string, int) (int, string) { return 200, "" })
	wait(t, fake, "an acknowledgement", func() bool { return fake.Undelivered() == 0 })
	if got := e.all(); len(got) != 1 || got[0].retry != "" {
		t.Errorf("requests: %+v", got)
	}
}
