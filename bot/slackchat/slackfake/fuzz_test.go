package slackfake_test

import (
	"encoding/json"
	"fmt"
	"html"
	"net/url"
	"strings"
	"testing"

	"ferrule/bot/slackchat/slackfake"
)

// Whatever is posted as blocks gets an answer; what is taken is taken again as it
// was kept, unchanged: the IDs that were added count as the sender's own.
func FuzzBlocks(f *testing.F) {
	for _, seed := range []string{
		`[]`, `null`, `[null]`, `[{"type":"divider"}]`, `[{"type":"section","text":{"type":"mrkdwn","text":"x"},"accessory":` + button(1, 1) + `}]`,
		`[{"type":"actions","elements":[` + button(75, 2000) + `]}]`, `[{"type":"table","rows":[[{"type":"raw_text","text":"a"}]]}]`,
		`[{"type":"rich_text","elements":[{"type":"rich_text_list","style":"bullet","elements":[{"type":"rich_text_section","elements":[{"type":"text","text":"x"}]}]}]}]`,
		`[{"type":"input","label":` + plainText(1) + `,"element":{"type":"plain_text_input"}}]`, `{"type":[]}`, `[{"type":"context","elements":[1,[],{}]}]`,
	} {
		f.Add(seed)
	}
	fake := workspace(f, slackfake.Options{PerChannel: slackfake.Rate{Off: true}, Scopes: []string{"chat:write"}})
	post := func(t *testing.T, blocks string) map[string]any {
		out, resp := call(t, fake, "chat.postMessage", asForm, fake.BotToken(), url.Values{"channel": {direct}, "text": {"x"}, "blocks": {blocks}}.Encode())
		if resp.StatusCode != 200 || out["error"] == "internal_error" {
			t.Fatalf("%s gives %s %v", blocks, resp.Status, out)
		}
		return out
	}
	kept := func(t *testing.T, out map[string]any) string {
		raw, err := json.Marshal(out["message"].(map[string]any)["blocks"])
		if err != nil {
			t.Fatal(err)
		}
		return string(raw)
	}
	f.Fuzz(func(t *testing.T, blocks string) {
		out := post(t, blocks)
		if out["ok"] != true {
			return
		}
		first := kept(t, out)
		if second := post(t, first); second["ok"] != true || kept(t, second) != first {
			t.Errorf("%s is kept as %s, which gives %v", blocks, first, second)
		}
	})
}

// What is typed comes out of the text again, and no < or > is left in it but
// those of mentions and links.
func FuzzTyped(f *testing.F) {
	for _, seed := range []string{"", "a < b & c", "<@U0ADA> x", "<@U0NONE>", "&lt;", "https://example.com/?a=1&b=<2>", "<!here>", "<#C0FAULTS|x>", "<<@U0ADA>>"} {
		f.Add(seed)
	}
	fake := workspace(f, slackfake.Options{Scopes: []string{"none"}})
	f.Fuzz(func(t *testing.T, typed string) {
		ts, err := fake.Say(direct, ada, typed, "")
		if err != nil {
			t.Fatal(err)
		}
		all := fake.Messages(direct)
		m := all[len(all)-1]
		if err := fake.Delete(direct, ts); err != nil {
			t.Fatal(err)
		}
		strip := strings.NewReplacer("<", "", ">", "", "#C0FAULTS|faults", "#C0FAULTS")
		if got, want := strip.Replace(html.UnescapeString(m.Text)), strip.Replace(typed); !strings.Contains(typed, "|") && !strings.Contains(typed, "&") && got != want {
			t.Errorf("%q became %q", typed, m.Text)
		}
		if rest := strings.NewReplacer("<@", "", "<#", "", "<!", "", "<http", "").Replace(m.Text); strings.Contains(rest, "<") {
			t.Errorf("%q became %q", typed, m.Text)
		}
	})
}

// Whatever a client writes to the socket, the stand-in goes on.
func FuzzAcknowledgement(f *testing.F) {
	for _, seed := range []string{"", "{}", `{"envelope_id":1}`, `{"envelope_id":"x","payload":`, `{"envelope_id":"x","payload":{"a":1}}`, "\xff"} {
		f.Add(seed)
	}
	fake := workspace(f, slackfake.Options{})
	f.Fuzz(func(t *testing.T, frame string) {
		if len(frame) > 20000 {
			return
		}
		s := dial(t, fake)
		defer s.ws.Close()
		wait(t, fake, "the last connection going", func() bool { return fake.Connections() == 1 })
		s.send(frame)
		before := fake.Undelivered()
		if err := fake.SendRaw(fmt.Appendf(nil, `{"type":"x","envelope_id":%q}`, "raw "+t.Name()+fmt.Sprint(len(fake.Deliveries())))); err != nil {
			t.Fatal(err)
		}
		s.ack(s.next().EnvelopeID, "")
		wait(t, fake, "an acknowledgement", func() bool { return fake.Undelivered() == before })
		if len(fake.Violations()) == 0 {
			t.Errorf("%q breaks no rule", frame)
		}
	})
}
