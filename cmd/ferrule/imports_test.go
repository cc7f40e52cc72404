package main_test

import (
	"os/exec"
	"slices"
	"strings"
	"testing"
)

// arrows says what each part of the module may import of the module. Imports
// run one way; what is not listed here may import nothing of it.
var arrows = map[string][]string{
	"cmd":                     {"bot", "rules", "knowledge", "store"},
	"bot":                     {"bot", "rules", "knowledge", "store"},
	"bot/redact":              {},
	"bot/intake":              {"bot/redact", "rules", "knowledge"},
	"bot/console":             {"bot", "rules", "knowledge", "store"},
	"bot/slackchat/markup":    {},
	"bot/slackchat/slackfake": {},
	"bot/slackchat/outbox":    {"bot/slackchat", "store"},
	"bot/slackchat/socket":    {"bot/slackchat"},
	"bot/slackchat/webhook":   {"bot/slackchat"},
	"bot/slackchat/manifest":  {"bot/slackchat"},
	"rules":                   {"knowledge"},
	"rules/check":             {"rules", "knowledge"},
	"rules/diagnosis":         {"rules", "knowledge"},
	"rules/diagnosis/plan":    {},
	"rules/diagnosis/learn":   {"knowledge"},
	"knowledge":               {"knowledge/units"},
	"knowledge/radio":         {"knowledge/units", "knowledge/octavetest"},
	"knowledge/cable":         {"knowledge/units"},
	"knowledge/power":         {"knowledge/units", "knowledge/octavetest"},
	"knowledge/loop":          {"knowledge/units", "knowledge/octavetest"},
	"store":                   {},
	"store/storetest":         {"store"},
	"store/review":            {"store", "knowledge"},
}

// transports, and what is under them, may be imported by themselves and cmd alone.
var transports = []string{"bot/console", "bot/slackchat"}

func TestImportsRunOneWay(t *testing.T) {
	out, err := exec.Command("go", "list", "-f", `{{.ImportPath}} {{join .Imports " "}} {{join .TestImports " "}} {{join .XTestImports " "}}`, "ferrule/...").CombinedOutput()
	if err != nil {
		t.Fatalf("go list: %v\n%s", err, out)
	}
	checked := 0
	for _, line := range strings.Split(strings.TrimSpace(string(out)), "\n") {
		fields := strings.Fields(line)
		pkg := strings.TrimPrefix(fields[0], "ferrule/")
		for _, path := range fields[1:] {
			imported, own := strings.CutPrefix(path, "ferrule/")
			if !own || imported == pkg {
				continue
			}
			checked++
			if !allowed(pkg, imported) {
				t.Errorf("%s must not import %s", pkg, imported)
			}
		}
	}
	if checked < 20 {
		t.Errorf("only %d imports were looked at", checked)
	}
}

func allowed(pkg, imported string) bool {
	for _, t := range transports {
		if within(imported, t) && !within(pkg, t) {
			return strings.HasPrefix(pkg, "cmd/")
		}
	}
	// The physics packages import nothing of the module but the units.
	rule, parent := arrows[pkg], pkg
	for rule == nil && parent != "" {
		parent, _, _ = cut(parent)
		rule = arrows[parent]
	}
	return slices.ContainsFunc(rule, func(a string) bool {
		return imported == a || strings.HasPrefix(imported, a+"/")
	}) || pkg == "store" && imported == "store/storetest" || strings.HasPrefix(pkg, "knowledge") && testOnly(pkg, imported)
}

// testOnly allows a pack's own tests to load it.
func testOnly(pkg, imported string) bool {
	return pkg == "knowledge/starter" && imported == "knowledge"
}

func cut(path string) (parent, last string, ok bool) {
	i := strings.LastIndex(path, "/")
	if i < 0 {
		return "", path, false
	}
	return path[:i], path[i+1:], true
}

// within tells whether a package is another or lies under it.
func within(pkg, parent string) bool {
	return pkg == parent || strings.HasPrefix(pkg, parent+"/")
}
