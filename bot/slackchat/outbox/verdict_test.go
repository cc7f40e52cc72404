package outbox

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log"
	"net"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"github.com/slack-go/slack"

	"ferrule/bot/slackchat"
)

// post asks slack-go itself to post to a server, and gives its error.
func post(ctx context.Context, t *testing.T, handler http.HandlerFunc) error {
	t.Helper()
	server := httptest.NewUnstartedServer(handler)
	server.Config.ErrorLog = log.New(io.Discard, "", 0)
	server.Start()
	t.Cleanup(server.Close)
	return postTo(ctx, server.URL)
}

func postTo(ctx context.Context, url string) error {
	_, _, err := slack.New("xoxb-1", slack.OptionAPIURL(url+"/")).PostMessageContext(ctx, "C1", slack.MsgOptionText("x", false))
	return err
}

func says(status int, header, body string) http.HandlerFunc {
	return func(w http.ResponseWriter, _ *http.Request) {
		if header != "" {
			w.Header().Set("Retry-After", header)
		}
		w.WriteHeader(status)
		fmt.Fprint(w, body)
	}
}

// What slack-go makes of an answer is judged as that answer deserves.
func TestJudge(t *testing.T) {
	ok := says(200, "", `{"ok":true,"channel":"C1","ts":"1.000001"}`)
	refusal := func(code string) http.HandlerFunc { return says(200, "", `{"ok":false,"error":"`+code+`"}`) }
	short, cancel := context.WithTimeout(t.Context(), 50*time.Millisecond)
	defer cancel()
	hangs := func(_ http.ResponseWriter, r *http.Request) {
		_, _ = io.Copy(io.Discard, r.Body)
		<-r.Context().Done()
	}
	breaks := func(http.ResponseWriter, *http.Request) { panic(http.ErrAbortHandler) }
	closed := httptest.NewServer(ok)
	closed.Close()
	untrusted := httptest.NewUnstartedServer(ok)
	untrusted.Config.ErrorLog = log.New(io.Discard, "", 0)
	untrusted.StartTLS()
	defer untrusted.Close()

	for name, c := range map[string]struct {
		err     error
		verdict verdict
		wait    time.Duration
		code    string
	}{
		"taken":                       {post(t.Context(), t, ok), posted, 0, ""},
		"429 with a wait":             {post(t.Context(), t, says(429, "7", "")), unsent, 7 * time.Second, "ratelimited"},
		"429 without a wait":          {post(t.Context(), t, says(429, "", "")), unsent, 0, "HTTP 429"},
		"the word for it":             {post(t.Context(), t, refusal("rate_limited")), unsent, 0, "rate_limited"},
		"a limit of the workspace":    {post(t.Context(), t, refusal("message_limit_exceeded")), unsent, 0, "message_limit_exceeded"},
		"the app's network":           {post(t.Context(), t, refusal("accesslimited")), unsent, 0, "accesslimited"},
		"a failure of Slack's":        {post(t.Context(), t, refusal("fatal_error")), doubtful, 0, "fatal_error"},
		"a failure in between":        {post(t.Context(), t, says(502, "", "<html>")), doubtful, 0, "HTTP 502"},
		"an answer that is no JSON":   {post(t.Context(), t, says(200, "", "<html>")), doubtful, 0, "no answer"},
		"no such channel":             {post(t.Context(), t, refusal("channel_not_found")), refused, 0, "channel_not_found"},
		"a message that is wrong":     {post(t.Context(), t, refusal("invalid_blocks")), refused, 0, "invalid_blocks"},
		"a token that is gone":        {post(t.Context(), t, refusal("token_revoked")), fatal, 0, "token_revoked"},
		"a scope that is missing":     {post(t.Context(), t, refusal("missing_scope")), fatal, 0, "missing_scope"},
		"no answer in time":           {post(short, t, hangs), doubtful, 0, "no answer in time"},
		"a connection that breaks":    {post(t.Context(), t, breaks), doubtful, 0, "no answer"},
		"nobody there":                {postTo(t.Context(), closed.URL), unsent, 0, "no connection"},
		"no such name":                {fmt.Errorf("post: %w", &net.OpError{Op: "dial", Err: &net.DNSError{Err: "no such host"}}), unsent, 0, "no connection"},
		"somebody else":               {postTo(t.Context(), untrusted.URL), unsent, 0, "no connection"},
		"what the sender can't read":  {fmt.Errorf("entry 7: %w", slackchat.ErrNeverSent), refused, 0, "never sent"},
		"what nobody has thought of":  {errors.New("xoxb-1"), doubtful, 0, "no answer"},
		"a request that is too large": {post(t.Context(), t, says(413, "", "")), refused, 0, "HTTP 413"},
	} {
		o := judge(c.err)
		if o.verdict != c.verdict || o.wait != c.wait {
			t.Errorf("%s (%v): verdict %d, wait %v; want %d, %v", name, c.err, o.verdict, o.wait, c.verdict, c.wait)
		}
		if c.err != nil && code(o.err) != c.code {
			t.Errorf("%s: the log says %q; want %q", name, code(o.err), c.code)
		}
	}
}
