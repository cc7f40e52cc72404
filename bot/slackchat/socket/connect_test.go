package socket

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/slack-go/slack"

	"ferrule/bot/slackchat"
)

// Whatever goes wrong, again and again: each attempt but the first follows a
// step of the back-off. took is how long an attempt lasts by itself.
func TestAStormIsHeldBack(t *testing.T) {
	nothing := func(*peer) {}
	down := errors.New("connection refused")
	for _, c := range []struct {
		name   string
		open   error
		script func(p *peer)
		took   time.Duration
	}{
		{"sent away right after the hello", nil, func(p *peer) { p.hello(); p.disconnect("too_many_websockets"); p.stay() }, 0},
		{"sent away and closed", nil, func(p *peer) { p.hello(); p.disconnect("warning") }, 0},
		{"sent away before the hello", nil, func(p *peer) { p.accept(); p.disconnect("refresh_requested"); p.stay() }, 0},
		{"cut after the hello", nil, func(p *peer) { p.hello(); p.cut() }, 0},
		{"cut before the hello", nil, func(p *peer) { p.accept(); p.cut() }, 0},
		{"no websocket", nil, func(p *peer) { http.Error(p.w, "no", http.StatusServiceUnavailable) }, 0},
		{"no hello", nil, func(p *peer) { p.accept(); p.stay() }, 30 * time.Second},
		{"a hello that is cut off", nil, func(p *peer) { p.accept(); p.send(`{"type":"hello"`); p.stay() }, 30 * time.Second},
		{"never held for long", nil, func(p *peer) { p.hello(); time.Sleep(59 * time.Second); p.cut() }, 59 * time.Second},
		{"no address", down, nothing, 0},
		{"unknown error of Slack's", slack.SlackErrorResponse{Err: "internal_error"}, nothing, 0},
		{"server error", slack.StatusCodeError{Code: 503, Status: "503"}, nothing, 0},
	} {
		bubble(t, c.name, func(t *testing.T) {
			s := newStage(t, c.script)
			o := s.options(takeAll)
			o.Open = func(ctx context.Context) (string, error) {
				address, _ := s.open(ctx)
				return address, c.open
			}
			stop := s.run(o)
			pass(10 * time.Minute)
			if err := stop(); err != nil {
				t.Errorf("Run gave %v", err)
			}
			var want []time.Duration
			at := time.Duration(0)
			for step := time.Second; at < 10*time.Minute; step = min(2*step, time.Minute) {
				want = append(want, at)
				at += c.took + step
			}
			if d := cmp.Diff(want, s.opened()); d != "" {
				t.Error(d)
			}
			if _, most := s.connections(); most > 2 {
				t.Errorf("%d connections were open together", most)
			}
		})
	}
}

func TestAConnectionThatHeldIsReplacedAtOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		script, next := people()
		s := newStage(t, script)
		s.run(s.options(takeAll))
		next().cut()
		next().cut()
		third := next() // after 1 s and 2 s
		pass(time.Hour)
		third.cut()
		next().cut() // at once, and then the back-off begins anew
		next()
		h := time.Hour
		want := []time.Duration{0, 1 * time.Second, 3 * time.Second, h + 3*time.Second, h + 4*time.Second}
		if d := cmp.Diff(want, s.opened()); d != "" {
			t.Error(d)
		}
	})
}

func TestBackOffLeavesOffUpToHalf(t *testing.T) {
	jitter := 0.0
	b := backOff{BackOff: BackOff{First: time.Second, Most: 5 * time.Second}, jitter: func() float64 { return jitter }}
	for i, want := range []time.Duration{1, 2, 4, 5, 5} {
		if got := b.next(); got != want*time.Second {
			t.Errorf("step %d waits %v", i, got)
		}
	}
	b.reset()
	jitter = 0.999999
	if got := b.next(); got < time.Second/2 || got > time.Second/2+time.Millisecond {
		t.Errorf("with all jitter the first step waits %v", got)
	}
}

func TestWhatNoWaitingMendsEndsRun(t *testing.T) {
	disconnected := func(greet func(p *peer)) func(p *peer) {
		return func(p *peer) { greet(p); p.disconnect("link_disabled"); p.stay() }
	}
	for _, c := range []struct {
		name   string
		open   error
		script func(p *peer)
		code   string
	}{
		{"wrong token", slack.SlackErrorResponse{Err: "invalid_auth"}, nil, "invalid_auth"},
		{"scope", fmt.Errorf("opening: %w", slack.SlackErrorResponse{Err: "missing_scope"}), nil, "missing_scope"},
		{"said by Open", &slackchat.Fatal{Code: "not_allowed_token_type"}, nil, "not_allowed_token_type"},
		{"turned off while up", nil, disconnected((*peer).hello), "link_disabled"},
		{"turned off before the hello", nil, disconnected((*peer).accept), "link_disabled"},
	} {
		for _, connections := range []int{1, 2} {
			bubble(t, fmt.Sprintf("%s, %d connections", c.name, connections), func(t *testing.T) {
				s := newStage(t, c.script)
				o := s.options(takeAll)
				o.Connections = connections
				o.Open = func(ctx context.Context) (string, error) {
					address, _ := s.open(ctx)
					return address, c.open
				}
				err := s.result(o)
				if fatal := (*slackchat.Fatal)(nil); !errors.As(err, &fatal) || fatal.Code != c.code {
					t.Errorf("Run gave %v", err)
				}
				if n := len(s.opened()); n > connections {
					t.Errorf("%d attempts", n)
				}
			})
		}
	}
}

func TestATokenThatIsTakenBackLaterEndsRun(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		script, next := people()
		s := newStage(t, script)
		o := s.options(takeAll)
		o.Connections, o.Ready = 2, func(ctx context.Context) { <-ctx.Done() }
		revoked := false
		o.Open = func(ctx context.Context) (string, error) {
			if revoked {
				return "", slack.SlackErrorResponse{Err: "token_revoked"}
			}
			return s.open(ctx)
		}
		go func() { // the other one stays up
			p := next()
			next()
			time.Sleep(time.Hour)
			revoked = true
			p.disconnect("warning")
		}()
		if fatal := (*slackchat.Fatal)(nil); !errors.As(s.result(o), &fatal) || fatal.Code != "token_revoked" {
			t.Errorf("Run gave %v", fatal)
		}
	})
}

func TestALimitOfTheRateHoldsForAllConnections(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newStage(t, func(p *peer) { p.hello(); p.stay() })
		o := s.options(takeAll)
		o.Connections = 2
		o.Open = func(ctx context.Context) (string, error) {
			address, _ := s.open(ctx)
			if len(s.opened()) == 1 {
				return "", fmt.Errorf("opening: %w", &slack.RateLimitedError{RetryAfter: 90 * time.Second})
			}
			return address, nil
		}
		s.run(o)
		pass(time.Hour)
		want := []time.Duration{0, 90 * time.Second, 91 * time.Second}
		if d := cmp.Diff(want, s.opened()); d != "" {
			t.Error(d)
		}
	})
}

func TestASilentConnectionIsGivenUp(t *testing.T) {
	// A peer that reads answers our pings.
	bubble(t, "one that answers pings stays", func(t *testing.T) {
		s := newStage(t, func(p *peer) { p.hello(); p.stay() })
		s.run(s.options(takeAll))
		pass(time.Hour)
		if n := len(s.opened()); n != 1 {
			t.Errorf("%d connections were opened", n)
		}
	})
	bubble(t, "one that only pings stays", func(t *testing.T) {
		s := newStage(t, func(p *peer) {
			p.acceptAs(mute)
			p.greet()
			for range 240 {
				time.Sleep(15 * time.Second)
				_ = p.ws.WriteControl(9, nil, time.Now().Add(time.Second))
			}
		})
		s.run(s.options(takeAll))
		pass(time.Hour - time.Second)
		if n := len(s.opened()); n != 1 {
			t.Errorf("%d connections were opened", n)
		}
	})
	bubble(t, "one that says nothing goes", func(t *testing.T) {
		s := newStage(t, func(p *peer) {
			p.acceptAs(mute)
			p.greet()
			p.stay()
		})
		s.run(s.options(takeAll))
		pass(32 * time.Second)
		want := []time.Duration{0, 31 * time.Second} // 30 s of silence, 1 s of back-off
		if d := cmp.Diff(want, s.opened()); d != "" {
			t.Error(d)
		}
	})
}

func TestOptionsThatCantServeAreRefused(t *testing.T) {
	open := func(context.Context) (string, error) { return "", nil }
	for name, o := range map[string]Options{
		"no Open":     {Receive: takeAll},
		"no Receive":  {Open: open},
		"three":       {Open: open, Receive: takeAll, Connections: 3},
		"less than 0": {Open: open, Receive: takeAll, Connections: -1},
	} {
		if err := Run(t.Context(), o); err == nil {
			t.Errorf("%s: Run began", name)
		}
	}
}

func TestAnAddressThatCantBeReadIsNotRepeated(t *testing.T) {
	for _, address := range []string{"ws://a b/%zz?" + ticket, "gopher://slack.example/?" + ticket, ""} {
		bubble(t, address, func(t *testing.T) {
			s := newStage(t, nil)
			o := s.options(takeAll)
			o.Open = func(context.Context) (string, error) { return address, nil }
			s.run(o)
			pass(time.Second) // the stage looks through the log
		})
	}
}
