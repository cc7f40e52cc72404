package markup_test

import (
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/slack-go/slack/slackutilsx"
	"pgregory.net/rapid"

	"ferrule/bot/slackchat/markup"
)

// The forms are those of https://docs.slack.dev/messaging/formatting-message-text.
func TestPlain(t *testing.T) {
	for name, c := range map[string]struct{ in, want string }{
		"the bot's own mention":          {"<@U0BOT> keypad won't enrol", "keypad won't enrol"},
		"its mention with a name":        {"hello <@U0BOT|ferrule>, weak signal", "hello , weak signal"},
		"somebody else":                  {"ask <@U0ADA> or <@U0BO|bo>", "ask @U0ADA or @bo"},
		"a channel":                      {"see <#C024BE7LR|night-duty> and <#C024BE7LS>", "see #night-duty and #C024BE7LS"},
		"a user group":                   {"<!subteam^SAZ94GDB8|@leads> please", "leads please"},
		"everybody":                      {"<!channel> bus down <!here>", "channel bus down here"},
		"a date":                         {"since <!date^1392734382^{date_short}|18 Feb 2014>", "since 18 Feb 2014"},
		"a link that Slack made of text": {"version <http://3.2.io|3.2.io>", "version 3.2.io"},
		"a bare link":                    {"<https://example.com/?a=1&amp;b=2>", "https://example.com/?a=1&b=2"},
		"an address":                     {"<mailto:ada@example.com|ada@example.com>", "ada@example.com"},
		"escaped signs":                  {"signal &lt; 40 % &amp; falling, 12 V -&gt; 11 V", "signal < 40 % & falling, 12 V -> 11 V"},
		"escaped once only":              {"&amp;lt;", "&lt;"},
		"bold, italic, struck, code":     {"*35 %* and _gen 1_, ~not~ `1.2.3`", "35 % and gen 1, not 1.2.3"},
		"about, and times":               {"~35 % to ~40 %, 5*3 and 2*4", "~35 % to ~40 %, 5*3 and 2*4"},
		"a name with low lines":          {"zone_front_door", "zone_front_door"},
		"a list of stars":                {"* one\n* two", "* one\n* two"},
		"over a line's end":              {"*one\ntwo*", "*one\ntwo*"},
		"a token in a token":             {"<!<!channel>>", "!channel"},
		"nothing":                        {"", ""},
		"an empty token":                 {"<>", ""},
	} {
		if got := markup.Plain(c.in, "U0BOT"); got != c.want {
			t.Errorf("%s: %q gives %q; want %q", name, c.in, got, c.want)
		}
	}
}

// What somebody types without formatting arrives as it was typed.
func TestTypedTextComesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		typed := strings.TrimSpace(rapid.StringOf(rapid.RuneFrom([]rune("abc 135%<>&;|@#!\nłß°Ω:.,/-"))).Draw(t, "typed"))
		if got := markup.Plain(slackutilsx.EscapeMessage(typed), "U0BOT"); got != typed {
			t.Fatalf("%q came back as %q", typed, got)
		}
	})
}

func FuzzPlain(f *testing.F) {
	for _, s := range []string{"<@U0BOT> *35 %*", "&lt;!channel&gt;", "<!channel>", "<<@U1>>", "<https://a.b|", "``", "*\xff*", "_a_b_"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got := markup.Plain(s, "U0BOT")
		if utf8.ValidString(s) && !utf8.ValidString(got) {
			t.Fatalf("%q gives %q, which is no text", s, got)
		}
		if len(got) > len(s) {
			t.Fatalf("%q grew to %q", s, got)
		}
		if !strings.Contains(s, "&") && strings.Contains(got, "<!channel>") {
			t.Fatalf("%q still calls everybody: %q", s, got)
		}
	})
}
