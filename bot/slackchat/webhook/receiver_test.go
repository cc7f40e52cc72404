package webhook_test

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"ferrule/bot/slackchat"
	"ferrule/bot/slackchat/webhook"
)

// official starts Slack's own receiver (@slack/bolt, HTTPReceiver) and gives
// its address. It skips where npm is not there, or what it fetches can't be
// reached; in CI that is a failure.
func official(t *testing.T) string {
	t.Helper()
	if testing.Short() {
		t.Skip("-short: installing Slack's receiver takes some seconds")
	}
	dir := t.TempDir()
	for _, name := range []string{"package.json", "package-lock.json", "receiver.js"} {
		raw, err := os.ReadFile(filepath.Join("testdata", "node", name))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, name), raw, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	npm := exec.CommandContext(t.Context(), "npm", "ci", "--no-audit", "--no-fund", "--ignore-scripts")
	npm.Dir = dir
	if out, err := npm.CombinedOutput(); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatalf("npm ci: %v\n%s", err, out)
		}
		t.Skipf("Slack's receiver can't be installed here (npm ci: %v)", err)
	}
	return start(t, dir)
}

// start runs the receiver until the test ends.
func start(t *testing.T, dir string) string {
	t.Helper()
	node := exec.CommandContext(t.Context(), "node", "receiver.js")
	node.Dir, node.Stderr = dir, os.Stderr
	node.Env = append(os.Environ(), "SECRET="+secret)
	stop, err := node.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := node.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := node.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = stop.Close(); _ = node.Wait() })
	port, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatalf("the receiver does not start: %v", err)
	}
	return "http://127.0.0.1:" + strings.TrimSpace(port) + "/slack"
}

// ours answers, as receiver.js does, with what it understood.
func ours(t *testing.T) string {
	t.Helper()
	server := httptest.NewServer(webhook.Handler(webhook.Options{Secret: secret, Receive: echo}))
	t.Cleanup(server.Close)
	return server.URL + "/slack"
}

func echo(_ context.Context, d slackchat.Delivery, done func([]byte, error)) {
	said := map[string]any{"body": d.Payload}
	if d.Attempt > 0 {
		said["num"], said["reason"] = d.Attempt, d.Reason
	}
	done(json.Marshal(said))
}

// said is what came back, with JSON read.
type said struct {
	Status int
	Type   string
	Body   any
}

func post(t *testing.T, address string, header http.Header, body string) said {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, address, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	r.Header = header.Clone()
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	raw, err := io.ReadAll(answer.Body)
	if err != nil {
		t.Fatal(err)
	}
	s := said{Status: answer.StatusCode, Type: answer.Header.Get("Content-Type")}
	if len(bytes.TrimSpace(raw)) > 0 && json.Unmarshal(raw, &s.Body) != nil {
		s.Body = string(raw)
	}
	return s
}

// sample is a request; official is the status of Slack's receiver where it is
// known to differ from ours.
type sample struct {
	name, contentType, body string
	age                     time.Duration
	change                  func(http.Header)
	want, official          int
}

func samples() []sample {
	command := url.Values{"command": {"/ferrule"}, "text": {"Füllstand 38 % 📶 & <b>"}, "user_id": {"U0ADA"}}.Encode()
	action := url.Values{"payload": {`{"type":"block_actions","team":{"id":"T0LANTERN"},"actions":[{"value":"17 3 38 %"}]}`}}.Encode()
	all := []sample{
		{name: "an event", contentType: jsonType, body: event, want: 200},
		{name: "an event in many words", contentType: jsonType, body: strings.Replace(event, "more", "38 % größer 📶 \\ud83d\\udce1", 1), want: 200},
		{name: "an event again", contentType: jsonType, body: event, change: func(h http.Header) {
			h.Set("X-Slack-Retry-Num", "2")
			h.Set("X-Slack-Retry-Reason", "http_timeout")
		}, want: 200},
		{name: "an event that says no type", contentType: "", body: event, want: 200},
		{name: "an event that says text", contentType: "text/plain", body: event, want: 200},
		{name: "the challenge", contentType: jsonType, body: `{"type":"url_verification","challenge":"3eZ"}`, want: 200},
		{name: "a command", contentType: formType, body: command, want: 200},
		{name: "a button", contentType: formType, body: action, want: 200},
		{name: "a try of the certificate", contentType: formType, body: "ssl_check=1", want: 200},
		{name: "broken JSON", contentType: jsonType, body: event[1:], want: 400},
		{name: "a payload that is broken", contentType: formType, body: "payload=%7B", want: 400},
		{name: "a command that says it is JSON", contentType: jsonType, body: command, want: 400},
		{name: "nothing", contentType: jsonType, body: "", want: 400},
		{name: "too much", contentType: jsonType, body: strings.Repeat(" ", 1<<20) + event, want: 413},
	}
	for _, s := range signatures() {
		s.contentType, s.body = jsonType, event
		all = append(all, s)
	}
	return append(all, differences(command)...)
}

// signatures are the requests that differ by how they are signed.
func signatures() []sample {
	rewrite := func(f func(string) string) func(http.Header) {
		return func(h http.Header) { h.Set("X-Slack-Signature", f(h.Get("X-Slack-Signature"))) }
	}
	return []sample{
		{name: "nearly five minutes old", age: 290 * time.Second, want: 200},
		{name: "nearly five minutes from now", age: -290 * time.Second, want: 200},
		{name: "older than five minutes", age: 310 * time.Second, want: 401},
		{name: "signed with another secret", change: func(h http.Header) {
			h.Set("X-Slack-Signature", signature("another", h.Get("X-Slack-Request-Timestamp"), event))
		}, want: 401},
		{name: "signed for another time", change: set("X-Slack-Request-Timestamp", fmt.Sprint(time.Now().Unix()-7)), want: 401},
		{name: "another scheme", change: rewrite(func(s string) string { return "v1" + s[2:] }), want: 401},
		{name: "upper-case digits", change: rewrite(func(s string) string { return "v0=" + strings.ToUpper(s[3:]) }), want: 401},
		{name: "half a signature", change: rewrite(func(s string) string { return s[:30] }), want: 401},
		{name: "two signatures", change: func(h http.Header) { h.Add("X-Slack-Signature", h.Get("X-Slack-Signature")) }, want: 401},
		{name: "no signature", change: drop("X-Slack-Signature"), want: 401},
		{name: "a time that is no number", change: func(h http.Header) {
			h.Set("X-Slack-Request-Timestamp", "noon")
			h.Set("X-Slack-Signature", signature(secret, "noon", event))
		}, want: 401},
		{name: "no time", change: drop("X-Slack-Request-Timestamp"), want: 401},
	}
}

// differences are those that are known and wanted: we are the stricter one,
// but for a form that says its character set.
func differences(command string) []sample {
	return []sample{
		{name: "more than five minutes from now", contentType: jsonType, body: event, age: -310 * time.Second, want: 401, official: 200},
		{name: "something after the signature", contentType: jsonType, body: event, change: func(h http.Header) {
			h.Set("X-Slack-Signature", h.Get("X-Slack-Signature")+"=more")
		}, want: 401, official: 200},
		{name: "an unsigned try of the certificate", contentType: formType, body: "ssl_check=1", change: drop("X-Slack-Signature"), want: 401, official: 200},
		{name: "a form that says its character set", contentType: formType + "; charset=utf-8", body: command, want: 200, official: 400},
	}
}

// Requests as we sign them are taken by Slack's own receiver, and both
// understand, refuse and answer the same.
func TestSlacksOwnReceiverAgrees(t *testing.T) {
	theirs, here := official(t), ours(t)
	for _, s := range samples() {
		t.Run(s.name, func(t *testing.T) {
			header := signed(time.Now().Add(-s.age), s.contentType, s.body).Header
			if s.contentType == "" {
				header.Del("Content-Type")
			}
			if s.change != nil {
				s.change(header)
			}
			a, b := post(t, here, header, s.body), post(t, theirs, header, s.body)
			if a.Status != s.want {
				t.Errorf("we answer %d, want %d", a.Status, s.want)
			}
			if s.official != 0 {
				if b.Status != s.official {
					t.Errorf("Slack's receiver answers %d, and was known to answer %d", b.Status, s.official)
				}
				return
			}
			if d := cmp.Diff(b, a); d != "" {
				t.Errorf("Slack's receiver (-) and ours (+):\n%s", d)
			}
		})
	}
}
