package slackfake_test

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"ferrule/bot/slackchat/slackfake"

	"github.com/slack-go/slack"
)

// trigger gives a fresh trigger ID, of a command.
func trigger(t testing.TB, fake *slackfake.Server) string {
	t.Helper()
	d, _ := fake.Delivery(ok[string](t)(fake.Slash(faults, ada, "/ferrule", "")))
	var p struct {
		TriggerID string `json:"trigger_id"`
	}
	if err := json.Unmarshal(d.Payload, &p); err != nil {
		t.Fatal(err)
	}
	return p.TriggerID
}

func TestTriggersAreGoodOnceAndForThreeSeconds(t *testing.T) {
	now := time.Unix(1_800_000_000, 0)
	fake := workspace(t, slackfake.Options{Now: func() time.Time { return now }})
	api := client(fake)
	open := func(id string) string {
		_, err := api.OpenView(id, form())
		return code(err)
	}
	one, two, three := trigger(t, fake), trigger(t, fake), trigger(t, fake)
	if got := open("1.2.3"); got != "invalid_trigger_id" {
		t.Errorf("an unknown one gives %q", got)
	}
	if got := open(one); got != "" {
		t.Errorf("a fresh one gives %q", got)
	}
	if got := open(one); got != "exchanged_trigger_id" {
		t.Errorf("a used one gives %q", got)
	}
	now = now.Add(3 * time.Second)
	if got := open(two); got != "" {
		t.Errorf("one of three seconds gives %q", got)
	}
	now = now.Add(time.Millisecond)
	if got := open(three); got != "expired_trigger_id" {
		t.Errorf("an old one gives %q", got)
	}
	if n := len(fake.Views(ada)); n != 2 {
		t.Errorf("%d forms are open", n)
	}
}

// A form that is refused leaves its trigger as it was.
func TestRefusedFormsDoNotUseTheTrigger(t *testing.T) {
	fake := workspace(t, slackfake.Options{})
	api, id := client(fake), trigger(t, fake)
	bad := form()
	bad.Submit = nil
	if _, err := api.OpenView(id, bad); code(err) != "invalid_arguments" {
		t.Errorf("a bad form gives %q", code(err))
	}
	if _, err := api.OpenView(id, form()); err != nil {
		t.Errorf("the trigger is used up: %v", err)
	}
}

func TestHashesGuardViews(t *testing.T) {
	fake := workspace(t, slackfake.Options{})
	api := client(fake)
	home := slack.HomeTabViewRequest{Type: slack.VTHomeTab, Blocks: slack.Blocks{BlockSet: []slack.Block{slack.NewDividerBlock()}}}
	first, err := api.PublishView(ada, home, "")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := api.PublishView(ada, home, first.Hash); err != nil {
		t.Errorf("the hash of what is shown gives %v", err)
	}
	if _, err := api.PublishView(ada, home, first.Hash); code(err) != "hash_conflict" {
		t.Errorf("an old hash gives %q", code(err))
	}
	if _, err := api.PublishView("U0NONE", home, ""); code(err) != "user_not_found" {
		t.Errorf("nobody's home page gives %q", code(err))
	}
	opened, err := api.OpenView(trigger(t, fake), form())
	if err != nil {
		t.Fatal(err)
	}
	if _, err := api.UpdateView(form(), "", "1.old", opened.ID); code(err) != "hash_conflict" {
		t.Errorf("an old hash of a form gives %q", code(err))
	}
	if _, err := api.UpdateView(form(), "", opened.Hash, opened.ID); err != nil {
		t.Errorf("updating a form gives %v", err)
	}
	if _, err := api.UpdateView(form(), "", "", "V0NONE"); code(err) != "not_found" {
		t.Errorf("updating no form gives %q", code(err))
	}
}

// The state of a form has the types of its inputs, and null where one is empty.
func TestSubmittedState(t *testing.T) {
	fake := workspace(t, slackfake.Options{})
	view := `{"type":"modal","title":` + plainText(1) + `,"submit":` + plainText(1) + `,"blocks":[
		{"type":"input","block_id":"n","optional":true,"label":` + plainText(1) + `,"element":{"type":"number_input","action_id":"a","is_decimal_allowed":false}},
		{"type":"input","block_id":"t","label":` + plainText(1) + `,"element":{"type":"plain_text_input","action_id":"a","max_length":5}},
		{"type":"input","block_id":"s","label":` + plainText(1) + `,"element":{"type":"static_select","action_id":"a","options":[{"text":` + plainText(1) + `,"value":"one"}]}},
		{"type":"input","block_id":"m","optional":true,"label":` + plainText(1) + `,"element":{"type":"checkboxes","action_id":"a","options":[{"text":` + plainText(1) + `,"value":"x"},{"text":` + plainText(1) + `,"value":"y"}]}}]}`
	out, _ := call(t, fake, "views.open", asJSON, fake.BotToken(), `{"trigger_id":"`+trigger(t, fake)+`","view":`+view+`}`)
	if out["ok"] != true {
		t.Fatal(out)
	}
	id := fake.Views(ada)[0].ID
	for _, c := range []struct {
		name   string
		values map[string]string
	}{
		{"a needed field is empty", map[string]string{"t": "x"}},
		{"too long", map[string]string{"t": "123456", "s": "one"}},
		{"no such option", map[string]string{"t": "x", "s": "two"}},
		{"no whole number", map[string]string{"t": "x", "s": "one", "n": "1.5"}},
		{"no such input", map[string]string{"t": "x", "s": "one", "q": "1"}},
	} {
		if _, err := fake.Submit(ada, id, c.values); err == nil {
			t.Errorf("%s: it can be sent", c.name)
		}
	}
	if _, err := fake.Submit(ben, id, map[string]string{"t": "x", "s": "one"}); err == nil {
		t.Error("somebody else's form can be sent")
	}
	d, _ := fake.Delivery(ok[string](t)(fake.Submit(ada, id, map[string]string{"t": "x", "s": "one", "m": "x\ny"})))
	var p struct {
		View struct {
			State struct {
				Values map[string]map[string]json.RawMessage `json:"values"`
			} `json:"state"`
		} `json:"view"`
	}
	if err := json.Unmarshal(d.Payload, &p); err != nil {
		t.Fatal(err)
	}
	for block, want := range map[string]string{
		"n": `{"type":"number_input","value":null}`, "t": `{"type":"plain_text_input","value":"x"}`,
		"s": `"value":"one"`, "m": `"value":"y"`,
	} {
		if got := string(p.View.State.Values[block]["a"]); !strings.Contains(got, want) {
			t.Errorf("%s holds %s, want %s", block, got, want)
		}
	}
}

// Answers to a form that Slack shows as trouble are violations.
func TestWrongAnswersToFormsAreViolations(t *testing.T) {
	for _, c := range []struct{ name, answer, want string }{
		{"closing", `{}`, ""},
		{"an error at an input", `{"response_action":"errors","errors":{"level":"no"}}`, ""},
		{"an error nowhere", `{"response_action":"errors","errors":{"depth":"no"}}`, `there is no input "depth"`},
		{"no errors", `{"response_action":"errors","errors":{}}`, "errors without any"},
		{"unknown action", `{"response_action":"shut"}`, "unknown response_action shut"},
		{"a bad view", `{"response_action":"update","view":{"type":"modal"}}`, "missing required field"},
		{"no object", `"done"`, "no JSON object"},
	} {
		t.Run(c.name, func(t *testing.T) {
			fake := workspace(t, slackfake.Options{})
			if _, err := client(fake).OpenView(trigger(t, fake), form()); err != nil {
				t.Fatal(err)
			}
			s := dial(t, fake)
			s.ack(s.next().EnvelopeID, "") // the command
			id := ok[string](t)(fake.Submit(ada, fake.Views(ada)[0].ID, map[string]string{"level": "1"}))
			s.ack(s.next().EnvelopeID, c.answer)
			wait(t, fake, "an acknowledgement", func() bool { d, _ := fake.Delivery(id); return !d.Acked.IsZero() })
			got := strings.Join(fake.Violations(), " ")
			if (got == "") != (c.want == "") || !strings.Contains(got, c.want) {
				t.Errorf("violations %q, want %q", got, c.want)
			}
			if open := len(fake.Views(ada)) == 1; open != (c.answer != "{}") {
				t.Errorf("the form is open: %v", open)
			}
		})
	}
}

// A form can be replaced, and others be put above it; closing one shows the one
// below, and clearing closes all.
func TestFormsAreStacked(t *testing.T) {
	fake := workspace(t, slackfake.Options{})
	if _, err := client(fake).OpenView(trigger(t, fake), form()); err != nil {
		t.Fatal(err)
	}
	s := dial(t, fake)
	s.ack(s.next().EnvelopeID, "") // the command
	submit := func(answer string) []slackfake.View {
		t.Helper()
		open := fake.Views(ada)
		id := ok[string](t)(fake.Submit(ada, open[len(open)-1].ID, map[string]string{"level": "1"}))
		s.ack(s.next().EnvelopeID, answer)
		wait(t, fake, "an acknowledgement", func() bool { d, _ := fake.Delivery(id); return !d.Acked.IsZero() })
		return fake.Views(ada)
	}
	raw, err := json.Marshal(form())
	if err != nil {
		t.Fatal(err)
	}
	first := fake.Views(ada)[0]
	if open := submit(`{"response_action":"update","view":` + string(raw) + `}`); len(open) != 1 || open[0].ID != first.ID || open[0].Hash == first.Hash {
		t.Errorf("after an update: %+v", open)
	}
	push := `{"response_action":"push","view":` + string(raw) + `}`
	if open := submit(push); len(open) != 2 || open[1].ID == first.ID {
		t.Errorf("after a push: %+v", open)
	}
	if open := submit(""); len(open) != 1 || open[0].ID != first.ID {
		t.Errorf("after closing the upper one: %+v", open)
	}
	submit(push)
	if open := submit(`{"response_action":"clear"}`); len(open) != 0 {
		t.Errorf("after clearing: %+v", open)
	}
	clean(t, fake)
}

// Buttons work in a form, on the home page, and in what only one person sees.
func TestButtonsOutsideOfMessages(t *testing.T) {
	fake := workspace(t, slackfake.Options{})
	api := client(fake)
	row := slack.NewActionBlock("row", slack.NewButtonBlockElement("mine", "17", slack.NewTextBlockObject("plain_text", "Mine", false, false)))
	home := slack.HomeTabViewRequest{Type: slack.VTHomeTab, Blocks: slack.Blocks{BlockSet: []slack.Block{row}}}
	published, err := api.PublishView(ada, home, "")
	if err != nil {
		t.Fatal(err)
	}
	d, _ := fake.Delivery(ok[string](t)(fake.PressIn(published.ID, ada, "mine")))
	if !strings.Contains(string(d.Payload), `"container":{"type":"view"`) || strings.Contains(string(d.Payload), "response_url") {
		t.Errorf("a press on the home page is %s", d.Payload)
	}
	if _, err := fake.PressIn(published.ID, ben, "mine"); err == nil {
		t.Error("ben presses on ada's home page")
	}
	ts, err := api.PostEphemeral(faults, ada, slack.MsgOptionText("psst", false), slack.MsgOptionBlocks(row))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := fake.Press(faults, ts, ben, "mine"); err == nil {
		t.Error("ben presses what only ada sees")
	}
	if _, err := fake.Press(faults, ts, ada, "yours"); err == nil {
		t.Error("a button that there is not can be pressed")
	}
	d, _ = fake.Delivery(ok[string](t)(fake.Press(faults, ts, ada, "mine")))
	var p struct {
		ResponseURL string `json:"response_url"`
		Container   struct {
			IsEphemeral bool `json:"is_ephemeral"`
		} `json:"container"`
		Message json.RawMessage `json:"message"`
	}
	if err := json.Unmarshal(d.Payload, &p); err != nil || !p.Container.IsEphemeral || p.Message != nil {
		t.Errorf("a press in a hidden message is %s, %v", d.Payload, err)
	}
	if err := slack.PostWebhook(p.ResponseURL, &slack.WebhookMessage{Text: "done", ReplaceOriginal: true}); err != nil {
		t.Fatal(err)
	}
	if e := fake.Ephemerals(faults); len(e) != 1 || e[0].Text != "done" || len(e[0].Blocks) != 0 {
		t.Errorf("after replacing: %+v", e)
	}
}
