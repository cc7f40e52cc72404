package socket

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"runtime"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/gorilla/websocket"
	"github.com/slack-go/slack"
	"github.com/slack-go/slack/socketmode"

	"ferrule/bot/slackchat"
)

// serveSockets is a server on a real network; serve gets each connection.
func serveSockets(t testing.TB, serve func(n int, ws *websocket.Conn)) (server *httptest.Server, address string) {
	var n atomic.Int64
	server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if strings.HasSuffix(r.URL.Path, "apps.connections.open") {
			fmt.Fprintf(w, `{"ok":true,"url":"ws://%s/link"}`, r.Host)
			return
		}
		up := websocket.Upgrader{CheckOrigin: func(*http.Request) bool { return true }}
		ws, err := up.Upgrade(w, r, nil)
		if err != nil {
			t.Errorf("upgrading: %v", err)
			return
		}
		defer ws.Close()
		if ws.WriteMessage(websocket.TextMessage, []byte(`{"type":"hello"}`)) == nil {
			serve(int(n.Add(1)), ws)
		}
	}))
	t.Cleanup(server.Close)
	return server, "ws" + strings.TrimPrefix(server.URL, "http") + "/link"
}

// This is why the library's client is not used: sent away after each hello, it
// comes back at once, for ever. When this fails, look at it again.
func TestTheLibraryDoesNotHoldAStormBack(t *testing.T) {
	const many = 200
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
	defer cancel()
	server, _ := serveSockets(t, func(n int, ws *websocket.Conn) {
		if n == many {
			cancel()
			return
		}
		_ = ws.WriteMessage(websocket.TextMessage, []byte(`{"type":"disconnect","reason":"too_many_websockets"}`))
		_, _, _ = ws.ReadMessage()
	})
	client := socketmode.New(slack.New("xoxb-1", slack.OptionAPIURL(server.URL+"/api/"), slack.OptionAppLevelToken("xapp-1")))
	ended := make(chan struct{})
	go func() { defer close(ended); _ = client.RunContext(ctx) }()
	for open := true; open; {
		select {
		case <-client.Events:
		case <-ended:
			open = false
		}
	}
	if context.Cause(ctx) == context.DeadlineExceeded {
		t.Errorf("it did not come back %d times within 20 s", many)
	}
}

// Cut or sent away again and again, over TCP, deliveries are acknowledged and
// no goroutine is left.
func TestReconnectingLeavesNothingBehind(t *testing.T) {
	const reconnects = 200
	before := runtime.NumGoroutine()
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	var acks, taken atomic.Int64
	server, address := serveSockets(t, func(n int, ws *websocket.Conn) {
		_ = ws.WriteMessage(websocket.TextMessage, []byte(event(fmt.Sprint(n))))
		if _, data, err := ws.ReadMessage(); err == nil && string(data) == fmt.Sprintf(`{"envelope_id":"%d"}`, n) && acks.Add(1) == reconnects {
			cancel()
		}
		if n%2 == 0 {
			_ = ws.WriteMessage(websocket.TextMessage, []byte(`{"type":"disconnect","reason":"warning"}`))
			_, _, _ = ws.ReadMessage() // until the other side closes
		}
		_ = ws.NetConn().Close()
	})
	err := Run(ctx, Options{
		Open: func(context.Context) (string, error) { return address, nil },
		Receive: func(_ context.Context, _ slackchat.Delivery, done func([]byte, error)) {
			taken.Add(1)
			go done(nil, nil)
		},
		BackOff: BackOff{First: time.Microsecond, Most: time.Microsecond},
	})
	if err != nil {
		t.Errorf("Run gave %v", err)
	}
	if n := acks.Load(); n < reconnects || n > taken.Load() {
		t.Errorf("%d acknowledgements of %d deliveries, %d were wanted", n, taken.Load(), reconnects)
	}
	server.Close()
	for n := 0; runtime.NumGoroutine() > before; n++ {
		if n == 1000 {
			t.Fatalf("%d goroutines before, %d after", before, runtime.NumGoroutine())
		}
		time.Sleep(5 * time.Millisecond) // the server's own need a moment
	}
}

// BenchmarkAcknowledge is the way from an event written to its acknowledgement
// read, over TCP, with a receiver that does nothing.
func BenchmarkAcknowledge(b *testing.B) {
	ready := make(chan *websocket.Conn)
	quit := make(chan struct{})
	_, address := serveSockets(b, func(_ int, ws *websocket.Conn) { ready <- ws; <-quit })
	ctx, cancel := context.WithCancel(b.Context())
	ended := make(chan error)
	go func() {
		ended <- Run(ctx, Options{
			Open:    func(context.Context) (string, error) { return address, nil },
			Receive: takeAll, Connections: 1, Quiet: time.Hour,
		})
	}()
	ws := <-ready
	frame := []byte(event("e1"))
	b.ReportAllocs()
	for b.Loop() {
		if err := ws.WriteMessage(websocket.TextMessage, frame); err != nil {
			b.Fatal(err)
		}
		if _, _, err := ws.ReadMessage(); err != nil {
			b.Fatal(err)
		}
	}
	cancel()
	close(quit)
	<-ended
}
