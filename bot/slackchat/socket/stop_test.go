package socket

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/gorilla/websocket"

	"ferrule/bot/slackchat"
)

func TestStoppingFinishesWhatIsUnderWay(t *testing.T) {
	for _, c := range []struct {
		name  string
		takes time.Duration // a delivery
		acks  []string      // of three that came together
		begun int           // deliveries that the receiver got
		ended time.Duration
	}{
		{"nothing under way", 0, []string{`{"envelope_id":"1"}`, `{"envelope_id":"2"}`, `{"envelope_id":"3"}`}, 3, 0},
		{"within the grace period", time.Second, []string{`{"envelope_id":"1"}`, `{"envelope_id":"2"}`, `{"envelope_id":"3"}`}, 3, 3 * time.Second},
		{"longer than the grace period", 3 * time.Second, []string{`{"envelope_id":"1"}`}, 2, 5 * time.Second},
	} {
		bubble(t, c.name, func(t *testing.T) {
			script, next := people()
			s := newStage(t, script)
			deliveries := 0
			stop := s.run(s.options(func(ctx context.Context, _ slackchat.Delivery, done func([]byte, error)) {
				deliveries++
				if wait(ctx, c.takes) {
					done(nil, nil)
				} else {
					done(nil, ctx.Err())
				}
			}))
			p := next()
			for _, id := range []string{"1", "2", "3"} {
				p.event(id)
			}
			synctest.Wait()
			begun := time.Now()
			if c.takes > 0 {
				go func() {
					time.Sleep(time.Millisecond)
					p.event("4") // comes too late, and is left to be delivered again
				}()
			}
			if err := stop(); err != nil {
				t.Errorf("Run gave %v", err)
			}
			if took := time.Since(begun); took != c.ended {
				t.Errorf("it took %v", took)
			}
			synctest.Wait()
			if d := cmp.Diff(c.acks, p.acks()); d != "" {
				t.Error(d)
			}
			if deliveries != c.begun {
				t.Errorf("the receiver got %d deliveries", deliveries)
			}
			if !p.closedNormally() {
				t.Errorf("the connection ended with %v", p.close)
			}
		})
	}
}

func TestStoppingWhileConnectingEndsAtOnce(t *testing.T) {
	for name, at := range map[string]string{"asking": "open", "waiting for the hello": "hello", "waiting after a failure": "pause"} {
		bubble(t, name, func(t *testing.T) {
			s := newStage(t, func(p *peer) { p.accept(); p.stay() })
			o := s.options(takeAll)
			o.Connections = 2
			o.Open = func(ctx context.Context) (string, error) {
				switch at {
				case "open":
					<-ctx.Done()
					return "", ctx.Err()
				case "pause":
					return "", context.DeadlineExceeded
				}
				return s.open(ctx)
			}
			stop := s.run(o)
			pass(10*time.Second + time.Millisecond)
			begun := time.Now()
			if err := stop(); err != nil {
				t.Errorf("Run gave %v", err)
			}
			if took := time.Since(begun); took > 0 {
				t.Errorf("it took %v", took)
			}
		})
	}
}

// A server that does not answer the close frame holds nobody up for long.
func TestStoppingWaitsForNoAnswerToTheCloseFrame(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		hang := make(chan struct{})
		s := newStage(t, func(p *peer) {
			p.acceptAs(func(ws *websocket.Conn) {
				ws.SetCloseHandler(func(int, string) error { <-hang; return nil })
			})
			p.greet()
			<-hang
		})
		stop := s.run(s.options(takeAll))
		pass(time.Minute)
		begun := time.Now()
		if err := stop(); err != nil {
			t.Errorf("Run gave %v", err)
		}
		if took := time.Since(begun); took != closeWithin {
			t.Errorf("it took %v", took)
		}
		close(hang)
	})
}

func TestDoneMayBeCalledAfterRun(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var finish func([]byte, error)
		script, next := people()
		s := newStage(t, script)
		stop := s.run(s.options(func(_ context.Context, _ slackchat.Delivery, done func([]byte, error)) { finish = done }))
		next().event("1")
		synctest.Wait()
		if err := stop(); err != nil {
			t.Errorf("Run gave %v", err)
		}
		finish(nil, nil)
	})
}
