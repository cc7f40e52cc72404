package slackfake_test

import (
	"context"
	"errors"
	"runtime"
	"strings"
	"testing"
	"time"

	"ferrule/bot/slackchat/slackfake"

	"github.com/slack-go/slack"
	"github.com/slack-go/slack/slackevents"
	"github.com/slack-go/slack/socketmode"
)

const (
	faults = "C0FAULTS"
	direct = "D0ADA"
	ada    = "U0ADA"
	ben    = "U0BEN"
)

// workspace starts a stand-in with two people, a channel and a direct
// conversation; it is held to have seen no violation, unless the test takes them.
func workspace(t testing.TB, o slackfake.Options) *slackfake.Server {
	t.Helper()
	before := runtime.NumGoroutine()
	fake, err := slackfake.New(o)
	if err != nil {
		t.Fatal(err)
	}
	fake.AddUser(ada, "ada")
	fake.AddUser(ben, "ben")
	fake.AddChannel(faults, "faults", ada, ben)
	fake.AddDirect(direct, ada)
	t.Cleanup(func() {
		fake.Close()
		for range 200 { // connections of a client end a moment after it
			if runtime.NumGoroutine() <= before {
				return
			}
			time.Sleep(10 * time.Millisecond)
		}
		stacks := make([]byte, 1<<20)
		stacks = stacks[:runtime.Stack(stacks, true)]
		if strings.Contains(string(stacks), "slackfake.(*") {
			t.Errorf("goroutines of the stand-in are left:\n%s", stacks)
		}
	})
	return fake
}

// patient is a context that ends a test that hangs.
func patient(t testing.TB) context.Context {
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	t.Cleanup(cancel)
	return ctx
}

func client(fake *slackfake.Server) *slack.Client {
	return slack.New(fake.BotToken(), slack.OptionAppLevelToken(fake.AppToken()), slack.OptionAPIURL(fake.URL()))
}

// code is Slack's word for an error.
func code(err error) string {
	var s slack.SlackErrorResponse
	var r *slack.RateLimitedError
	switch {
	case err == nil:
		return ""
	case errors.As(err, &s):
		return s.Err
	case errors.As(err, &r):
		return "429 after " + r.RetryAfter.String()
	}
	return err.Error()
}

func ok[T any](t testing.TB) func(v T, err error) T {
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

func wait(t testing.TB, fake *slackfake.Server, what string, done func() bool) {
	t.Helper()
	if err := fake.WaitFor(patient(t), done); err != nil {
		t.Fatalf("%s: %v; violations: %q; deliveries: %+v", what, err, fake.Violations(), fake.Deliveries())
	}
}

// clean fails a test whose client broke a rule.
func clean(t testing.TB, fake *slackfake.Server) {
	t.Helper()
	if v := fake.Violations(); len(v) > 0 {
		t.Errorf("violations: %q", v)
	}
}

// echoBot is a small bot on slack-go's own socket client. It answers mentions in
// their thread, opens a form from a button, checks it, and publishes a home page.
func echoBot(t *testing.T, fake *slackfake.Server) {
	t.Helper()
	api := client(fake)
	sm := socketmode.New(api)
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan struct{})
	go func() { defer close(ended); _ = sm.RunContext(ctx) }()
	go func() {
		for {
			select {
			case <-ctx.Done():
				return
			case e := <-sm.Events:
				handle(api, sm, e)
			}
		}
	}()
	t.Cleanup(func() { cancel(); <-ended })
	wait(t, fake, "connecting", func() bool { return fake.Connections() == 1 })
}

func handle(api *slack.Client, sm *socketmode.Client, e socketmode.Event) {
	switch data := e.Data.(type) {
	case slackevents.EventsAPIEvent:
		_ = sm.Ack(*e.Request)
		switch in := data.InnerEvent.Data.(type) {
		case *slackevents.AppMentionEvent:
			_, _, _ = api.PostMessage(in.Channel, slack.MsgOptionTS(in.TimeStamp), slack.MsgOptionText("heard", false), slack.MsgOptionBlocks(
				slack.NewActionBlock("row", slack.NewButtonBlockElement("fill", "17 3 yes", slack.NewTextBlockObject("plain_text", "Fill in", false, false)))))
		case *slackevents.AppHomeOpenedEvent:
			_, _ = api.PublishView(in.User, slack.HomeTabViewRequest{Type: slack.VTHomeTab, Blocks: slack.Blocks{BlockSet: []slack.Block{slack.NewDividerBlock()}}}, "")
		}
	case slack.SlashCommand:
		_ = sm.Ack(*e.Request, map[string]any{"response_type": "ephemeral", "text": "you said " + data.Text})
	case slack.InteractionCallback:
		switch data.Type {
		case slack.InteractionTypeBlockActions:
			_ = sm.Ack(*e.Request)
			_, _ = api.OpenView(data.TriggerID, form())
		case slack.InteractionTypeViewSubmission:
			if data.View.State.Values["level"]["value"].Value == "140" {
				_ = sm.Ack(*e.Request, slack.NewErrorsViewSubmissionResponse(map[string]string{"level": "at most 100"}))
				return
			}
			_ = sm.Ack(*e.Request)
		}
	}
}

// form is a form with one input.
func form() slack.ModalViewRequest {
	plain := func(s string) *slack.TextBlockObject { return slack.NewTextBlockObject("plain_text", s, false, false) }
	return slack.ModalViewRequest{
		Type: slack.VTModal, Title: plain("Readings"), Submit: plain("Send"), CallbackID: "readings",
		Blocks: slack.Blocks{BlockSet: []slack.Block{
			slack.NewInputBlock("level", plain("Level"), nil, slack.NewNumberInputBlockElement(nil, "value", true)),
		}},
	}
}

// A bot on slack-go passes all that a person does, with no violation.
func TestSlackGoBotServesAPerson(t *testing.T) {
	fake := workspace(t, slackfake.Options{})
	echoBot(t, fake)
	ts := ok[string](t)(fake.Say(faults, ada, fake.Mention()+" the keypad is <dead> & cold", ""))
	wait(t, fake, "a reply", func() bool { return len(fake.Replies(faults, ts)) == 1 })
	if got := fake.Messages(faults)[0].Text; got != fake.Mention()+" the keypad is &lt;dead&gt; &amp; cold" {
		t.Errorf("the text is %q", got)
	}
	reply := fake.Replies(faults, ts)[0]
	press := ok[string](t)(fake.Press(faults, reply.TS, ben, "fill"))
	wait(t, fake, "a form", func() bool { return len(fake.Views(ben)) == 1 })
	if d, _ := fake.Delivery(press); !strings.Contains(string(d.Payload), `"value":"17 3 yes"`) {
		t.Errorf("the press carries %s", d.Payload)
	}
	v := fake.Views(ben)[0]
	if _, err := fake.Submit(ben, v.ID, map[string]string{"level": "many"}); err == nil {
		t.Error("a number input takes a word")
	}
	ok[string](t)(fake.Submit(ben, v.ID, map[string]string{"level": "140"}))
	wait(t, fake, "an error in the form", func() bool { return len(fake.Views(ben)) == 1 && fake.Views(ben)[0].Errors["level"] != "" })
	ok[string](t)(fake.Submit(ben, v.ID, map[string]string{"level": "38.5"}))
	wait(t, fake, "the form closing", func() bool { return len(fake.Views(ben)) == 0 })
	ok[string](t)(fake.Slash(faults, ada, "/ferrule", "status"))
	wait(t, fake, "an answer to a command", func() bool { return len(fake.Ephemerals(faults)) == 1 })
	if e := fake.Ephemerals(faults)[0]; e.Text != "you said status" || e.User != ada {
		t.Errorf("the answer is %+v", e)
	}
	ok[string](t)(fake.OpenHome(ada))
	wait(t, fake, "a home page", func() bool { _, is := fake.Home(ada); return is })
	wait(t, fake, "all acknowledged", func() bool { return fake.Undelivered() == 0 })
	clean(t, fake)
}
