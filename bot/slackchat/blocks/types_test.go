package blocks_test

import (
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"ferrule/bot/slackchat/blocks"
)

// installed copies a folder of testdata and installs what it needs with npm. It
// skips where npm is not there, or what it fetches can't be reached; in CI that
// is a failure.
func installed(t *testing.T, name string) string {
	t.Helper()
	if testing.Short() {
		t.Skip("-short: npm takes some seconds")
	}
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS(filepath.Join("testdata", name))); err != nil {
		t.Fatal(err)
	}
	if out, err := run(t, dir, "npm", "ci", "--no-audit", "--no-fund", "--ignore-scripts"); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatalf("npm ci: %v\n%s", err, out)
		}
		t.Skipf("testdata/%s can't be installed here (npm ci: %v)", name, err)
	}
	return dir
}

func run(t *testing.T, dir, name string, args ...string) (string, error) {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), name, args...)
	cmd.Dir = dir
	out, err := cmd.CombinedOutput()
	return string(out), err
}

// preamble is the first line of what is compiled. The views of Slack's types
// take blocks of any type, with any fields; ours hold known ones.
const preamble = "import type { HomeView, KnownBlock, ModalView } from '@slack/types'; " +
	"type Known<View> = Omit<View, 'blocks'> & { blocks: KnownBlock[] };\n"

// literal is JSON that has to be of a type of Slack's.
type literal struct{ kind, json string }

// compile holds JSON, by a name, to its type under tsc --strict and gives the
// names that do not pass, with why. The JSON stands in the source itself:
// unknown fields are only found in fresh literals.
func compile(t *testing.T, dir string, literals map[string]literal) map[string]string {
	t.Helper()
	var src strings.Builder
	src.WriteString(preamble)
	var names []string
	for name, l := range literals {
		names = append(names, name)
		fmt.Fprintf(&src, "export const x%d: %s = %s;\n", len(names), l.kind, l.json)
	}
	if err := os.WriteFile(filepath.Join(dir, "x.ts"), []byte(src.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := run(t, dir, filepath.Join("node_modules", ".bin", "tsc"), "--noEmit", "--strict", "--skipLibCheck", "--module", "nodenext", "--moduleResolution", "nodenext", "--target", "esnext", "--types", "", "x.ts")
	wrong := map[string]string{}
	for _, m := range regexp.MustCompile(`(?m)^x\.ts\((\d+),\d+\): (.*)$`).FindAllStringSubmatch(out, -1) {
		var line int
		if _, err := fmt.Sscan(m[1], &line); err != nil || line < 2 || line > len(names)+1 {
			t.Fatalf("tsc: %s", m[0])
		}
		wrong[names[line-2]] = m[2]
	}
	if err != nil && len(wrong) == 0 {
		t.Fatalf("tsc: %v\n%s", err, out)
	}
	return wrong
}

// drawn are all messages, forms and home pages of the dialogues. What looks the
// same but for the numbers of case and version is there once.
func drawn(t *testing.T) map[string]literal {
	t.Helper()
	out, seen := map[string]literal{}, map[string]bool{}
	add := func(name, kind string, v any) {
		raw, err := json.Marshal(v)
		if err != nil {
			t.Fatal(err)
		}
		if !seen[string(raw)] {
			seen[string(raw)] = true
			out[name] = literal{kind, string(raw)}
		}
	}
	for _, s := range replies(t) {
		for i, m := range blocks.Draw(s.reply) {
			add(fmt.Sprint(s.where, ", message ", i), "KnownBlock[]", m.Blocks)
		}
		for i, v := range s.forms {
			v.PrivateMetadata = ""
			add(fmt.Sprint(s.where, ", form ", i), "Known<ModalView>", v)
		}
		for i, v := range s.homes {
			add(fmt.Sprint(s.where, ", home ", i), "Known<HomeView>", v)
		}
	}
	return out
}

// wrongOnes are what Slack's types do not allow.
func wrongOnes() map[string]literal {
	const text = `{"type": "plain_text", "text": "x"}`
	out := map[string]literal{}
	for name, raw := range map[string]string{
		"a type that there is not":  `[{"type": "sectoin", "text": ` + text + `}]`,
		"markup in a header":        `[{"type": "header", "text": {"type": "mrkdwn", "text": "x"}}]`,
		"a green button":            `[{"type": "actions", "elements": [{"type": "button", "style": "green", "text": ` + text + `}]}]`,
		"an unknown field":          `[{"type": "divider", "colour": "red"}]`,
		"an image without alt text": `[{"type": "image", "image_url": "https://example.com/x.png"}]`,
		"a list of strings":         `[{"type": "rich_text", "elements": [{"type": "rich_text_list", "style": "bullet", "elements": ["x"]}]}]`,
		"a list of dashes":          `[{"type": "rich_text", "elements": [{"type": "rich_text_list", "style": "dash", "elements": []}]}]`,
		"a row of text":             `[{"type": "actions", "elements": [` + text + `]}]`,
	} {
		out[name] = literal{"KnownBlock[]", raw}
	}
	field := func(element string) string {
		return `{"type": "modal", "title": ` + text + `, "submit": ` + text + `, "blocks": [{"type": "input", "label": ` + text + `, "element": ` + element + `}]}`
	}
	for name, raw := range map[string]string{
		"a form without a title":           `{"type": "modal", "blocks": []}`,
		"a form with markup in its title":  `{"type": "modal", "title": {"type": "mrkdwn", "text": "x"}, "blocks": []}`,
		"a form with an unknown field":     `{"type": "modal", "title": ` + text + `, "blocks": [], "conversation": "x"}`,
		"a field without a label":          `{"type": "modal", "title": ` + text + `, "blocks": [{"type": "input", "element": {"type": "plain_text_input"}}]}`,
		"a field without an element":       `{"type": "modal", "title": ` + text + `, "blocks": [{"type": "input", "label": ` + text + `}]}`,
		"a number of no kind":              field(`{"type": "number_input", "action_id": "value"}`),
		"an option with markup in a list":  field(`{"type": "static_select", "options": [{"text": {"type": "mrkdwn", "text": "x"}, "value": "x"}]}`),
		"an option without a text":         field(`{"type": "static_select", "options": [{"value": "x"}]}`),
		"options that are strings":         field(`{"type": "radio_buttons", "options": ["x"]}`),
		"a button in the place of a field": field(`{"type": "overflow_menu", "options": []}`),
	} {
		out[name] = literal{"Known<ModalView>", raw}
	}
	out["a home page that is sent"] = literal{"Known<HomeView>", `{"type": "home", "blocks": [], "submit": ` + text + `}`}
	out["a home page with a title"] = literal{"Known<HomeView>", `{"type": "home", "blocks": [], "title": ` + text + `}`}
	out["a form as a home page"] = literal{"Known<HomeView>", `{"type": "modal", "blocks": []}`}
	return out
}

// All that the dialogues produce is what Slack's own types allow, and what is
// wrong is found.
func TestPublishedTypes(t *testing.T) {
	dir := installed(t, "types")
	good, bad := drawn(t), wrongOnes()
	kinds := map[string]int{}
	for _, l := range good {
		kinds[l.kind]++
	}
	if kinds["KnownBlock[]"] < 200 || kinds["Known<ModalView>"] < 200 || kinds["Known<HomeView>"] < 100 {
		t.Errorf("only %v", kinds)
	}
	for name, why := range compile(t, dir, good) {
		t.Errorf("%s: %s\n%s", name, why, good[name].json)
	}
	wrong := compile(t, dir, bad)
	for name := range bad {
		if wrong[name] == "" {
			t.Errorf("%s passes", name)
		}
	}
	t.Logf("%v pass, %d wrong ones do not", kinds, len(wrong))
}

// The limits are those that the comments of Slack's types name.
func TestPublishedLimits(t *testing.T) {
	dir := filepath.Join(installed(t, "types"), "node_modules", "@slack", "types", "dist")
	for _, c := range []struct {
		file, declared, field string
		most                  int
	}{
		{"block-kit/blocks.d.ts", "interface Block", "block_id", 255},
		{"block-kit/extensions.d.ts", "interface Action ", "action_id", 255},
		{"block-kit/blocks.d.ts", "interface ActionsBlock", "elements", 25},
		{"block-kit/blocks.d.ts", "interface ContextBlock", "elements", 10},
		{"block-kit/blocks.d.ts", "interface HeaderBlock", "text", 150},
		{"block-kit/blocks.d.ts", "type ImageBlock = ", "alt_text", 2000},
		{"block-kit/blocks.d.ts", "interface InputBlock", "label", 2000},
		{"block-kit/blocks.d.ts", "interface InputBlock", "hint", 2000},
		{"block-kit/blocks.d.ts", "interface SectionBlock", "text", 3000},
		{"block-kit/blocks.d.ts", "interface SectionBlock", "fields", 10},
		{"block-kit/block-elements.d.ts", "interface Button", "text", 75},
		{"block-kit/block-elements.d.ts", "interface Button", "value", 2000},
		{"block-kit/block-elements.d.ts", "interface Button", "url", 3000},
		{"block-kit/block-elements.d.ts", "interface Button", "accessibility_label", 75},
		{"block-kit/block-elements.d.ts", "interface StaticSelect", "options", 100},
		{"block-kit/block-elements.d.ts", "interface Checkboxes", "options", 10},
		{"block-kit/block-elements.d.ts", "interface RadioButtons", "options", 10},
		{"block-kit/composition-objects.d.ts", "interface PlainTextElement", "text", 3000},
		{"block-kit/block-elements.d.ts", "interface MultiStaticSelect", "options", 100},
		{"block-kit/composition-objects.d.ts", "interface PlainTextOption", "text", 75},
		{"block-kit/composition-objects.d.ts", "interface OptionDescriptor", "description", 75},
		{"block-kit/extensions.d.ts", "interface Placeholdable", "placeholder", 150},
		{"views.d.ts", "interface BaseView", "private_metadata", 3000},
		{"views.d.ts", "interface BaseView", "callback_id", 255},
		{"views.d.ts", "interface BaseView", "blocks", 100},
		{"views.d.ts", "interface ModalView", "title", 24},
		{"views.d.ts", "interface ModalView", "close", 24},
		{"views.d.ts", "interface ModalView", "submit", 24},
	} {
		raw, err := os.ReadFile(filepath.Join(dir, c.file))
		if err != nil {
			t.Fatal(err)
		}
		comment := commentOf(string(raw), c.declared, c.field)
		number := strings.ReplaceAll(comment, ",", "")
		if !regexp.MustCompile(fmt.Sprintf(`(?i)max[^.]*\b%d\b`, c.most)).MatchString(number) {
			t.Errorf("%s: %s of %s is said to be: %q; we hold it to %d", c.file, c.field, c.declared, comment, c.most)
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
