package socket

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"

	"ferrule/bot/slackchat"
)

// count gives a Ready that counts.
func count(n *int) func(context.Context) { return func(context.Context) { *n++ } }

func TestTheNextConnectionIsUpBeforeTheOldOneIsGivenUp(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var finish func([]byte, error)
		ready := 0
		script, next := people()
		s := newStage(t, script)
		o := s.options(func(_ context.Context, _ slackchat.Delivery, done func([]byte, error)) { finish = done })
		o.Ready = count(&ready)
		s.run(o)
		old := next()
		pass(time.Hour)
		old.event("1")
		old.disconnect("refresh_requested")
		synctest.Wait()
		if old.close != nil {
			t.Fatal("the old connection was given up before the next was up")
		}
		fresh := next()
		pass(time.Second)
		if old.closedNormally() {
			t.Error("the old connection was given up with a delivery under way")
		}
		finish(nil, nil)
		synctest.Wait()
		if d := cmp.Diff([]string{`{"envelope_id":"1"}`}, old.acks()); d != "" {
			t.Error(d)
		}
		if !old.closedNormally() {
			t.Errorf("the old connection ended with %v", old.close)
		}
		fresh.event("2")
		synctest.Wait()
		finish(nil, nil)
		synctest.Wait()
		if d := cmp.Diff([]string{`{"envelope_id":"2"}`}, fresh.acks()); d != "" {
			t.Error(d)
		}
		if ready != 1 {
			t.Errorf("catching up happened %d times, without a gap", ready)
		}
		if at := s.opened(); at[1] != time.Hour {
			t.Errorf("the next connection was opened at %v", at[1])
		}
	})
}

func TestAnOldConnectionIsGivenUpAfterTheGracePeriod(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		script, next := people()
		s := newStage(t, script)
		s.run(s.options(func(context.Context, slackchat.Delivery, func([]byte, error)) {})) // never done
		old := next()
		old.event("1")
		pass(time.Hour)
		old.disconnect("warning")
		next()
		pass(5 * time.Second)
		if !old.closedNormally() {
			t.Errorf("the old connection ended with %v", old.close)
		}
	})
}

func TestTwoConnectionsAreReplacedOneAtATime(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ready := 0
		arrived := make(chan *peer)
		s := newStage(t, func(p *peer) {
			p.accept()
			if p.n > 2 {
				time.Sleep(2 * time.Second) // the hello takes its time
			}
			p.greet()
			arrived <- p
			p.stay()
		})
		o := s.options(takeAll)
		o.Connections, o.Ready = 2, count(&ready)
		s.run(o)
		one, two := <-arrived, <-arrived
		pass(time.Hour)
		one.disconnect("warning")
		two.disconnect("warning")
		three, four := <-arrived, <-arrived
		pass(time.Second)
		want := []time.Duration{0, 0, time.Hour, time.Hour + 2*time.Second}
		if d := cmp.Diff(want, s.opened()); d != "" {
			t.Error(d)
		}
		if now, _ := s.connections(); now != 2 {
			t.Errorf("%d connections are up", now)
		}
		for id, p := range map[string]*peer{"3": three, "4": four} {
			p.event(id)
			synctest.Wait()
			if d := cmp.Diff([]string{`{"envelope_id":"` + id + `"}`}, p.acks()); d != "" {
				t.Error(d)
			}
		}
		if ready != 1 {
			t.Errorf("catching up happened %d times, without a gap", ready)
		}
	})
}

func TestWithTwoConnectionsTheOtherOneTakesTheAcknowledgement(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var finish func([]byte, error)
		script, next := people()
		s := newStage(t, script)
		o := s.options(func(_ context.Context, _ slackchat.Delivery, done func([]byte, error)) { finish = done })
		o.Connections = 2
		s.run(o)
		one, two := next(), next()
		one.event("1")
		synctest.Wait()
		one.cut()
		synctest.Wait()
		finish(nil, nil)
		synctest.Wait()
		if d := cmp.Diff([]string{`{"envelope_id":"1"}`}, two.acks()); d != "" {
			t.Error(d)
		}
	})
}

func TestReadyIsCalledWhereMessagesMayHaveBeenMissed(t *testing.T) {
	for _, c := range []struct {
		name        string
		connections int
		end         func(p *peer) // of the first connection, which has held
		want        int           // calls after the first
	}{
		{"the only one is cut", 1, (*peer).cut, 1},
		{"the only one is closed", 1, func(p *peer) { _ = p.ws.WriteControl(8, nil, time.Now().Add(time.Second)) }, 1},
		{"the only one is replaced", 1, func(p *peer) { p.disconnect("warning") }, 0},
		{"one of two is closed", 2, func(p *peer) {
			_ = p.ws.WriteControl(8, []byte{3, 232}, time.Now().Add(time.Second))
		}, 0},
		{"one of two is replaced", 2, func(p *peer) { p.disconnect("warning") }, 0},
		// The other one may have been cut off too, and not know it yet.
		{"one of two is cut", 2, (*peer).cut, 1},
	} {
		bubble(t, c.name, func(t *testing.T) {
			ready := 0
			script, next := people()
			s := newStage(t, script)
			o := s.options(takeAll)
			o.Connections, o.Ready = c.connections, count(&ready)
			s.run(o)
			first := next()
			if c.connections == 2 {
				next()
			}
			pass(time.Hour)
			if ready != 1 {
				t.Fatalf("at the start it was called %d times", ready)
			}
			c.end(first)
			second := next()
			synctest.Wait()
			if ready-1 != c.want {
				t.Errorf("it was called %d times", ready-1)
			}
			pass(time.Hour)
			second.disconnect("warning")
			next()
			synctest.Wait()
			if ready-1 != c.want {
				t.Error("it was called again, without a gap")
			}
		})
	}
}

func TestReadyIsCalledOneAtATime(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		running, calls := 0, 0
		script, next := people()
		s := newStage(t, script)
		o := s.options(takeAll)
		o.Ready = func(ctx context.Context) {
			if running++; running > 1 {
				t.Error("two at a time")
			}
			calls++
			wait(ctx, time.Minute)
			running--
		}
		s.run(o)
		for range 4 {
			p := next()
			synctest.Wait() // for the hello to be noticed
			p.cut()
		}
		next().event("1") // what comes in meanwhile is taken
		pass(10 * time.Minute)
		if calls != 2 {
			t.Errorf("four gaps within one call gave %d calls", calls)
		}
	})
}
