package outbox_test

import (
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/slack-go/slack"

	"ferrule/store"
)

// A stop while somebody looks for an entry keeps it from being posted.
func TestStopWhileLooking(t *testing.T) {
	bubble(t, func(t *testing.T, s *watched, c *channels, begun time.Time) {
		c.answer = func(store.Leased, int) answer { return answer{err: errors.New("connection reset")} }
		c.look = func(store.Leased, int) error {
			time.Sleep(2 * time.Second)
			return nil
		}
		put(t, s, out("CA", "a1"))
		w := start(t, s, c)
		sleep(2 * time.Second) // a try, a second, and half the looking
		if err := w.stop(); err != nil {
			t.Error(err)
		}
		if n := len(c.tried(1)); n != 1 || len(c.looked(1)) != 1 || time.Since(begun) != 3*time.Second {
			t.Errorf("tried %d times, looked at %v, stopped after %v", n, c.looked(1), time.Since(begun))
		}
		want(t, "left", left(t, s), "a1")
	})
}

// A stop lets what is under way end and marks it, begins nothing, and gives the
// rest back; what does not end in time is in doubt for the next start.
func TestStop(t *testing.T) {
	for name, tc := range map[string]struct {
		takes       time.Duration
		ended       float64 // seconds until Run returns
		left, after string
	}{
		"that can be waited for": {2 * time.Second, 1, "a2 b1", "a1@2 a2@10"},
		"that takes too long":    {time.Minute, 5, "a1 a2 b1", "a1@10 a2@11"},
	} {
		t.Run(name, func(t *testing.T) {
			bubble(t, func(t *testing.T, s *watched, c *channels, begun time.Time) {
				c.answer = func(e store.Leased, try int) answer {
					switch {
					case try > 1:
					case string(e.Body) == "a1":
						return answer{in: true, takes: tc.takes}
					case string(e.Body) == "b1":
						return answer{err: &slack.RateLimitedError{RetryAfter: time.Hour}}
					}
					return taken
				}
				put(t, s, out("CA", "a1"), out("CA", "a2"), out("CB", "b1"))
				w := start(t, s, c)
				sleep(time.Second)
				asked := time.Now()
				if err := w.stop(); err != nil {
					t.Error(err)
				}
				if took := time.Since(asked).Seconds(); took != tc.ended {
					t.Errorf("the stop took %g s; want %g", took, tc.ended)
				}
				now, err := s.Store.Lease(t.Context(), time.Now(), 0, 10)
				var names []string
				for _, e := range now {
					names = append(names, string(e.Body))
				}
				if err != nil {
					t.Error(err)
				}
				want(t, "due at once", strings.Join(names, " "), tc.left)

				sleep(time.Until(begun.Add(10 * time.Second)))
				w = start(t, s, c)
				defer w.stop()
				sleep(5 * time.Second)
				want(t, "CA after the next start", c.arrived("CA", begun), tc.after)
				want(t, "CB after the next start", c.arrived("CB", begun), "b1@10")
			})
		})
	}
}
