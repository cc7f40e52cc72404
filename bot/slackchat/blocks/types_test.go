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

// published installs Slack's published types and a compiler in a folder. It
// skips where npm is not there, or what it fetches can't be reached; in CI
// that is a failure.
func published(t *testing.T) string {
	t.Helper()
	if testing.Short() {
		t.Skip("-short: installing Slack's types takes some seconds")
	}
	dir := t.TempDir()
	for _, name := range []string{"package.json", "package-lock.json"} {
		raw, err := os.ReadFile(filepath.Join("testdata", "types", name))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, name), raw, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if out, err := run(t, dir, "npm", "ci", "--no-audit", "--no-fund", "--ignore-scripts"); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatalf("npm ci: %v\n%s", err, out)
		}
		t.Skipf("Slack's types can't be installed here (npm ci: %v)", err)
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

// compile holds JSON, by a name, to KnownBlock[] under tsc --strict and gives
// the names that do not pass, with why. The JSON stands in the source itself:
// unknown fields are only found in fresh literals.
func compile(t *testing.T, dir string, literals map[string]string) map[string]string {
	t.Helper()
	var src strings.Builder
	src.WriteString("import type { KnownBlock } from '@slack/types';\n")
	var names []string
	for name, raw := range literals {
		names = append(names, name)
		fmt.Fprintf(&src, "export const x%d: KnownBlock[] = %s;\n", len(names), raw)
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

// All that the dialogues produce is what Slack's own types allow, and what is
// wrong is found.
func TestPublishedTypes(t *testing.T) {
	dir := published(t)
	good := map[string]string{}
	for _, s := range replies(t) {
		for i, m := range blocks.Draw(s.reply) {
			raw, err := json.Marshal(m.Blocks)
			if err != nil {
				t.Fatal(err)
			}
			good[fmt.Sprint(s.where, " ", i)] = string(raw)
		}
	}
	for name, why := range compile(t, dir, good) {
		t.Errorf("%s: %s\n%s", name, why, good[name])
	}
	bad := map[string]string{
		"a type that there is not":  `[{"type": "sectoin", "text": {"type": "plain_text", "text": "x"}}]`,
		"markup in a header":        `[{"type": "header", "text": {"type": "mrkdwn", "text": "x"}}]`,
		"a green button":            `[{"type": "actions", "elements": [{"type": "button", "style": "green", "text": {"type": "plain_text", "text": "x"}}]}]`,
		"an unknown field":          `[{"type": "divider", "colour": "red"}]`,
		"an image without alt text": `[{"type": "image", "image_url": "https://example.com/x.png"}]`,
		"a list of strings":         `[{"type": "rich_text", "elements": [{"type": "rich_text_list", "style": "bullet", "elements": ["x"]}]}]`,
		"a row of text":             `[{"type": "actions", "elements": [{"type": "plain_text", "text": "x"}]}]`,
	}
	wrong := compile(t, dir, bad)
	for name := range bad {
		if wrong[name] == "" {
			t.Errorf("%s passes", name)
		}
	}
	t.Logf("%d messages pass, %d wrong ones do not", len(good), len(wrong))
}

// The limits are those that the comments of Slack's types name.
func TestPublishedLimits(t *testing.T) {
	dir := filepath.Join(published(t), "node_modules", "@slack", "types", "dist")
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
		{"views.d.ts", "interface BaseView", "private_metadata", 3000},
		{"views.d.ts", "interface BaseView", "callback_id", 255},
		{"views.d.ts", "interface BaseView", "blocks", 100},
		{"views.d.ts", "interface ModalView", "title", 24},
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
