package socket

import (
	"context"
	"encoding/json"
	"errors"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/gorilla/websocket"

	"ferrule/bot/slackchat"
)

func TestADeliveryIsAcknowledgedOnceItIsTaken(t *testing.T) {
	slash := `{"envelope_id":"s1","type":"slash_commands","payload":{"command":"/ferrule"},"accepts_response_payload":true}`
	press := `{"envelope_id":"b1","type":"interactive","payload":{"type":"block_actions"},"accepts_response_payload":true}`
	for _, c := range []struct {
		name, frame string
		answer      string
		err         error
		want        []string
	}{
		{"without an answer", event("e1"), "", nil, []string{`{"envelope_id":"e1"}`}},
		{"not taken", event("e1"), "", errors.New("the disk is full"), nil},
		{"with an answer", slash, ` {"text": "a < b"} `, nil, []string{`{"envelope_id":"s1","payload":{"text":"a < b"}}`}},
		{"interactive", press, `{}`, nil, []string{`{"envelope_id":"b1","payload":{}}`}},
		{"an answer that is not accepted", event("e1"), `{"text":"x"}`, nil, []string{`{"envelope_id":"e1"}`}},
		{"an answer that is no JSON", slash, typed, nil, []string{`{"envelope_id":"s1"}`}},
		{"an answer that is too large", slash, `{"text":"` + strings.Repeat(typed, 1000) + `"}`, nil, []string{`{"envelope_id":"s1"}`}},
	} {
		bubble(t, c.name, func(t *testing.T) {
			var finish func([]byte, error)
			script, next := people()
			s := newStage(t, script)
			s.run(s.options(func(_ context.Context, _ slackchat.Delivery, done func([]byte, error)) { finish = done }))
			p := next()
			p.send(c.frame)
			synctest.Wait()
			if got := p.acks(); len(got) > 0 {
				t.Fatalf("acknowledged before it was taken: %v", got)
			}
			finish([]byte(c.answer), c.err)
			finish([]byte(c.answer), c.err) // a second call changes nothing
			synctest.Wait()
			if d := cmp.Diff(c.want, p.acks()); d != "" {
				t.Error(d)
			}
		})
	}
}

func TestADeliveryCarriesWhatSlackSays(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var got []slackchat.Delivery
		script, next := people()
		s := newStage(t, script)
		s.run(s.options(func(_ context.Context, d slackchat.Delivery, done func([]byte, error)) {
			got = append(got, d)
			done(nil, nil)
		}))
		p := next()
		p.send(`{"envelope_id":"e1","type":"events_api","payload":{"event_id":"Ev1"},"retry_attempt":2,"retry_reason":"timeout","accepts_response_payload":false}`)
		p.send(`{"envelope_id":"e2","type":"events_api","payload":{"event_id":"Ev2"},"retry_attempt":"odd","retry_reason":7}`)
		synctest.Wait()
		want := []slackchat.Delivery{
			{Kind: slackchat.Events, Payload: json.RawMessage(`{"event_id":"Ev1"}`), Attempt: 2, Reason: "timeout"},
			{Kind: slackchat.Events, Payload: json.RawMessage(`{"event_id":"Ev2"}`)},
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Error(d)
		}
	})
}

func TestWhatCantBeUsedIsAcknowledgedAndEndsNothing(t *testing.T) {
	ack := []string{`{"envelope_id":"x1"}`}
	for _, c := range []struct {
		name string
		kind int
		data string
		want []string
	}{
		{"unknown type", websocket.TextMessage, `{"envelope_id":"x1","type":"block_suggestion_v9","payload":{}}`, ack},
		{"no type", websocket.TextMessage, `{"envelope_id":"x1","payload":{}}`, ack},
		{"type of another type", websocket.TextMessage, `{"envelope_id":"x1","type":{},"payload":{}}`, ack},
		{"no payload", websocket.TextMessage, `{"envelope_id":"x1","type":"events_api"}`, ack},
		{"null payload", websocket.TextMessage, `{"envelope_id":"x1","type":"events_api","payload":null}`, ack},
		{"payload of text", websocket.TextMessage, `{"envelope_id":"x1","type":"interactive","payload":"{}"}`, ack},
		{"cut off", websocket.TextMessage, `{"type":"events_api","envelope_id":"x1","payload":{"text":"` + typed, ack},
		{"broken before the envelope", websocket.TextMessage, `{"payload":{"text":oops},"type":"hello","envelope_id" : "x1"}`, ack},
		{"cut off, envelope only in typed text", websocket.TextMessage, `{"payload":{"text":"\"envelope_id\":\"x1\"`, nil},
		{"disconnect in a broken frame", websocket.TextMessage, `{"payload":{"type":"disconnect"`, nil},
		{"envelope of a number", websocket.TextMessage, `{"envelope_id":7,"type":"events_api","payload":null}`, nil},
		{"binary garbage", websocket.BinaryMessage, "\x00\xff\xfe", nil},
		{"empty", websocket.TextMessage, "", nil},
		{"not JSON", websocket.TextMessage, "hello", nil},
		{"an array", websocket.TextMessage, "[]", nil},
		{"null", websocket.TextMessage, "null", nil},
		{"too large", websocket.TextMessage, `{"envelope_id":"x1","payload":{"text":"` + strings.Repeat("a", mostFrame) + `"},"type":"events_api"}`, ack},
		{"second hello", websocket.TextMessage, `{"type":"hello"}`, nil},
	} {
		bubble(t, c.name, func(t *testing.T) {
			script, next := people()
			s := newStage(t, script)
			deliveries := 0
			s.run(s.options(func(_ context.Context, _ slackchat.Delivery, done func([]byte, error)) {
				deliveries++
				done(nil, nil)
			}))
			p := next()
			p.sendKind(c.kind, []byte(c.data))
			p.event("after")
			pass(5 * time.Second)
			if deliveries != 1 {
				t.Errorf("%d deliveries", deliveries)
			}
			if d := cmp.Diff(append(c.want[:len(c.want):len(c.want)], `{"envelope_id":"after"}`), p.acks()); d != "" {
				t.Error(d)
			}
			if n := len(s.opened()); n != 1 {
				t.Errorf("%d connections were opened", n)
			}
		})
	}
}

func TestASlowReceiverGetsAllInOrderWhilePingsAreAnswered(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		const events = 50
		var got []string
		script, next := people()
		s := newStage(t, script)
		s.run(s.options(func(_ context.Context, d slackchat.Delivery, done func([]byte, error)) {
			time.Sleep(time.Second)
			got = append(got, field[struct{ Event_id string }](d.Payload).Event_id)
			done(nil, nil)
		}))
		p := next()
		var want []string
		for i := range events {
			id := string(rune('A'+i/10)) + string(rune('0'+i%10))
			want = append(want, "Ev"+id)
			p.event(id)
		}
		sent := time.Now()
		if err := p.ws.WriteControl(websocket.PingMessage, []byte("x"), time.Now().Add(time.Second)); err != nil {
			t.Fatal(err)
		}
		synctest.Wait()
		if !p.pong.Equal(sent) {
			t.Error("the ping was not answered at once")
		}
		pass((events + 1) * time.Second)
		if d := cmp.Diff(want, got); d != "" {
			t.Error(d)
		}
		if n := len(p.acks()); n != events {
			t.Errorf("%d acknowledgements of %d", n, events)
		}
	})
}

func TestAnAcknowledgementGoesOutAfterAReconnect(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		finish := map[string]func([]byte, error){}
		arrived := make(chan *peer)
		next := func() *peer { return <-arrived }
		s := newStage(t, func(p *peer) {
			p.accept()
			time.Sleep(3 * time.Second)
			p.greet()
			arrived <- p
			p.stay()
		})
		s.run(s.options(func(_ context.Context, d slackchat.Delivery, done func([]byte, error)) {
			finish[field[struct{ Event_id string }](d.Payload).Event_id] = done
		}))
		first := next()
		first.event("1")
		first.event("2")
		synctest.Wait()
		first.cut()
		pass(2 * time.Second)
		finish["Ev1"](nil, nil) // the next has not said hello yet: dropped
		second := next()
		synctest.Wait()
		finish["Ev2"](nil, nil)
		synctest.Wait()
		if d := cmp.Diff([]string{`{"envelope_id":"2"}`}, second.acks()); d != "" {
			t.Error(d)
		}
	})
}

// A receiver that has come to a halt leaves the reader free: the bytes that
// wait are bounded, and what is left out is not acknowledged.
func TestTheQueueIsBounded(t *testing.T) {
	q := newQueue(3 * (perItem + 10))
	small := item{frame: frame{Delivery: slackchat.Delivery{Payload: make([]byte, 10)}}}
	large := item{frame: frame{Delivery: slackchat.Delivery{Payload: make([]byte, 1<<20)}}}
	if !q.push(large) {
		t.Error("an empty queue refused a large delivery")
	}
	if q.push(small) {
		t.Error("a full queue took another one")
	}
	q.pop()
	for i := range 3 {
		if !q.push(small) {
			t.Errorf("the queue refused delivery %d", i+1)
		}
	}
	if q.push(small) {
		t.Error("the queue took more than its most")
	}
	q.close()
	for range 3 {
		if _, ok := q.pop(); !ok {
			t.Error("a closed queue lost what it had")
		}
	}
	if _, ok := q.pop(); ok || q.push(small) {
		t.Error("a closed queue went on")
	}
}

// Whoever calls done waits for no network, and what a connection that takes
// nothing can't carry goes over the other one.
func TestAStalledConnectionHoldsNobodyUp(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		hang := make(chan struct{})
		var finish func([]byte, error)
		arrived := make(chan *peer)
		s := newStage(t, func(p *peer) {
			p.acceptAs(func(ws *websocket.Conn) {
				if p.n == 1 {
					ws.SetPingHandler(func(string) error { <-hang; return nil })
				}
			})
			p.greet()
			arrived <- p
			p.stay()
		})
		o := s.options(func(_ context.Context, _ slackchat.Delivery, done func([]byte, error)) { finish = done })
		o.Connections = 2
		stop := s.run(o)
		one, two := <-arrived, <-arrived
		pass(10 * time.Second) // the first ping makes it hang
		one.event("1")
		synctest.Wait()
		begun := time.Now()
		finish(nil, nil)
		if took := time.Since(begun); took > 0 {
			t.Errorf("done took %v", took)
		}
		pass(writeWithin)
		if d := cmp.Diff([]string{`{"envelope_id":"1"}`}, two.acks()); d != "" {
			t.Error(d)
		}
		close(hang)
		if err := stop(); err != nil {
			t.Errorf("Run gave %v", err)
		}
	})
}

// Deliveries come in, but nothing goes out: the ping that can't be written
// ends the connection.
func TestAConnectionThatOnlyBringsIsGivenUp(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		hang := make(chan struct{})
		arrived := make(chan *peer)
		s := newStage(t, func(p *peer) {
			p.acceptAs(func(ws *websocket.Conn) { ws.SetPingHandler(func(string) error { <-hang; return nil }) })
			p.greet()
			arrived <- p
			p.stay()
		})
		stop := s.run(s.options(func(context.Context, slackchat.Delivery, func([]byte, error)) {}))
		p := <-arrived
		for range 6 {
			pass(5 * time.Second)
			p.event("1")
		}
		<-arrived
		want := []time.Duration{0, 31 * time.Second} // the second ping, 10 s of writing, the back-off
		if d := cmp.Diff(want, s.opened()); d != "" {
			t.Error(d)
		}
		close(hang)
		if err := stop(); err != nil {
			t.Errorf("Run gave %v", err)
		}
	})
}
