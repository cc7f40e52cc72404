package slackfake_test

import (
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"ferrule/bot/slackchat/slackfake"

	"github.com/slack-go/slack"
)

// typeNames are Slack's published types of what is sent. Where they differ from
// what Slack sends, by its documents and samples: a message has no subtype;
// messages within message_changed and message_deleted don't repeat the channel;
// they tell of their thread; messages of a bot name its app; previews of links
// have numbers and addresses; files have more fields than the types know, and no lists of
// channels; an enterprise that there is not is null; a home page has the fields
// of any view.
const typeNames = `
import type { EnvelopedEvent, SlashCommand, BlockAction, ButtonAction, ViewSubmitAction, ViewOutput } from '@slack/bolt';
import type { AppMentionEvent, GenericMessageEvent, MessageChangedEvent, MessageDeletedEvent, FileShareMessageEvent, AppHomeOpenedEvent, MessageAttachment } from '@slack/types';
type Said = Omit<GenericMessageEvent, 'subtype' | 'attachments'> & { app_id?: string; attachments?: (MessageAttachment & { id: number; from_url: string; original_url: string; service_name: string })[] };
type Thread = { reply_count?: number; reply_users_count?: number; reply_users?: string[]; latest_reply?: string };
type Inner = Omit<Said, 'channel' | 'channel_type' | 'event_ts'> & Thread;
type Changed = Omit<MessageChangedEvent, 'message' | 'previous_message'> & { message: Inner; previous_message: Inner };
type Deleted = Omit<MessageDeletedEvent, 'previous_message'> & { previous_message: Inner };
type File = NonNullable<FileShareMessageEvent['files']>[number];
type Sent = Omit<File, 'channels' | 'groups'> & { timestamp: number; user_team: string; media_display_type: string; file_access: string };
type Shared = Omit<FileShareMessageEvent, 'files'> & { files: Sent[]; client_msg_id: string };
type Home = Omit<AppHomeOpenedEvent, 'view'> & { view?: ViewOutput };
type Pressed = Omit<BlockAction<ButtonAction>, 'enterprise'> & { enterprise: null };
type Submitted = Omit<ViewSubmitAction, 'enterprise' | 'user'> & { enterprise: null; user: ViewSubmitAction['user'] & { username: string } };
`

// payload is what was sent, with the name of its type and a field that it must
// have.
type payload struct {
	typ, raw string
	needed   string
}

// payloads has people do everything once and gives what the bot is sent.
func payloads(t *testing.T) map[string]payload {
	t.Helper()
	fake := workspace(t, slackfake.Options{Order: slackfake.MentionFirst})
	api := client(fake)
	at := 0
	take := func(n int) string { // the first of n new deliveries
		all := fake.Deliveries()
		if len(all) != at+n {
			t.Fatalf("%d new deliveries, want %d", len(all)-at, n)
		}
		at += n
		return string(all[at-n].Payload)
	}
	out := map[string]payload{}
	ts := ok[string](t)(fake.Say(faults, ada, fake.Mention()+" a <b> https://example.com/", ""))
	out["a mention"] = payload{"EnvelopedEvent<AppMentionEvent>", take(2), "event.channel"}
	ok[string](t)(fake.Say(faults, ben, "a reply", ts))
	out["a reply"] = payload{"EnvelopedEvent<Said>", take(1), "event.channel_type"}
	ok[string](t)(fake.Say(direct, ada, "hello", ""))
	out["a direct message"] = payload{"EnvelopedEvent<Said>", take(1), "event.event_ts"}
	_, posted, err := api.PostMessage(faults, slack.MsgOptionText("x", false), slack.MsgOptionBlocks(
		slack.NewActionBlock("row", slack.NewButtonBlockElement("fill", "1", slack.NewTextBlockObject("plain_text", "x", false, false)))))
	if err != nil {
		t.Fatal(err)
	}
	out["the bot's own message"] = payload{"EnvelopedEvent<Said>", take(1), "event.ts"}
	for name, do := range map[string]func() error{
		"an edit":   func() error { return fake.Edit(faults, ts, "other") },
		"an unfurl": func() error { return fake.Unfurl(faults, ts) },
		"the bot's": func() error {
			_, _, _, err := api.UpdateMessage(faults, posted, slack.MsgOptionText("y", false))
			return err
		},
	} {
		if err := do(); err != nil {
			t.Fatal(err)
		}
		out[name+" change"] = payload{"EnvelopedEvent<Changed>", take(1), "event.previous_message"}
	}
	if err := fake.Delete(faults, ts); err != nil {
		t.Fatal(err)
	}
	out["deleting"] = payload{"EnvelopedEvent<Deleted>", take(1), "event.deleted_ts"}
	ok[string](t)(fake.Share(faults, ada, []slackfake.File{{Name: "a.png", MIME: "image/png", Content: []byte("x")}}, "look", ""))
	out["a file"] = payload{"EnvelopedEvent<Shared>", take(1), "event.files"}
	ok[string](t)(fake.Share(faults, ada, []slackfake.File{{Name: "a.png", MIME: "image/png", Content: []byte("x")}}, fake.Mention()+" look", ""))
	out["a file with a mention"] = payload{"EnvelopedEvent<AppMentionEvent>", take(2), "event.text"}
	ok[string](t)(fake.OpenHome(ada))
	out["a first look at the home page"] = payload{"EnvelopedEvent<Home>", take(1), "event.user"}
	home := slack.HomeTabViewRequest{Type: slack.VTHomeTab, Blocks: slack.Blocks{BlockSet: []slack.Block{slack.NewDividerBlock()}}}
	if _, err := api.PublishView(ada, home, ""); err != nil {
		t.Fatal(err)
	}
	ok[string](t)(fake.OpenHome(ada))
	out["another look at the home page"] = payload{"EnvelopedEvent<Home>", take(1), "event.view.hash"}
	ok[string](t)(fake.Slash(faults, ada, "/ferrule", "status"))
	out["a command"] = payload{"SlashCommand", take(1), "trigger_id"}
	_, posted, err = api.PostMessage(faults, slack.MsgOptionText("x", false), slack.MsgOptionBlocks(
		slack.NewActionBlock("row", slack.NewButtonBlockElement("fill", "1", slack.NewTextBlockObject("plain_text", "x", false, false)))))
	if err != nil {
		t.Fatal(err)
	}
	take(1)
	ok[string](t)(fake.Press(faults, posted, ben, "fill"))
	out["a press"] = payload{"Pressed", take(1), "response_url"}
	if _, err := api.OpenView(trigger(t, fake), form()); err != nil {
		t.Fatal(err)
	}
	take(1)
	ok[string](t)(fake.Submit(ada, fake.Views(ada)[0].ID, map[string]string{"level": "1"}))
	out["a form"] = payload{"Submitted", take(1), "view.state"}
	return out
}

// without gives a payload that lacks a field, and one that has one too many
// beside it.
func without(t *testing.T, raw, path string) (less, more string) {
	t.Helper()
	var tree map[string]any
	if err := json.Unmarshal([]byte(raw), &tree); err != nil {
		t.Fatal(err)
	}
	at := tree
	keys := strings.Split(path, ".")
	for _, key := range keys[:len(keys)-1] {
		at = at[key].(map[string]any)
	}
	last := keys[len(keys)-1]
	at["invented_field"] = true
	withMore, err := json.Marshal(tree)
	if err != nil {
		t.Fatal(err)
	}
	delete(at, "invented_field")
	if _, is := at[last]; !is {
		t.Fatalf("there is no %s in %s", path, raw)
	}
	delete(at, last)
	withLess, err := json.Marshal(tree)
	if err != nil {
		t.Fatal(err)
	}
	return string(withLess), string(withMore)
}

// payloadTypes holds all that is sent to Slack's published types under the
// strictest rules, and holds the check to finding what lacks a field.
func payloadTypes(t *testing.T, dir string) {
	good := payloads(t)
	all := map[string]payload{}
	for name, p := range good {
		all[name] = p
		less, more := without(t, p.raw, p.needed)
		all[name+", without "+p.needed] = payload{p.typ, less, ""}
		// Types that are open to any field can't tell one that is invented.
		if strings.Contains(p.needed, "event.") || p.typ == "Pressed" || p.typ == "Submitted" {
			all[name+", with one field more"] = payload{p.typ, more, ""}
		}
	}
	wrong := compile(t, dir, all)
	for name := range all {
		_, isGood := good[name]
		if why := wrong[name]; isGood && why != "" {
			t.Errorf("%s: %s\n%s", name, why, all[name].raw)
		} else if !isGood && why == "" {
			t.Errorf("%s: it passes", name)
		}
	}
	t.Logf("%d payloads pass, %d wrong ones do not", len(good), len(all)-len(good))
}

// compile gives the names of payloads that do not pass tsc --strict, with why.
func compile(t *testing.T, dir string, all map[string]payload) map[string]string {
	t.Helper()
	var src strings.Builder
	src.WriteString(typeNames)
	first := strings.Count(typeNames, "\n") + 1
	var names []string
	for name := range all {
		names = append(names, name)
	}
	slices.Sort(names)
	for i, name := range names {
		fmt.Fprintf(&src, "export const x%d: %s = %s;\n", i, all[name].typ, all[name].raw)
	}
	if err := os.WriteFile(filepath.Join(dir, "x.ts"), []byte(src.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := exec.CommandContext(t.Context(), filepath.Join("node_modules", ".bin", "tsc"), "--noEmit", "--strict", "--skipLibCheck",
		"--module", "nodenext", "--moduleResolution", "nodenext", "--target", "esnext", "--types", "node", "x.ts")
	cmd.Dir = dir
	out, err := cmd.CombinedOutput()
	wrong := map[string]string{}
	for _, m := range regexp.MustCompile(`(?m)^x\.ts\((\d+),\d+\): (.*)$`).FindAllStringSubmatch(string(out), -1) {
		var line int
		if _, err := fmt.Sscan(m[1], &line); err != nil || line < first || line >= first+len(names) {
			t.Fatalf("tsc: %s", m[0])
		}
		wrong[names[line-first]] = m[2]
	}
	if err != nil && len(wrong) == 0 {
		t.Fatalf("tsc: %v\n%s", err, out)
	}
	return wrong
}

// publishedLimits compares numbers of limits.json with the comments of Slack's
// types. The value of an option is not among them: the types say 75, and
// https://docs.slack.dev/reference/block-kit/composition-objects/option-object 150.
func publishedLimits(t *testing.T, dir string) {
	raw, err := os.ReadFile("limits.json")
	if err != nil {
		t.Fatal(err)
	}
	var table map[string]json.RawMessage
	if err := json.Unmarshal(raw, &table); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ file, declared, field, kind, as string }{
		{"block-kit/blocks.d.ts", "interface Block", "block_id", "divider", "block_id"},
		{"block-kit/extensions.d.ts", "interface Action ", "action_id", "button", "action_id"},
		{"block-kit/blocks.d.ts", "interface ActionsBlock", "elements", "actions", "elements!"},
		{"block-kit/blocks.d.ts", "interface ContextBlock", "elements", "context", "elements!"},
		{"block-kit/blocks.d.ts", "interface HeaderBlock", "text", "header", "text!"},
		{"block-kit/blocks.d.ts", "type ImageBlock = ", "alt_text", "image", "alt_text!"},
		{"block-kit/blocks.d.ts", "interface InputBlock", "label", "input", "label!"},
		{"block-kit/blocks.d.ts", "interface InputBlock", "hint", "input", "hint"},
		{"block-kit/blocks.d.ts", "interface SectionBlock", "text", "section", "text"},
		{"block-kit/blocks.d.ts", "interface SectionBlock", "fields", "section", "fields"},
		{"block-kit/block-elements.d.ts", "interface Button", "text", "button", "text!"},
		{"block-kit/block-elements.d.ts", "interface Button", "value", "button", "value"},
		{"block-kit/block-elements.d.ts", "interface Button", "url", "button", "url"},
		{"block-kit/block-elements.d.ts", "interface Button", "accessibility_label", "button", "accessibility_label"},
		{"block-kit/block-elements.d.ts", "interface StaticSelect", "options", "static_select", "options"},
		{"block-kit/block-elements.d.ts", "interface Checkboxes", "options", "checkboxes", "options!"},
		{"block-kit/block-elements.d.ts", "interface RadioButtons", "options", "radio_buttons", "options!"},
		{"block-kit/extensions.d.ts", "interface Placeholdable", "placeholder", "static_select", "placeholder"},
		{"block-kit/composition-objects.d.ts", "interface Confirm ", "title", "#confirm", "title"},
		{"block-kit/composition-objects.d.ts", "interface Confirm ", "text", "#confirm", "text!"},
		{"block-kit/composition-objects.d.ts", "interface OptionDescriptor", "description", "#option", "description"},
		{"views.d.ts", "interface BaseView", "private_metadata", "modal", "private_metadata"},
		{"views.d.ts", "interface BaseView", "callback_id", "modal", "callback_id"},
		{"views.d.ts", "interface BaseView", "blocks", "modal", "blocks!"},
		{"views.d.ts", "interface ModalView", "title", "modal", "title!"},
		{"views.d.ts", "interface ModalView", "close", "modal", "close"},
		{"views.d.ts", "interface ModalView", "submit", "modal", "submit"},
	} {
		var fields map[string]string
		if err := json.Unmarshal(table[c.kind], &fields); err != nil {
			t.Fatalf("%s: %v", c.kind, err)
		}
		most := regexp.MustCompile(`-(\d+)`).FindStringSubmatch(fields[c.as])
		if most == nil {
			t.Errorf("%s has no limit for %s: %q", c.kind, c.as, fields[c.as])
			continue
		}
		src, err := os.ReadFile(filepath.Join(dir, "node_modules", "@slack", "types", "dist", c.file))
		if err != nil {
			t.Fatal(err)
		}
		comment := strings.ReplaceAll(commentOf(string(src), c.declared, c.field), ",", "")
		if !regexp.MustCompile(`(?i)max[^.]*\b` + most[1] + `\b`).MatchString(comment) {
			t.Errorf("%s of %s is said to be: %q; ours is %s", c.field, c.declared, comment, most[1])
		}
	}
}

// commentOf gives the comment before a field of a declaration, on one line.
func commentOf(src, declared, field string) string {
	_, body, _ := strings.Cut(src, declared)
	comment := ""
	for line := range strings.Lines(body) {
		line = strings.TrimSpace(line)
		switch {
		case strings.HasPrefix(line, "/**"):
			comment = line
		case strings.HasPrefix(line, "*"):
			comment += " " + strings.TrimSpace(strings.TrimPrefix(line, "*"))
		case strings.HasPrefix(line, field+":"), strings.HasPrefix(line, field+"?:"):
			return comment
		}
	}
	return "no such field"
}
