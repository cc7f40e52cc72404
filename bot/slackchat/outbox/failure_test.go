package outbox_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"testing"
	"time"

	"github.com/slack-go/slack"

	"ferrule/bot/slackchat"
	"ferrule/bot/slackchat/outbox"
	"ferrule/store"
)

// A refusal takes the entry out, and the next one goes on.
func TestRefusal(t *testing.T) {
	bubble(t, func(t *testing.T, s *watched, c *channels, begun time.Time) {
		errs := map[string]error{
			"a1": slack.SlackErrorResponse{Err: "is_archived"},
			"a2": fmt.Errorf("read the body: %w", slackchat.ErrNeverSent),
			"a3": slack.StatusCodeError{Code: 413},
		}
		c.answer = func(e store.Leased, _ int) answer {
			err := errs[string(e.Body)]
			return answer{in: err == nil, err: err}
		}
		var refused []string
		var log bytes.Buffer
		put(t, s, out("CA", "a1"), out("CA", "a2"), out("CA", "a3"), out("CA", "a4"))
		w := start(t, s, c, func(o *outbox.Options) {
			o.Refused = func(e store.Leased, err error) {
				if fmt.Sprint(err) != fmt.Sprint(errs[string(e.Body)]) {
					t.Errorf("%s was refused for %v", e.Body, err)
				}
				refused = append(refused, string(e.Body))
			}
			o.Log = slog.New(slog.NewTextHandler(&log, nil))
		})
		sleep(time.Minute)
		if err := w.stop(); err != nil {
			t.Error(err)
		}
		want(t, "CA", c.arrived("CA", begun), "a4@3")
		want(t, "refused", strings.Join(refused, " "), "a1 a2 a3")
		want(t, "left", left(t, s), "")
		for _, word := range []string{"code=is_archived", `code="never sent"`, `code="HTTP 413"`, "channel=CA", "entry=1"} {
			if !strings.Contains(log.String(), word) {
				t.Errorf("the log lacks %s:\n%s", word, &log)
			}
		}
	})
}

// late is a store whose answers to leases take a while to arrive after a time.
type late struct {
	*watched
	from time.Time
}

func (l *late) Lease(ctx context.Context, now time.Time, lease time.Duration, n int) ([]store.Leased, error) {
	leased, err := l.watched.Lease(ctx, now, lease, n)
	if time.Now().After(l.from) {
		time.Sleep(10 * time.Second)
	}
	return leased, err
}

// An entry whose lease ended, and which is sent while the store hands it out
// again, is not taken for a new one.
func TestSentWhileItIsHandedOutAgain(t *testing.T) {
	bubble(t, func(t *testing.T, s *watched, c *channels, begun time.Time) {
		c.answer = func(store.Leased, int) answer { return answer{in: true, takes: 130 * time.Second} }
		put(t, s, out("CA", "a1"))
		w := start(t, &late{s, begun.Add(time.Minute)}, c, func(o *outbox.Options) { o.Poll = 126 * time.Second })
		sleep(10 * time.Minute)
		if err := w.stop(); err != nil {
			t.Error(err)
		}
		want(t, "CA", c.arrived("CA", begun), "a1@130")
		want(t, "looked", fmt.Sprint(c.looks), "map[]")
	})
}

// Without a token nothing is sent and nothing is lost; what is under way ends.
func TestFatal(t *testing.T) {
	for _, code := range []string{"token_revoked", "missing_scope"} {
		for _, looking := range []bool{false, true} {
			bubble(t, func(t *testing.T, s *watched, c *channels, begun time.Time) {
				c.answer = func(e store.Leased, try int) answer {
					switch {
					case e.Channel != "CA":
						return answer{in: true, takes: 3 * time.Second}
					case looking:
						return answer{err: errors.New("connection reset")}
					}
					return answer{takes: time.Second, err: slack.SlackErrorResponse{Err: code}}
				}
				c.look = func(store.Leased, int) error { return slack.SlackErrorResponse{Err: code} }
				put(t, s, out("CA", "a1"), out("CA", "a2"), out("CB", "b1"), out("CB", "b2"))
				w := start(t, s, c)
				sleep(time.Minute)
				var fatal *slackchat.Fatal
				<-w.done
				if err := w.err; !errors.As(err, &fatal) || fatal.Code != code {
					t.Fatalf("looking %v: Run returned %v; want %s", looking, err, code)
				}
				want(t, "CA", c.arrived("CA", begun), "")
				want(t, "CB", c.arrived("CB", begun), "b1@3")
				want(t, "left", left(t, s), "a1 a2 b2")
			})
		}
	}
}

// The store fails for a while: what was sent is not sent again and is marked
// later, what is held goes out, what is new follows.
func TestStoreFailsForAWhile(t *testing.T) {
	bubble(t, func(t *testing.T, s *watched, c *channels, begun time.Time) {
		put(t, s, out("CA", "a1"), out("CA", "a2"))
		w := start(t, s, c)
		sleep(500 * time.Millisecond)
		s.failing(func(string) error { return fmt.Errorf("disk: %w", store.ErrUnavailable) })
		put(t, s, out("CA", "a3"), out("CB", "b1"))
		for range 300 { // many are told in vain
			w.Kick()
			sleep(time.Second)
		}
		want(t, "CA while it fails", c.arrived("CA", begun), "a1@0 a2@1")
		if n := s.count("lease"); n > 15 {
			t.Errorf("%d leases were tried in five minutes of failure", n)
		}
		s.failing(nil)
		sleep(2 * time.Minute)
		want(t, "left", left(t, s), "")
		if err := w.stop(); err != nil {
			t.Error(err)
		}
		got := c.arrived("CA", begun)
		if !strings.HasPrefix(got, "a1@0 a2@1 a3@") || strings.Count(got, "@") != 3 || len(c.looks) > 0 {
			t.Errorf("CA: %q, looked %v", got, c.looks)
		}
	})
}

// What was sent while the store took no marks is known until it takes them,
// though its lease ends and it is handed out again; also by a stop.
func TestStoreTakesNoMarks(t *testing.T) {
	bubble(t, func(t *testing.T, s *watched, c *channels, begun time.Time) {
		put(t, s, out("CA", "a1"), out("CA", "a2"))
		s.failing(only("sent"))
		w := start(t, s, c)
		sleep(10 * time.Minute)
		s.failing(nil)
		if err := w.stop(); err != nil {
			t.Error(err)
		}
		want(t, "CA", c.arrived("CA", begun), "a1@0 a2@1")
		want(t, "left", left(t, s), "")
		want(t, "looked", fmt.Sprint(c.looks), "map[]")
	})
}

// No log line holds what a message says.
func TestLogsHoldNoBodies(t *testing.T) {
	bubble(t, func(t *testing.T, s *watched, c *channels, begun time.Time) {
		answers := []error{errors.New("post PRIVATE"), slack.StatusCodeError{Code: 500}, &slack.RateLimitedError{RetryAfter: 1}, context.DeadlineExceeded, slack.SlackErrorResponse{Err: "no_text"}}
		c.answer = func(_ store.Leased, try int) answer { return answer{err: answers[try-1]} }
		var log bytes.Buffer
		put(t, s, out("CA", "PRIVATE"))
		w := start(t, s, c, func(o *outbox.Options) { o.Log = slog.New(slog.NewTextHandler(&log, nil)) })
		sleep(time.Minute)
		if err := w.stop(); err != nil {
			t.Error(err)
		}
		if strings.Contains(log.String(), "PRIVATE") || strings.Count(log.String(), "tries again") != 4 {
			t.Errorf("the log:\n%s", &log)
		}
	})
}
