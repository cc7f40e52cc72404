package outbox_test

import (
	"errors"
	"fmt"
	"net"
	"runtime"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/slack-go/slack"

	"ferrule/bot/slackchat/outbox"
	"ferrule/store"
)

// bubble runs a test on a clock of its own, with a store and channels.
func bubble(t *testing.T, f func(t *testing.T, s *watched, c *channels, begun time.Time)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		f(t, &watched{Store: store.NewMemory()}, newChannels(), time.Now())
	})
}

func want(t *testing.T, what, got, want string) {
	t.Helper()
	if got != want {
		t.Errorf("%s: %q; want %q", what, got, want)
	}
}

// A channel's entries go out in order and a second apart; channels don't wait
// for each other, and the first of an idle channel does not wait at all.
func TestOrderAndPace(t *testing.T) {
	bubble(t, func(t *testing.T, s *watched, c *channels, begun time.Time) {
		c.answer = func(store.Leased, int) answer { return answer{in: true, takes: 200 * time.Millisecond} }
		put(t, s, out("CA", "a1"), out("CB", "b1"), out("CA", "a2"), out("CA", "a3"), out("CB", "b2"))
		w := start(t, s, c)
		sleep(3 * time.Second)
		put(t, s, out("CA", "a4"), out("CC", "c1"))
		w.Kick()
		sleep(10 * time.Second)
		put(t, s, out("CA", "a5"), out("CA", "a6"))
		w.Kick()
		sleep(10 * time.Second)
		want(t, "CA", c.arrived("CA", begun), "a1@0.2 a2@1.2 a3@2.2 a4@3.2 a5@13.2 a6@14.2")
		want(t, "CB", c.arrived("CB", begun), "b1@0.2 b2@1.2")
		want(t, "CC", c.arrived("CC", begun), "c1@3.2")
		want(t, "left", left(t, s), "")
		if err := w.stop(); err != nil {
			t.Error(err)
		}
		if c.overlaps > 0 || len(c.looks) > 0 {
			t.Errorf("%d posts overlapped in a channel, %d entries were looked for", c.overlaps, len(c.looks))
		}
	})
}

// Within a channel the order is that in which entries were put in, also where
// one was due later than those behind it.
func TestOrderIsThatOfPuttingIn(t *testing.T) {
	bubble(t, func(t *testing.T, s *watched, c *channels, begun time.Time) {
		c.answer = func(e store.Leased, try int) answer {
			if string(e.Body) == "first" && try == 1 {
				return answer{err: &slack.RateLimitedError{RetryAfter: 10 * time.Second}}
			}
			return taken
		}
		soon := out("CA", "soon")
		soon.Due = begun.Add(5 * time.Second)
		put(t, s, out("CA", "first"), soon, out("CA", "now"))
		for n := range 50 { // in time of being due: b, then a
			past := out(fmt.Sprint("C", n), "a")
			past.Due = begun.Add(-time.Hour)
			put(t, s, past, out(past.Channel, "b"))
		}
		w := start(t, s, c, func(o *outbox.Options) {
			o.Route = func(e store.Leased) (string, bool) {
				runtime.Gosched() // a lane may run as soon as it is there
				return toSlack(e)
			}
		})
		defer w.stop()
		sleep(time.Minute)
		want(t, "CA", c.arrived("CA", begun), "first@10 soon@11 now@12")
		for n := range 50 {
			want(t, "another", c.arrived(fmt.Sprint("C", n), begun), "a@0 b@1")
		}
	})
}

// An entry that comes just after another of its channel keeps its distance,
// though nothing was waiting in between.
func TestPaceOfAChannelThatJustBecameIdle(t *testing.T) {
	bubble(t, func(t *testing.T, s *watched, c *channels, begun time.Time) {
		w := start(t, s, c)
		defer w.stop()
		for _, at := range []float64{0.5, 0.7, 3} {
			sleep(time.Until(begun.Add(time.Duration(at * float64(time.Second)))))
			put(t, s, out("CA", fmt.Sprint("a", at)))
			w.Kick()
		}
		sleep(time.Second)
		want(t, "CA", c.arrived("CA", begun), "a0.5@0.5 a0.7@1.5 a3@3")
	})
}

// After a post of several messages the next one keeps its distance to the last.
func TestPaceAfterALongPost(t *testing.T) {
	bubble(t, func(t *testing.T, s *watched, c *channels, begun time.Time) {
		c.answer = func(e store.Leased, _ int) answer {
			return answer{in: true, takes: map[string]time.Duration{"a1": 2500 * time.Millisecond}[string(e.Body)]}
		}
		put(t, s, out("CA", "a1"), out("CA", "a2"), out("CA", "a3"))
		w := start(t, s, c)
		defer w.stop()
		sleep(time.Minute)
		want(t, "CA", c.arrived("CA", begun), "a1@2.5 a2@3.5 a3@4.5")
	})
}

// What waits holds back what is behind it in its channel, and nothing else.
func TestOneThatWaitsKeepsItsPlace(t *testing.T) {
	dial := &net.OpError{Op: "dial", Err: errors.New("refused")}
	for name, c := range map[string]struct {
		in    bool // whether the first try arrived nevertheless
		err   error
		want  string
		looks string // when somebody looked for the first
	}{
		"for as long as Slack says":        {err: &slack.RateLimitedError{RetryAfter: 30 * time.Second}, want: "a1@30 a2@31"},
		"without Slack saying how long":    {err: &slack.RateLimitedError{}, want: "a1@1 a2@2"},
		"at a bare 429":                    {err: slack.StatusCodeError{Code: 429}, want: "a1@1 a2@2"},
		"at a word of Slack's":             {err: slack.SlackErrorResponse{Err: "message_limit_exceeded"}, want: "a1@1 a2@2"},
		"with no connection":               {err: fmt.Errorf("post: %w", dial), want: "a1@1 a2@2"},
		"in doubt, and it had not arrived": {err: errors.New("connection reset"), want: "a1@1 a2@2", looks: "1"},
		"in doubt, and it had arrived":     {in: true, err: errors.New("connection reset"), want: "a1@0 a2@1", looks: "1"},
		"at a failure of Slack's":          {in: true, err: slack.SlackErrorResponse{Err: "internal_error"}, want: "a1@0 a2@1", looks: "1"},
		"at a 503":                         {in: true, err: slack.StatusCodeError{Code: 503}, want: "a1@0 a2@1", looks: "1"},
	} {
		t.Run(name, func(t *testing.T) {
			bubble(t, func(t *testing.T, s *watched, ch *channels, begun time.Time) {
				ch.answer = func(e store.Leased, try int) answer {
					if string(e.Body) == "a1" && try == 1 {
						return answer{in: c.in, err: c.err}
					}
					return taken
				}
				put(t, s, out("CA", "a1"), out("CA", "a2"), out("CB", "b1"))
				w := start(t, s, ch)
				defer w.stop()
				sleep(time.Minute)
				want(t, "CA", ch.arrived("CA", begun), c.want)
				want(t, "CB", ch.arrived("CB", begun), "b1@0")
				var looks []string
				for _, at := range ch.looked(1) {
					looks = append(looks, fmt.Sprint(at.Sub(begun).Seconds()))
				}
				want(t, "looked", strings.Join(looks, " "), c.looks)
				want(t, "left", left(t, s), "")
			})
		})
	}
}

// Tries that keep failing come ever more seldom, and go on for as long as it
// takes; leases end meanwhile, and nothing is queued twice by that.
func TestBackOff(t *testing.T) {
	bubble(t, func(t *testing.T, s *watched, c *channels, begun time.Time) {
		c.answer = func(e store.Leased, try int) answer {
			if string(e.Body) == "a1" && try <= 10 {
				return answer{err: errors.New("connection reset")}
			}
			return taken
		}
		put(t, s, out("CA", "a1"), out("CA", "a2"))
		w := start(t, s, c)
		defer w.stop()
		sleep(time.Hour)
		// 1+2+4+8+16+32 seconds, and four times a minute.
		want(t, "CA", c.arrived("CA", begun), "a1@303 a2@304")
		if n := len(c.looked(1)); n != 10 {
			t.Errorf("looked %d times before the ten repetitions", n)
		}
	})
}

// Slack's wait for looking holds for all channels; where looking is refused,
// the entry is posted nevertheless.
func TestLooking(t *testing.T) {
	bubble(t, func(t *testing.T, s *watched, c *channels, begun time.Time) {
		c.answer = func(_ store.Leased, try int) answer {
			if try == 1 {
				return answer{err: errors.New("connection reset")}
			}
			return taken
		}
		c.look = func(e store.Leased, try int) error {
			switch {
			case e.Channel == "CA" && try == 1:
				return &slack.RateLimitedError{RetryAfter: 20 * time.Second}
			case e.Channel == "CC":
				return slack.SlackErrorResponse{Err: "not_in_channel"}
			}
			return nil
		}
		put(t, s, out("CA", "a1"))
		w := start(t, s, c)
		defer w.stop()
		sleep(500 * time.Millisecond)
		put(t, s, out("CB", "b1"), out("CC", "c1"))
		w.Kick()
		sleep(time.Minute)
		want(t, "CA", c.arrived("CA", begun), "a1@21")
		want(t, "CB", c.arrived("CB", begun), "b1@21")
		want(t, "CC", c.arrived("CC", begun), "c1@21")
		if at := c.looked(2); len(at) != 1 {
			t.Errorf("looked in CB at %v", at)
		}
	})
}

// Entries for later go out when they are due, and not for Slack: they come
// back every hour for a week.
func TestLaterAndNotForSlack(t *testing.T) {
	bubble(t, func(t *testing.T, s *watched, c *channels, begun time.Time) {
		later := out("CA", "later")
		later.Due = begun.Add(time.Minute)
		put(t, s, out("terminal", "t"), later)
		w := start(t, s, c, func(o *outbox.Options) { o.Poll = 10 * time.Second })
		defer w.stop()
		sleep(30 * time.Second)
		put(t, s, out("CA", "soon"))
		w.Kick()
		sleep(time.Minute)
		want(t, "CA", c.arrived("CA", begun), "soon@30 later@60")
		sleep(6 * 24 * time.Hour)
		if n := s.count("sent"); n != 2 {
			t.Errorf("%d entries were taken out in six days; want the two for Slack", n)
		}
		sleep(2 * 24 * time.Hour)
		want(t, "left", left(t, s), "")
		want(t, "terminal", c.arrived("terminal", begun), "")
	})
}

// Of two entries with one key the newer is sent, once, after what was put in
// before it. The older is not sent any more unless it is under way.
func TestReplaced(t *testing.T) {
	for name, tc := range map[string]struct {
		after time.Duration
		want  string
	}{
		"in the queue":         {0, "a1@10 a2@11 new@12"},
		"under way":            {11500 * time.Millisecond, "a1@10 old@11 a2@12 new@13"},
		"while it waits again": {12500 * time.Millisecond, "a1@10 old@11 a2@12 new@13"},
	} {
		t.Run(name, func(t *testing.T) {
			bubble(t, func(t *testing.T, s *watched, c *channels, begun time.Time) {
				c.answer = func(e store.Leased, try int) answer {
					if string(e.Body) == "a1" && try == 1 {
						return answer{err: &slack.RateLimitedError{RetryAfter: 10 * time.Second}}
					}
					return taken
				}
				old, replacing := out("CA", "old"), out("CA", "new")
				old.Key, replacing.Key = "k", "k"
				put(t, s, out("CA", "a1"), old, out("CA", "a2"))
				w := start(t, s, c)
				defer w.stop()
				sleep(tc.after)
				put(t, s, replacing)
				w.Kick()
				sleep(time.Minute)
				want(t, "CA", c.arrived("CA", begun), tc.want)
				want(t, "left", left(t, s), "")
			})
		})
	}
}

// One that is replaced while its try is in doubt is not tried again.
func TestReplacedInDoubt(t *testing.T) {
	bubble(t, func(t *testing.T, s *watched, c *channels, begun time.Time) {
		c.answer = func(e store.Leased, try int) answer {
			if string(e.Body) == "old" {
				return answer{err: errors.New("connection reset")}
			}
			return taken
		}
		old, replacing := out("CA", "old"), out("CA", "new")
		old.Key, replacing.Key = "k", "k"
		put(t, s, old)
		w := start(t, s, c)
		defer w.stop()
		sleep(time.Minute)
		put(t, s, replacing)
		w.Kick()
		sleep(3 * time.Minute)
		want(t, "CA", c.arrived("CA", begun), "new@63")
		if n := len(c.tried(1)); n != 6 {
			t.Errorf("the old one was tried %d times; want the six of the first minute", n)
		}
	})
}

// Many say at once that there is something, and nothing waits for the poll.
func TestKicks(t *testing.T) {
	bubble(t, func(t *testing.T, s *watched, c *channels, begun time.Time) {
		w := start(t, s, c, func(o *outbox.Options) { o.Poll = time.Hour })
		defer w.stop()
		sleep(time.Second)
		var all sync.WaitGroup
		for n := range 100 {
			all.Go(func() {
				for k := range 20 {
					put(t, s, out(fmt.Sprintf("C%d-%d", n, k), "x"))
					w.Kick()
				}
			})
		}
		all.Wait()
		synctest.Wait()
		if n, _, _ := c.counts(); n != 2000 {
			t.Errorf("%d messages arrived; want 2000", n)
		}
	})
}

// A backlog of many channels, found at the start or later, goes out with few leases and within the bound.
func TestBacklogOfManyChannels(t *testing.T) {
	bubble(t, func(t *testing.T, s *watched, c *channels, begun time.Time) {
		c.answer = func(store.Leased, int) answer { return answer{in: true, takes: 100 * time.Millisecond} }
		var entries []store.Outgoing
		for n := range 2000 {
			entries = append(entries, out(fmt.Sprint("C", n), "x"))
		}
		put(t, s, entries...)
		w := start(t, s, c, func(o *outbox.Options) { o.AtOnce, o.Poll = 50, time.Hour })
		sleep(4100 * time.Millisecond) // 2,000 posts of 0.1 s, 50 at once
		put(t, s, entries...)
		w.Kick()
		sleep(4100 * time.Millisecond)
		if n, _, top := c.counts(); n != 4000 || top != 50 {
			t.Errorf("%d messages arrived, at most %d at once; want 4000 and 50", n, top)
		}
		if n := s.count("lease"); n > 10 {
			t.Errorf("%d leases for twice 2,000 entries", n)
		}
		if err := w.stop(); err != nil {
			t.Error(err)
		}
	})
}
