package manifest_test

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"ferrule/bot/slackchat/manifest"
)

// install installs Slack's published types and a compiler in a folder. It
// skips where npm is not there, or what it fetches can't be reached; in CI
// that is a failure.
func install(t *testing.T) string {
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
	npm := exec.CommandContext(t.Context(), "npm", "ci", "--no-audit", "--no-fund", "--ignore-scripts")
	npm.Dir = dir
	if out, err := npm.CombinedOutput(); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatalf("npm ci: %v\n%s", err, out)
		}
		t.Skipf("Slack's types can't be installed here (npm ci: %v)", err)
	}
	return dir
}

// compile holds manifests to Slack's type under tsc --strict and gives what is
// said of each that does not pass. Each is one line of one file, as a literal,
// since unknown fields are only found in fresh literals.
func compile(t *testing.T, dir string, manifests []string) map[int]string {
	t.Helper()
	var src strings.Builder
	src.WriteString("import type { AppsManifestValidateArguments } from '@slack/web-api';\n")
	for i, m := range manifests {
		fmt.Fprintf(&src, "export const x%d: AppsManifestValidateArguments['manifest'] = %s;\n", i, strings.Join(strings.Fields(m), " "))
	}
	if err := os.WriteFile(filepath.Join(dir, "x.ts"), []byte(src.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	tsc := exec.CommandContext(t.Context(), filepath.Join("node_modules", ".bin", "tsc"), "--noEmit", "--strict", "--skipLibCheck", "--module", "nodenext", "--moduleResolution", "nodenext", "--target", "esnext", "--types", "node", "x.ts")
	tsc.Dir = dir
	out, err := tsc.CombinedOutput()
	wrong := map[int]string{}
	for _, m := range regexp.MustCompile(`(?m)^x\.ts\((\d+),\d+\): (.*)$`).FindAllStringSubmatch(string(out), -1) {
		var line int
		if _, err := fmt.Sscan(m[1], &line); err != nil || line < 2 || line > len(manifests)+1 {
			t.Fatalf("tsc: %s", m[0])
		}
		wrong[line-2] = m[2]
	}
	if err != nil && len(wrong) == 0 {
		t.Fatalf("tsc: %v\n%s", err, out)
	}
	return wrong
}

// Slack's own type of a manifest takes ours, and finds what is wrong.
func TestPublishedType(t *testing.T) {
	dir := install(t)
	var good []string
	for _, o := range []manifest.Options{{}, {Groups: true}, {URL: address}, installations["http"]} {
		j, err := manifest.App(o).JSON()
		if err != nil {
			t.Fatal(err)
		}
		good = append(good, string(j))
	}
	for i, why := range compile(t, dir, good) {
		t.Errorf("%s\n%s", why, good[i])
	}
	changes := [][2]string{
		{`"chat:write"`, `"chat:wrte"`},
		{`"app_mention"`, `"app_mentoin"`},
		{`"message.channels"`, `"message.channel"`},
		{`"should_escape": true`, `"should_escape": "yes"`},
		{`"is_enabled": true`, `"is_enabled": 1`},
		{`"is_enabled": true`, `"enabled": true`},
		{`"socket_mode_enabled"`, `"socket_mode"`},
		{`"home_tab_enabled"`, `"home_tab"`},
		{`"command": "/ferrule",`, ``},
		{`"name": "Ferrule",`, ``},
	}
	var bad []string
	for _, c := range changes {
		changed := strings.Replace(good[0], c[0], c[1], 1)
		if changed == good[0] {
			t.Errorf("%s is not there to be changed", c[0])
		}
		bad = append(bad, changed)
	}
	wrong := compile(t, dir, bad)
	for i, c := range changes {
		if wrong[i] == "" {
			t.Errorf("%s instead of %s passes", c[1], c[0])
		}
	}
}
