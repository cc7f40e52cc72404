package slackfake_test

import (
	"encoding/json"
	"fmt"
	"net"
	"slices"
	"strings"
	"testing"
	"time"

	"ferrule/bot/slackchat/slackfake"

	"github.com/gorilla/websocket"
)

// socket is a client that does nothing by itself.
type socket struct {
	t  testing.TB
	ws *websocket.Conn
}

type envelope struct {
	Type           string          `json:"type"`
	EnvelopeID     string          `json:"envelope_id"`
	Accepts        bool            `json:"accepts_response_payload"`
	Attempt        int             `json:"retry_attempt"`
	RetryReason    string          `json:"retry_reason"`
	Reason         string          `json:"reason"`
	NumConnections int             `json:"num_connections"`
	Payload        json.RawMessage `json:"payload"`
}

// inner reads what an event says.
func (e envelope) inner() (eventID, kind, subtype, ts string) {
	var p struct {
		EventID string `json:"event_id"`
		Event   struct{ Type, Subtype, TS string }
	}
	_ = json.Unmarshal(e.Payload, &p)
	return p.EventID, p.Event.Type, p.Event.Subtype, p.Event.TS
}

// dial connects and takes the hello.
func dial(t testing.TB, fake *slackfake.Server) *socket {
	t.Helper()
	s := dialRaw(t, fake)
	if hello := s.next(); hello.Type != "hello" || hello.NumConnections < 1 {
		t.Fatalf("the first frame is %+v", hello)
	}
	return s
}

func dialRaw(t testing.TB, fake *slackfake.Server) *socket {
	t.Helper()
	_, address, err := client(fake).StartSocketModeContext(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	ws, resp, err := websocket.DefaultDialer.Dial(address, nil)
	if err != nil {
		t.Fatal(err)
	}
	_ = resp.Body.Close()
	t.Cleanup(func() { _ = ws.Close() })
	return &socket{t, ws}
}

func (s *socket) next() envelope {
	s.t.Helper()
	_ = s.ws.SetReadDeadline(time.Now().Add(10 * time.Second))
	_, raw, err := s.ws.ReadMessage()
	if err != nil {
		s.t.Fatalf("reading a frame: %v", err)
	}
	var e envelope
	if err := json.Unmarshal(raw, &e); err != nil {
		s.t.Fatalf("reading %s: %v", raw, err)
	}
	return e
}

func (s *socket) ack(id, payload string) {
	s.t.Helper()
	frame := fmt.Sprintf(`{"envelope_id":%q}`, id)
	if payload != "" {
		frame = fmt.Sprintf(`{"envelope_id":%q,"payload":%s}`, id, payload)
	}
	s.send(frame)
}

func (s *socket) send(frame string) {
	s.t.Helper()
	if err := s.ws.WriteMessage(websocket.TextMessage, []byte(frame)); err != nil {
		s.t.Fatal(err)
	}
}

// closed reads until the connection ends and gives the close code, or 0.
func (s *socket) closed() int {
	s.t.Helper()
	_ = s.ws.SetReadDeadline(time.Now().Add(10 * time.Second))
	for {
		_, _, err := s.ws.ReadMessage()
		var c *websocket.CloseError
		switch {
		case err == nil:
		case asClose(err, &c):
			return c.Code
		default:
			if n, ok := err.(net.Error); ok && n.Timeout() {
				s.t.Fatal("the connection stays")
			}
			return 0
		}
	}
}

func asClose(err error, c **websocket.CloseError) bool {
	got, ok := err.(*websocket.CloseError)
	*c = got
	return ok
}

// quick are times for tests that wait for retries.
func quick() slackfake.Options {
	return slackfake.Options{
		AckDeadline: 60 * time.Millisecond, RetryAfter: []time.Duration{0, 10 * time.Millisecond, 20 * time.Millisecond},
		CloseDelay: 20 * time.Millisecond, PingEvery: 20 * time.Millisecond,
	}
}

func TestUnacknowledgedEventsComeFourTimes(t *testing.T) {
	fake := workspace(t, quick())
	s := dial(t, fake)
	ok[string](t)(fake.Say(direct, ada, "hello", ""))
	var ids, events []string
	for i := range 4 {
		e := s.next()
		event, _, _, _ := e.inner()
		ids, events = append(ids, e.EnvelopeID), append(events, event)
		if want := map[bool]string{true: "timeout"}[i > 0]; e.Attempt != i || e.RetryReason != want {
			t.Errorf("delivery %d says attempt %d, %q", i, e.Attempt, e.RetryReason)
		}
	}
	slices.Sort(ids)
	if len(slices.Compact(ids)) != 4 || len(slices.Compact(events)) != 1 {
		t.Errorf("envelopes %q, events %q: want four and one", ids, events)
	}
	wait(t, fake, "giving up", func() bool { return fake.Undelivered() == 0 })
	if d := fake.Deliveries()[0]; d.Failed == "" || len(d.Attempts) != 4 || !d.Attempts[3].Late {
		t.Errorf("the delivery is %+v", d)
	}
}

// Each case acknowledges the one event in its way.
func TestAcknowledgementsAreJudged(t *testing.T) {
	for _, c := range []struct {
		name, want string
		by         func(s *socket, id string)
	}{
		{"once", "", func(s *socket, id string) { s.ack(id, "") }},
		{"with nothing in it", "", func(s *socket, id string) { s.ack(id, "{}") }},
		{"twice", "second acknowledgement", func(s *socket, id string) { s.ack(id, ""); s.ack(id, "") }},
		{"unknown", "unknown envelope", func(s *socket, id string) { s.ack("nothing", ""); s.ack(id, "") }},
		{"with a payload", "which accepts none", func(s *socket, id string) { s.ack(id, `{"text":"x"}`) }},
		{"no JSON", "acknowledges nothing", func(s *socket, id string) { s.send("ok"); s.ack(id, "") }},
		{"binary", "binary frame", func(s *socket, id string) {
			_ = s.ws.WriteMessage(websocket.BinaryMessage, []byte("x"))
			s.ack(id, "")
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			fake := workspace(t, slackfake.Options{})
			s := dial(t, fake)
			ok[string](t)(fake.Say(direct, ada, "hello", ""))
			c.by(s, s.next().EnvelopeID)
			wait(t, fake, "an acknowledgement", func() bool {
				return fake.Undelivered() == 0 && (len(fake.Violations()) > 0) == (c.want != "")
			})
			if got := strings.Join(fake.Violations(), " "); !strings.Contains(got, c.want) {
				t.Errorf("violations %q, want %q", got, c.want)
			}
		})
	}
}

func TestLongFramesEndTheConnection(t *testing.T) {
	fake := workspace(t, slackfake.Options{})
	s := dial(t, fake)
	ok[string](t)(fake.Slash(faults, ada, "/ferrule", "x"))
	id := s.next().EnvelopeID
	s.ack(id, fmt.Sprintf(`{"text":%q}`, strings.Repeat("x", 20480)))
	if got := s.closed(); got != websocket.CloseMessageTooBig {
		t.Errorf("the connection ends with %d", got)
	}
	wait(t, fake, "a violation", func() bool {
		return fake.Connections() == 0 && strings.Contains(strings.Join(fake.Violations(), " "), "more than 20480 bytes")
	})
	s = dial(t, fake)
	ok[string](t)(fake.Slash(faults, ada, "/ferrule", "x"))
	id = s.next().EnvelopeID
	head := len(fmt.Sprintf(`{"envelope_id":%q,"payload":{"text":""}}`, id))
	s.ack(id, fmt.Sprintf(`{"text":"%s"}`, strings.Repeat("x", 20480-head)))
	wait(t, fake, "an answer of just the limit", func() bool { return len(fake.Ephemerals(faults)) == 1 })
}

func TestTicketsAreGoodOnce(t *testing.T) {
	fake := workspace(t, slackfake.Options{})
	_, address, err := client(fake).StartSocketModeContext(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for i, address := range []string{address, address, strings.Split(address, "?")[0]} {
		ws, resp, err := websocket.DefaultDialer.Dial(address, nil)
		if (err == nil) != (i == 0) {
			t.Errorf("dial %d: %v", i, err)
		}
		if err == nil {
			defer ws.Close()
		}
		_ = resp.Body.Close()
	}
	if n := len(fake.Violations()); n != 2 {
		t.Errorf("violations: %q", fake.Violations())
	}
	if n := len(fake.Connects()); n != 4 {
		t.Errorf("%d attempts are counted, want 4", n)
	}
}

func TestPingsGoBothWays(t *testing.T) {
	fake := workspace(t, quick())
	s := dial(t, fake)
	pinged, ponged := 0, 0
	s.ws.SetPingHandler(func(string) error { pinged++; return nil })
	s.ws.SetPongHandler(func(data string) error { ponged++; return nil })
	if err := s.ws.WriteControl(websocket.PingMessage, []byte("x"), time.Now().Add(time.Second)); err != nil {
		t.Fatal(err)
	}
	go func() {
		time.Sleep(100 * time.Millisecond)
		_ = fake.SendRaw([]byte(`{"type":"enough"}`))
	}()
	if e := s.next(); e.Type != "enough" || pinged < 2 || ponged != 1 {
		t.Errorf("%+v after %d pings and %d pongs", e, pinged, ponged)
	}
}

func TestEachEnvelopeGoesToOneConnection(t *testing.T) {
	fake := workspace(t, slackfake.Options{})
	a, b := dial(t, fake), dial(t, fake)
	for i := range 10 {
		ok[string](t)(fake.Say(direct, ada, fmt.Sprint(i), ""))
	}
	seen := map[string]int{}
	for range 5 {
		for _, s := range []*socket{a, b} {
			e := s.next()
			_, _, _, ts := e.inner()
			seen[ts]++
			s.ack(e.EnvelopeID, "")
		}
	}
	wait(t, fake, "all acknowledged", func() bool { return fake.Undelivered() == 0 })
	if len(seen) != 10 {
		t.Errorf("ten messages came as %v", seen)
	}
	clean(t, fake)
}

func TestTheEleventhConnectionIsSentAway(t *testing.T) {
	fake := workspace(t, quick())
	for range 10 {
		dial(t, fake)
	}
	s := dial(t, fake)
	if e := s.next(); e.Type != "disconnect" || e.Reason != "too_many_websockets" {
		t.Errorf("the eleventh gets %+v", e)
	}
	s.closed()
	if n := fake.Connections(); n != 10 {
		t.Errorf("%d connections are left", n)
	}
}
