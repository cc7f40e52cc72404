package slackfake_test

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"ferrule/bot/slackchat/slackfake"

	"github.com/gorilla/websocket"
)

// echo is the least that a bot can do: it acknowledges, and answers people in
// their thread. It goes by no library, so that what it takes is the stand-in's.
func echo(t testing.TB, fake *slackfake.Server, posters int) (stop func()) {
	t.Helper()
	s := dial(t, fake)
	posts, acks := make(chan envelope, 10_000), make(chan string, 10_000)
	httpc := &http.Client{Transport: &http.Transport{MaxIdleConnsPerHost: posters}}
	var wg sync.WaitGroup
	wg.Go(func() {
		defer close(posts)
		defer close(acks)
		_ = s.ws.SetReadDeadline(time.Time{})
		for {
			var e envelope
			if s.ws.ReadJSON(&e) != nil {
				return
			}
			acks <- e.EnvelopeID
			posts <- e
		}
	})
	wg.Go(func() {
		for id := range acks {
			_ = s.ws.WriteMessage(websocket.TextMessage, []byte(`{"envelope_id":"`+id+`"}`))
		}
	})
	for range posters {
		wg.Go(func() {
			for e := range posts {
				answer(httpc, fake, e)
			}
		})
	}
	return func() {
		_ = s.ws.Close()
		wg.Wait()
		httpc.CloseIdleConnections()
	}
}

func answer(c *http.Client, fake *slackfake.Server, e envelope) {
	var p struct {
		Event struct {
			Channel, TS string
			BotID       string `json:"bot_id"`
		}
	}
	if json.Unmarshal(e.Payload, &p) != nil || p.Event.BotID != "" {
		return
	}
	form := url.Values{"token": {fake.BotToken()}, "channel": {p.Event.Channel}, "thread_ts": {p.Event.TS}, "text": {"heard"}}
	resp, err := c.Post(fake.URL()+"chat.postMessage", asForm, strings.NewReader(form.Encode()))
	if err == nil {
		_, _ = io.Copy(io.Discard, resp.Body) // else the connection is not used again
		_ = resp.Body.Close()
	}
}

// busy is a workspace of many direct conversations.
func busy(t testing.TB, n int) (*slackfake.Server, []string) {
	t.Helper()
	fake := workspace(t, slackfake.Options{})
	var channels []string
	for i := range n {
		user, id := fmt.Sprintf("U%05d", i), fmt.Sprintf("D%05d", i)
		fake.AddUser(user, "user")
		fake.AddDirect(id, user)
		channels = append(channels, id)
	}
	return fake, channels
}

func speak(t testing.TB, fake *slackfake.Server, channel string) {
	t.Helper()
	if _, err := fake.Say(channel, "U"+channel[1:], "hello", ""); err != nil {
		t.Fatal(err)
	}
}

// latencies gives the times from an event being written to its acknowledgement
// being read, and to the answer having come, each sorted.
func latencies(t testing.TB, fake *slackfake.Server) (acks, posts []time.Duration) {
	t.Helper()
	for _, d := range fake.Deliveries() {
		m := fake.Messages(d.Channel)
		if d.TS != m[0].TS { // the bot's own message
			continue
		}
		acks = append(acks, d.Acked.Sub(d.Attempts[0].Written))
		if i := slices.IndexFunc(m, func(m slackfake.Message) bool { return m.ThreadTS == d.TS }); i >= 0 {
			posts = append(posts, m[i].Arrived.Sub(d.Attempts[0].Written))
		}
	}
	slices.Sort(acks)
	slices.Sort(posts)
	return acks, posts
}

func answered(fake *slackfake.Server, channels []string) func() bool {
	at := 0 // those before are answered
	return func() bool {
		for at < len(channels) && len(fake.Messages(channels[at])) == 2 {
			at++
		}
		return at == len(channels) && fake.Undelivered() == 0
	}
}

// A burst of 2,000 events in 2,000 channels is delivered and answered whole, with
// each event acknowledged at its first delivery.
func TestABurstIsServedWhole(t *testing.T) {
	fake, channels := busy(t, 2000)
	defer echo(t, fake, 16)()
	for _, c := range channels {
		speak(t, fake, c)
	}
	wait(t, fake, "all answers", answered(fake, channels))
	for _, d := range fake.Deliveries() {
		if len(d.Attempts) != 1 {
			t.Fatalf("an event came %d times", len(d.Attempts))
		}
	}
	if acks, posts := latencies(t, fake); len(acks) != 2000 || len(posts) != 2000 {
		t.Errorf("%d acknowledgements and %d answers are measured", len(acks), len(posts))
	}
	clean(t, fake)
}

func report(b *testing.B, fake *slackfake.Server) {
	acks, posts := latencies(b, fake)
	at := func(d []time.Duration, part float64) float64 {
		return float64(d[min(len(d)-1, int(part*float64(len(d))))].Microseconds()) / 1000
	}
	b.ReportMetric(at(acks, 0.5), "ms-ack-p50")
	b.ReportMetric(at(acks, 0.99), "ms-ack-p99")
	b.ReportMetric(at(posts, 0.5), "ms-post-p50")
	b.ReportMetric(at(posts, 0.99), "ms-post-p99")
}

// BenchmarkEchoBurst sends 2,000 events in 2,000 channels at once.
func BenchmarkEchoBurst(b *testing.B) {
	for b.Loop() {
		fake, channels := busy(b, 2000)
		stop := echo(b, fake, 16)
		begun := time.Now()
		for _, c := range channels {
			speak(b, fake, c)
		}
		said := time.Since(begun)
		wait(b, fake, "all answers", answered(fake, channels))
		b.ReportMetric(float64(said.Microseconds())/2000, "us/say")
		b.ReportMetric(float64(time.Since(begun).Milliseconds()), "ms-all")
		report(b, fake)
		stop()
		fake.Close()
	}
}

// BenchmarkEcho200PerSecond sends 200 events a second for five seconds.
func BenchmarkEcho200PerSecond(b *testing.B) {
	for b.Loop() {
		fake, channels := busy(b, 1000)
		stop := echo(b, fake, 16)
		tick := time.NewTicker(5 * time.Millisecond)
		for _, c := range channels {
			<-tick.C
			speak(b, fake, c)
		}
		tick.Stop()
		wait(b, fake, "all answers", answered(fake, channels))
		report(b, fake)
		stop()
		fake.Close()
	}
}
