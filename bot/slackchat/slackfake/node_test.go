package slackfake_test

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"ferrule/bot/slackchat/slackfake"

	"github.com/slack-go/slack"
)

// installed installs Slack's own clients and types, and our scripts for them, in
// a folder. It skips where npm is not there, or what it fetches can't be reached;
// in CI that is a failure.
func installed(t *testing.T) string {
	t.Helper()
	if testing.Short() {
		t.Skip("-short: installing Slack's clients takes some seconds")
	}
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS(filepath.Join("testdata", "node"))); err != nil {
		t.Fatal(err)
	}
	cmd := exec.CommandContext(t.Context(), "npm", "ci", "--no-audit", "--no-fund", "--ignore-scripts")
	cmd.Dir = dir
	if out, err := cmd.CombinedOutput(); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatalf("npm ci: %v\n%s", err, out)
		}
		t.Skipf("Slack's clients can't be installed here (npm ci: %v)", err)
	}
	return dir
}

// script runs one of the scripts and keeps the lines that it prints.
type script struct {
	mu    sync.Mutex
	lines []string
	errs  strings.Builder
}

// start runs a script; quiet is one that must have nothing to complain about.
func start(t *testing.T, fake *slackfake.Server, dir, name string, quiet bool) *script {
	t.Helper()
	s := &script{}
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Minute)
	cmd := exec.CommandContext(ctx, "node", name, fake.URL(), fake.AppToken(), fake.BotToken())
	cmd.Dir, cmd.Stderr = dir, &s.errs
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	read := make(chan struct{})
	go func() {
		defer close(read)
		for lines := bufio.NewScanner(out); lines.Scan(); {
			s.mu.Lock()
			s.lines = append(s.lines, lines.Text())
			s.mu.Unlock()
		}
	}()
	t.Cleanup(func() {
		_ = in.Close()
		<-read
		if err := cmd.Wait(); err != nil || quiet && s.errs.Len() > 0 {
			t.Errorf("%s: %v\n%s", name, err, s.errs.String())
		}
		cancel()
	})
	wait(t, fake, name+" connecting", func() bool { return fake.Connections() == 1 })
	return s
}

// seen gives what a script said that it saw, of one text.
func (s *script) seen(text string) (out []string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, line := range s.lines {
		var l struct {
			Type, Text string
			RetryNum   *int   `json:"retry_num"`
			Reason     string `json:"retry_reason"`
			Accepts    bool   `json:"accepts_response_payload"`
		}
		if json.Unmarshal([]byte(line), &l) == nil && l.Text == text && l.Type != "" {
			retry := "-"
			if l.RetryNum != nil {
				retry = fmt.Sprint(*l.RetryNum)
			}
			out = append(out, strings.TrimSpace(fmt.Sprint(l.Type, " ", retry, " ", l.Reason)))
		}
	}
	return out
}

// The stand-in is held to Slack's own clients and types, by what of them runs here.
func TestSlacksOwnSoftware(t *testing.T) {
	dir := installed(t)
	t.Run("its socket client runs", func(t *testing.T) { socketClient(t, dir) })
	t.Run("its framework runs", func(t *testing.T) { framework(t, dir) })
	t.Run("its types allow what is sent", func(t *testing.T) { payloadTypes(t, dir) })
	t.Run("its comments name the limits", func(t *testing.T) { publishedLimits(t, dir) })
}

// Slack's own SocketModeClient for Node gets everything, sees retries as such,
// and comes back after a disconnect.
func socketClient(t *testing.T, dir string) {
	o := quick()
	o.AckDeadline = 300 * time.Millisecond
	fake := workspace(t, o)
	s := start(t, fake, dir, "socket.js", false) // it complains of the cut
	acked := func(id string) func() bool {
		return func() bool { d, _ := fake.Delivery(id); return !d.Acked.IsZero() }
	}
	ok[string](t)(fake.Say(direct, ada, "hello", ""))
	wait(t, fake, "hello", func() bool { return fake.Undelivered() == 0 })
	ok[string](t)(fake.Say(direct, ada, "no ack", ""))
	wait(t, fake, "the last retry", func() bool { return fake.Undelivered() == 0 })
	for begun := time.Now(); len(s.seen("no ack")) < 4 && time.Since(begun) < 10*time.Second; {
		time.Sleep(10 * time.Millisecond) // what it prints comes when it comes
	}
	if got, want := s.seen("no ack"), []string{"events_api 0", "events_api 1 timeout", "events_api 2 timeout", "events_api 3 timeout"}; !slices.Equal(got, want) {
		t.Errorf("deliveries %q, want %q", got, want)
	}
	ok[string](t)(fake.Slash(faults, ada, "/ferrule", "status"))
	wait(t, fake, "an answer", func() bool { return len(fake.Ephemerals(faults)) == 1 })
	_, ts, err := client(fake).PostMessage(faults, slack.MsgOptionText("x", false), slack.MsgOptionBlocks(
		slack.NewActionBlock("row", slack.NewButtonBlockElement("fill", "1", slack.NewTextBlockObject("plain_text", "x", false, false)))))
	if err != nil {
		t.Fatal(err)
	}
	wait(t, fake, "a press", acked(ok[string](t)(fake.Press(faults, ts, ada, "fill"))))
	before := len(fake.Connects())
	fake.Disconnect("refresh_requested")
	wait(t, fake, "coming back", func() bool { return len(fake.Connects()) == before+2 && fake.Connections() == 1 })
	ok[string](t)(fake.Say(direct, ada, "welcome back", ""))
	wait(t, fake, "hello again", func() bool { return fake.Undelivered() == 0 })
	fake.Cut()
	wait(t, fake, "coming back after a cut", func() bool { return fake.Connections() == 1 })
	ok[string](t)(fake.Say(direct, ada, "after a cut", ""))
	wait(t, fake, "hello again", func() bool { return fake.Undelivered() == 0 })
	clean(t, fake)
}

// A whole bot on Slack's own framework runs against it with no protocol error.
func framework(t *testing.T, dir string) {
	fake := workspace(t, slackfake.Options{})
	start(t, fake, dir, "bolt.js", true)
	ts := ok[string](t)(fake.Say(faults, ada, fake.Mention()+" the keypad is dead", ""))
	wait(t, fake, "a reply", func() bool { return len(fake.Replies(faults, ts)) == 1 })
	ok[string](t)(fake.Press(faults, fake.Replies(faults, ts)[0].TS, ben, "fill"))
	wait(t, fake, "a form", func() bool { return len(fake.Views(ben)) == 1 })
	id := fake.Views(ben)[0].ID
	ok[string](t)(fake.Submit(ben, id, map[string]string{"level": "140"}))
	wait(t, fake, "an error in the form", func() bool { return fake.Views(ben)[0].Errors["level"] == "at most 100" })
	ok[string](t)(fake.Submit(ben, id, map[string]string{"level": "38"}))
	wait(t, fake, "the form closing", func() bool { return len(fake.Views(ben)) == 0 })
	ok[string](t)(fake.Slash(faults, ada, "/ferrule", "status"))
	wait(t, fake, "an answer", func() bool { return len(fake.Ephemerals(faults)) == 1 })
	ok[string](t)(fake.Slash(faults, ada, "/ferrule", "chart"))
	wait(t, fake, "a file", func() bool {
		return slices.ContainsFunc(fake.Messages(faults), func(m slackfake.Message) bool { return m.Subtype == "file_share" && m.Text == "the week" })
	})
	ok[string](t)(fake.OpenHome(ada))
	wait(t, fake, "a home page", func() bool { _, is := fake.Home(ada); return is })
	wait(t, fake, "all acknowledged", func() bool { return fake.Undelivered() == 0 })
	clean(t, fake)
}
