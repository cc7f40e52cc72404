package socket_test

import (
	"context"
	"encoding/json"
	"fmt"
	"sync"
	"testing"
	"time"

	"github.com/slack-go/slack"

	"ferrule/bot/slackchat"
	"ferrule/bot/slackchat/slackfake"
	"ferrule/bot/slackchat/socket"
)

// bot takes each event and remembers which ones it has seen.
type bot struct {
	mu   sync.Mutex
	seen map[string]int // deliveries by event ID
}

func (b *bot) receive(_ context.Context, d slackchat.Delivery, done func([]byte, error)) {
	var e struct {
		ID string `json:"event_id"`
	}
	err := json.Unmarshal(d.Payload, &e)
	b.mu.Lock()
	b.seen[e.ID]++
	b.mu.Unlock()
	go done(nil, err)
}

// runBot connects to the stand-in until the test ends.
func runBot(t *testing.T, fake *slackfake.Server) *bot {
	api := slack.New(fake.BotToken(), slack.OptionAppLevelToken(fake.AppToken()), slack.OptionAPIURL(fake.URL()))
	b := &bot{seen: map[string]int{}}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() {
		ended <- socket.Run(ctx, socket.Options{
			Open: func(ctx context.Context) (string, error) {
				_, address, err := api.StartSocketModeContext(ctx)
				return address, err
			},
			Receive: b.receive,
			BackOff: socket.BackOff{First: 10 * time.Millisecond, Most: 50 * time.Millisecond},
		})
	}()
	t.Cleanup(func() {
		cancel()
		if err := <-ended; err != nil {
			t.Errorf("Run gave %v", err)
		}
	})
	return b
}

// Whatever the servers do, each event gets to the bot and is acknowledged, and
// nothing is sent that Slack would refuse.
func TestNoEventIsLostWhateverTheServersDo(t *testing.T) {
	troubles := []func(fake *slackfake.Server){
		func(fake *slackfake.Server) { fake.Cut() },
		func(fake *slackfake.Server) { fake.Disconnect("warning") },
		func(fake *slackfake.Server) { fake.Disconnect("refresh_requested") },
		func(fake *slackfake.Server) { fake.DisconnectOldest("warning") },
		func(fake *slackfake.Server) { fake.DisconnectAtHello(3); fake.Cut() },
		func(fake *slackfake.Server) { fake.RefuseConnections(true); fake.Cut() },
		func(fake *slackfake.Server) { fake.RefuseConnections(false) },
		func(fake *slackfake.Server) {
			fake.Fail("apps.connections.open", slackfake.Fault{Times: 2, Status: 500})
			fake.Cut()
		},
		func(fake *slackfake.Server) { fake.DropAcks(3) },
		func(fake *slackfake.Server) { _ = fake.SendRaw([]byte("\x00 no JSON")) },
		func(fake *slackfake.Server) {
			_ = fake.SendRaw([]byte(`{"envelope_id":"new","type":"workflow_step_v9","payload":{},"accepts_response_payload":false}`))
		},
	}
	fake, err := slackfake.New(slackfake.Options{
		AckDeadline: 500 * time.Millisecond, CloseDelay: 20 * time.Millisecond,
		RetryAfter: []time.Duration{0, 100 * time.Millisecond, time.Second},
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(fake.Close)
	fake.AddUser("U0ADA", "ada")
	fake.AddChannel("C0FAULTS", "faults", "U0ADA")
	b := runBot(t, fake)
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()

	const events = 220
	for n := range events {
		if n%10 == 5 {
			troubles[n/10%len(troubles)](fake)
		}
		if _, err := fake.Say("C0FAULTS", "U0ADA", fmt.Sprint("keypad is dead ", n), ""); err != nil {
			t.Fatal(err)
		}
		time.Sleep(3 * time.Millisecond) // for the troubles to come while events are on their way
	}
	if err := fake.WaitFor(ctx, func() bool { return fake.Undelivered() == 0 && fake.Connections() >= 2 }); err != nil {
		t.Fatalf("%d events are left, %d connections: %v", fake.Undelivered(), fake.Connections(), err)
	}
	again := 0
	for _, d := range fake.Deliveries() {
		if d.Failed != "" || d.Acked.IsZero() {
			t.Errorf("a %s was not delivered: %s", d.Type, d.Failed)
		}
		again += len(d.Attempts) - 1
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	if len(b.seen) != events {
		t.Errorf("the bot saw %d events of %d", len(b.seen), events)
	}
	for _, v := range fake.Violations() {
		t.Errorf("violation: %s", v)
	}
	t.Logf("%d events, delivered again %d times, %d connects", events, again, len(fake.Connects()))
}

func TestTurningSocketModeOffEndsRun(t *testing.T) {
	fake, err := slackfake.New(slackfake.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(fake.Close)
	for _, c := range []struct {
		code string
		do   func()
	}{
		{"link_disabled", func() { fake.Disconnect("link_disabled") }},
		{"token_revoked", func() { fake.Revoke(); fake.Cut() }},
	} {
		api := slack.New(fake.BotToken(), slack.OptionAppLevelToken(fake.AppToken()), slack.OptionAPIURL(fake.URL()))
		ended := make(chan error, 1)
		go func() {
			ended <- socket.Run(t.Context(), socket.Options{
				Open: func(ctx context.Context) (string, error) {
					_, address, err := api.StartSocketModeContext(ctx)
					return address, err
				},
				Receive: (&bot{seen: map[string]int{}}).receive,
				Ready:   func(context.Context) { c.do() },
				BackOff: socket.BackOff{First: time.Millisecond},
			})
		}()
		select {
		case err := <-ended:
			if fatal, _ := slackchat.AsFatal(err).(*slackchat.Fatal); fatal == nil || fatal.Code != c.code {
				t.Errorf("%s: Run gave %v", c.code, err)
			}
		case <-time.After(20 * time.Second):
			t.Fatalf("%s: Run did not end", c.code)
		}
	}
}
