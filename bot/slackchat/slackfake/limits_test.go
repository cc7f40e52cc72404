package slackfake_test

import (
	"fmt"
	"net/url"
	"slices"
	"strings"
	"testing"

	"ferrule/bot/slackchat/slackfake"
)

func text(n int) string { return strings.Repeat("ä", n) } // two bytes a character

func plainText(n int) string { return fmt.Sprintf(`{"type":"plain_text","text":%q}`, text(n)) }

func many(n int, one string) string {
	return "[" + strings.TrimSuffix(strings.Repeat(one+",", n), ",") + "]"
}

func button(n, value int) string {
	return fmt.Sprintf(`{"type":"button","text":%s,"value":%q}`, plainText(n), text(value))
}

func options(n, long, value int) string {
	return many(n, fmt.Sprintf(`{"text":%s,"value":%q}`, plainText(long), text(value)))
}

// Each limit of a message: what is just within it, and what is just beyond it.
// The numbers are those of https://docs.slack.dev/reference/block-kit, as the
// comments of @slack/types 3.2.0 give them; together: see mostChars.
func TestBlockLimits(t *testing.T) {
	fake := workspace(t, slackfake.Options{PerChannel: slackfake.Rate{Off: true}})
	fit := func(format string) func(n int) string {
		return func(n int) string { return fmt.Sprintf(format, plainText(n)) }
	}
	for _, c := range []struct {
		name   string
		most   int
		blocks func(n int) string
	}{
		{"blocks of a message", 50, func(n int) string { return many(n, `{"type":"divider"}`) }},
		{"section text", 3000, fit(`[{"type":"section","text":%s}]`)},
		{"section fields", 10, func(n int) string { return `[{"type":"section","fields":` + many(n, plainText(1)) + `}]` }},
		{"text of a field", 2000, fit(`[{"type":"section","fields":[%s]}]`)},
		{"header", 150, fit(`[{"type":"header","text":%s}]`)},
		{"context elements", 10, func(n int) string { return `[{"type":"context","elements":` + many(n, plainText(1)) + `}]` }},
		{"actions", 25, func(n int) string { return `[{"type":"actions","elements":` + many(n, button(1, 1)) + `}]` }},
		{"button text", 75, func(n int) string { return `[{"type":"actions","elements":[` + button(n, 1) + `]}]` }},
		{"button value", 2000, func(n int) string { return `[{"type":"actions","elements":[` + button(1, n) + `]}]` }},
		{"block_id", 255, func(n int) string { return fmt.Sprintf(`[{"type":"divider","block_id":%q}]`, text(n)) }},
		{"action_id", 255, func(n int) string {
			return fmt.Sprintf(`[{"type":"actions","elements":[{"type":"button","action_id":%q,"text":%s}]}]`, text(n), plainText(1))
		}},
		{"options of a select", 100, func(n int) string {
			return `[{"type":"actions","elements":[{"type":"static_select","options":` + options(n, 1, 1) + `}]}]`
		}},
		{"text of an option", 75, func(n int) string {
			return `[{"type":"actions","elements":[{"type":"static_select","options":` + options(1, n, 1) + `}]}]`
		}},
		{"value of an option", 150, func(n int) string {
			return `[{"type":"actions","elements":[{"type":"static_select","options":` + options(1, 1, n) + `}]}]`
		}},
		{"placeholder", 150, func(n int) string {
			return fmt.Sprintf(`[{"type":"actions","elements":[{"type":"static_select","placeholder":%s,"options":%s}]}]`, plainText(n), options(1, 1, 1))
		}},
		{"overflow", 5, func(n int) string {
			return `[{"type":"section","text":` + plainText(1) + `,"accessory":{"type":"overflow","options":` + options(n, 1, 1) + `}}]`
		}},
		{"radio buttons", 10, func(n int) string {
			return `[{"type":"actions","elements":[{"type":"radio_buttons","options":` + options(n, 1, 1) + `}]}]`
		}},
		{"checkboxes", 10, func(n int) string {
			return `[{"type":"actions","elements":[{"type":"checkboxes","options":` + options(n, 1, 1) + `}]}]`
		}},
		{"alt text", 2000, func(n int) string {
			return fmt.Sprintf(`[{"type":"image","image_url":"https://example.com/a.png","alt_text":%q}]`, text(n))
		}},
		{"input label", 2000, func(n int) string {
			return fmt.Sprintf(`[{"type":"input","label":%s,"element":{"type":"plain_text_input"}}]`, plainText(n))
		}},
		{"confirm title", 100, func(n int) string {
			return fmt.Sprintf(`[{"type":"actions","elements":[{"type":"button","text":%s,"confirm":{"title":%s,"text":%s,"confirm":%s,"deny":%s}}]}]`,
				plainText(1), plainText(n), plainText(300), plainText(30), plainText(30))
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			for _, n := range []int{c.most, c.most + 1, 0} {
				out := postBlocks(t, fake, c.blocks(n))
				want := ""
				if n != c.most && (n != 0 || c.name != "blocks of a message") {
					want = "invalid_blocks"
				}
				if got, _ := out["error"].(string); got != want {
					t.Errorf("%d: %v, want %q", n, out, want)
				}
				if want != "" && out["response_metadata"] == nil {
					t.Errorf("%d: no messages say what is wrong", n)
				}
			}
		})
	}
}

func postBlocks(t *testing.T, fake *slackfake.Server, blocks string) map[string]any {
	t.Helper()
	out, _ := call(t, fake, "chat.postMessage", asForm, fake.BotToken(), url.Values{"channel": {faults}, "text": {"x"}, "blocks": {blocks}}.Encode())
	return out
}

func TestWrongBlocksAreRefused(t *testing.T) {
	fake := workspace(t, slackfake.Options{PerChannel: slackfake.Rate{Off: true}})
	section := `{"type":"section","text":` + plainText(2700) + `}`
	for _, c := range []struct{ name, blocks, want, says string }{
		{"no JSON", `[{`, "invalid_blocks_format", ""},
		{"no list", `{"type":"divider"}`, "invalid_blocks_format", ""},
		{"unknown type", `[{"type":"sectoin"}]`, "invalid_blocks", "unsupported type: sectoin [json-pointer:/blocks/0/type]"},
		{"no type", `[{}]`, "invalid_blocks", "unsupported type"},
		{"unknown field", `[{"type":"divider","colour":"red"}]`, "invalid_blocks", "invalid additional property: colour"},
		{"section without contents", `[{"type":"section"}]`, "invalid_blocks", "must define one of: text, fields"},
		{"markup in a header", `[{"type":"header","text":{"type":"mrkdwn","text":"x"}}]`, "invalid_blocks", "unsupported type: mrkdwn"},
		{"markup on a button", `[{"type":"actions","elements":[{"type":"button","text":{"type":"mrkdwn","text":"x"}}]}]`, "invalid_blocks", "unsupported type"},
		{"green button", `[{"type":"actions","elements":[{"type":"button","style":"green","text":` + plainText(1) + `}]}]`, "invalid_blocks", "must be one of: primary, danger"},
		{"image without alt text", `[{"type":"image","image_url":"https://example.com/a.png"}]`, "invalid_blocks", "missing required field: alt_text"},
		{"two of one block_id", `[{"type":"divider","block_id":"a"},{"type":"divider","block_id":"a"}]`, "invalid_blocks", "already exists: a"},
		{"two of one action_id in a row", `[{"type":"actions","elements":[{"type":"button","action_id":"a","text":` + plainText(1) + `},{"type":"button","action_id":"a","text":` + plainText(1) + `}]}]`, "invalid_blocks", "already exists: a"},
		{"a list of text", `[{"type":"rich_text","elements":[{"type":"rich_text_list","style":"bullet","elements":[{"type":"text","text":"x"}]}]}]`, "invalid_blocks", "unsupported type: text"},
		{"all together too long", "[" + strings.TrimSuffix(strings.Repeat(section+",", 5), ",") + "]", "msg_blocks_too_long", ""},
		{"number input without decimals", `[{"type":"input","label":` + plainText(1) + `,"element":{"type":"number_input"}}]`, "invalid_blocks", "missing required field: is_decimal_allowed"},
	} {
		t.Run(c.name, func(t *testing.T) {
			out := postBlocks(t, fake, c.blocks)
			if out["error"] != c.want || !strings.Contains(fmt.Sprint(out), c.says) {
				t.Errorf("%v, want %s with %q", out, c.want, c.says)
			}
		})
	}
	if n := len(fake.Messages(faults)); n != 0 {
		t.Errorf("%d messages were posted all the same", n)
	}
}

func TestLongTextIsCutOff(t *testing.T) {
	fake := workspace(t, slackfake.Options{})
	out, _ := call(t, fake, "chat.postMessage", asForm, fake.BotToken(), url.Values{"channel": {faults}, "text": {text(40001)}}.Encode())
	if got := []rune(fake.Messages(faults)[0].Text); out["ok"] != true || len(got) != 40000 {
		t.Errorf("%d characters were kept", len(got))
	}
}

// Blocks that have no IDs get them, and keep those that they have.
func TestBlocksGetIDs(t *testing.T) {
	fake := workspace(t, slackfake.Options{})
	postBlocks(t, fake, `[{"type":"actions","elements":[`+button(1, 1)+`]},{"type":"divider","block_id":"mine"},{"type":"context","elements":[`+plainText(1)+`]}]`)
	raw := string(fake.Messages(faults)[0].Blocks)
	if strings.Count(raw, `"block_id"`) != 3 || !strings.Contains(raw, `"block_id":"mine"`) || strings.Count(raw, `"action_id"`) != 1 {
		t.Errorf("the blocks are %s", raw)
	}
}

// A form is judged as a message is, with limits of its own.
func TestViewLimits(t *testing.T) {
	fake := workspace(t, slackfake.Options{})
	input := `{"type":"input","label":` + plainText(1) + `,"element":{"type":"plain_text_input"}}`
	modal := func(title, submit int, blocks, more string) string {
		return fmt.Sprintf(`{"type":"modal","title":%s,"submit":%s,"blocks":%s%s}`, plainText(title), plainText(submit), blocks, more)
	}
	for _, c := range []struct{ name, view, says string }{
		{"all at their limits", modal(24, 24, many(100, input), fmt.Sprintf(`,"private_metadata":%q,"callback_id":%q`, text(3000), text(255))), ""},
		{"title", modal(25, 1, many(1, input), ""), "/view/title/text"},
		{"submit", modal(1, 25, many(1, input), ""), "/view/submit/text"},
		{"blocks", modal(1, 1, many(101, input), ""), "no more than 100 items"},
		{"private metadata", modal(1, 1, many(1, input), fmt.Sprintf(`,"private_metadata":%q`, text(3001))), "/view/private_metadata"},
		{"no title", `{"type":"modal","blocks":[{"type":"divider"}]}`, "missing required field: title"},
		{"inputs without submit", `{"type":"modal","title":` + plainText(1) + `,"blocks":[` + input + `]}`, "missing required field: submit"},
		{"a home page as a form", `{"type":"home","blocks":[{"type":"divider"}]}`, "unsupported type: home"},
		{"markdown", modal(1, 1, `[{"type":"markdown","text":"x"}]`, ""), "unsupported type: markdown"},
	} {
		t.Run(c.name, func(t *testing.T) {
			out, _ := call(t, fake, "views.open", asJSON, fake.BotToken(), fmt.Sprintf(`{"trigger_id":%q,"view":%s}`, trigger(t, fake), c.view))
			switch {
			case c.says == "" && out["ok"] != true:
				t.Errorf("it is refused: %v", out)
			case c.says != "" && (out["error"] != "invalid_arguments" || !strings.Contains(fmt.Sprint(out), c.says)):
				t.Errorf("%v, want invalid_arguments with %q", out, c.says)
			}
		})
	}
}

// What people type is text and rich text, escaped as Slack does.
func TestTypedTextIsEscaped(t *testing.T) {
	fake := workspace(t, slackfake.Options{Order: slackfake.MessageFirst})
	fake.AddGroup("S0LEADS", ben)
	for _, c := range []struct{ typed, text, block string }{
		{"a < b & c > d", "a &lt; b &amp; c &gt; d", `"text":"a \u003c b \u0026 c \u003e d"`},
		{"<@U0BEN> look", "<@U0BEN> look", `{"type":"user","user_id":"U0BEN"}`},
		{"<@U0NOBODY> look", "&lt;@U0NOBODY&gt; look", `"text":"\u003c@U0NOBODY\u003e look"`},
		{"see <#C0FAULTS>", "see <#C0FAULTS|faults>", `{"channel_id":"C0FAULTS","type":"channel"}`},
		{"<!here> <!subteam^S0LEADS>", "<!here> <!subteam^S0LEADS>", `{"type":"usergroup","usergroup_id":"S0LEADS"}`},
		{"https://example.com/?a=1&b=2 ok", "<https://example.com/?a=1&amp;b=2> ok", `{"type":"link","url":"https://example.com/?a=1\u0026b=2"}`},
		{"&amp;", "&amp;amp;", `"text":"\u0026amp;"`},
	} {
		ok[string](t)(fake.Say(faults, ada, c.typed, ""))
		all := fake.Messages(faults)
		m := all[len(all)-1]
		if m.Text != c.text || !strings.Contains(string(m.Blocks), c.block) {
			t.Errorf("%q becomes %q and %s, want %q and %s", c.typed, m.Text, m.Blocks, c.text, c.block)
		}
	}
}

// What nobody can do is an error for the test, and no event.
func TestPeopleCanOnlyDoWhatTheyCan(t *testing.T) {
	fake := workspace(t, slackfake.Options{})
	ts := ok[string](t)(fake.Say(faults, ada, "x", ""))
	reply := ok[string](t)(fake.Say(faults, ada, "y", ts))
	before := len(fake.Deliveries())
	fake.AddUser("U0EVE", "eve")
	var got []string
	for name, err := range map[string]error{
		"say nowhere":       second(fake.Say("C0NONE", ada, "x", "")),
		"say as nobody":     second(fake.Say(faults, "U0NONE", "x", "")),
		"say outside":       second(fake.Say(faults, "U0EVE", "x", "")),
		"thread of a reply": second(fake.Say(faults, ada, "x", reply)),
		"share nothing":     second(fake.Share(faults, ada, nil, "", "")),
		"press on a person": second(fake.Press(faults, ts, ada, "fill")),
		"submit no form":    second(fake.Submit(ada, "V0", nil)),
		"home of nobody":    second(fake.OpenHome("U0EVE")),
		"edit nothing":      fake.Edit(faults, "1.000000", "x"),
		"delete nothing":    fake.Delete(faults, "1.000000"),
		"release nothing":   fake.ReleaseEvents(0),
		"raw to nobody":     fake.SendRaw([]byte("{}")),
	} {
		if err == nil {
			got = append(got, name)
		}
	}
	slices.Sort(got)
	if len(got) > 0 || len(fake.Deliveries()) != before {
		t.Errorf("possible all the same: %q; %d events of it", got, len(fake.Deliveries())-before)
	}
}

func second(_ string, err error) error { return err }
