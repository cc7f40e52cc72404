package wording_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"

	"ferrule/bot/wording"
	"ferrule/knowledge"
)

// catalogue reads one language as a translator sees it.
func catalogue(t *testing.T, language string) map[string]map[string]string {
	t.Helper()
	src, err := os.ReadFile(language + ".yaml")
	if err != nil {
		t.Fatal(err)
	}
	raw := map[string]any{}
	if err := yaml.Unmarshal(src, &raw); err != nil {
		t.Fatal(err)
	}
	out := map[string]map[string]string{}
	for key, value := range raw {
		out[key] = map[string]string{}
		switch value := value.(type) {
		case string:
			out[key]["other"] = value
		case map[string]any:
			for form, text := range value {
				out[key][form], _ = text.(string)
			}
		default:
			t.Errorf("%s.yaml: %s is no string", language, key)
		}
	}
	return out
}

// saidKeys are the keys that the code says: every literal first argument of
// say and of sayAll, and the keys that are put together or looked up.
func saidKeys(t *testing.T) []string {
	t.Helper()
	keys := []string{"help_look", "help_case", "help_work", "help_close", "help_calc", "help_language"}
	for _, class := range knowledge.Classes {
		keys = append(keys, "class_"+string(class))
	}
	for _, confirmed := range []string{"measurement", "swap_back", "symptom_gone", "unproven"} {
		keys = append(keys, "confirmed_"+confirmed)
	}
	for _, how := range []string{"strongly", "clearly", "slightly"} {
		keys = append(keys, how+"_for", how+"_against")
	}
	for _, place := range []string{"panel", "device", "hub", "ladder", "office"} {
		keys = append(keys, "at_"+place)
	}
	for _, reason := range []string{"defeat_alarm", "code_request", "live_work", "other"} {
		keys = append(keys, "declined_"+reason)
	}
	files, err := filepath.Glob("../*.go")
	if err != nil || len(files) < 5 {
		t.Fatalf("%d files, %v", len(files), err)
	}
	for _, folder := range []string{"../slackchat/*.go", "../slackchat/blocks/*.go"} {
		more, err := filepath.Glob(folder)
		if err != nil || len(more) == 0 {
			t.Fatalf("%s: %d files, %v", folder, len(more), err)
		}
		files = append(files, more...)
	}
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(f, func(n ast.Node) bool {
			call, ok := n.(*ast.CallExpr)
			if !ok {
				return true
			}
			called := ""
			switch fun := call.Fun.(type) {
			case *ast.SelectorExpr:
				called = fun.Sel.Name
			case *ast.Ident:
				called = fun.Name
			}
			for i, arg := range call.Args {
				if lit, ok := arg.(*ast.BasicLit); ok && lit.Kind == token.STRING && (called == "sayAll" || (called == "say" || called == "Say") && i == 0) {
					if key, err := strconv.Unquote(lit.Value); err == nil {
						keys = append(keys, key)
					}
				}
			}
			return true
		})
	}
	slices.Sort(keys)
	return slices.Compact(keys)
}

func TestEveryStringIsThereWithItsContext(t *testing.T) {
	english := catalogue(t, "en")
	said := saidKeys(t)
	if len(said) < 100 {
		t.Fatalf("only %d keys found in the code", len(said))
	}
	for _, key := range said {
		if english[key]["other"] == "" {
			t.Errorf("the bot says %q, which is not in en.yaml", key)
		}
	}
	for key, forms := range english {
		if !slices.Contains(said, key) {
			t.Errorf("en.yaml: nobody says %s", key)
		}
		if forms["description"] == "" {
			t.Errorf("en.yaml: %s has no description for translators", key)
		}
	}
}

var placeholder = regexp.MustCompile(`\{\{\.\w+\}\}`)

// TestNoStringIsMissing holds every language to the English keys, and every
// string to the English placeholders.
func TestNoStringIsMissing(t *testing.T) {
	english := catalogue(t, "en")
	for _, language := range knowledge.Languages[1:] {
		there := catalogue(t, language)
		for key, forms := range english {
			if there[key]["other"] == "" {
				t.Errorf("%s.yaml: %s is missing", language, key)
				continue
			}
			want := placeholder.FindAllString(forms["other"], -1)
			slices.Sort(want)
			for form, text := range there[key] {
				got := placeholder.FindAllString(text, -1)
				slices.Sort(got)
				if form != "description" && !slices.Equal(got, want) {
					t.Errorf("%s.yaml: %s (%s) holds %v, want %v", language, key, form, got, want)
				}
			}
		}
		for key := range there {
			if english[key] == nil {
				t.Errorf("%s.yaml: %s is not in en.yaml", language, key)
			}
		}
	}
}

func TestSay(t *testing.T) {
	for _, c := range []struct {
		language, key string
		pairs         []any
		want          string
	}{
		{"en", "site_cases", []any{"Site", "12-mill-lane", "Count", 1}, "Site 12-mill-lane: 1 earlier case."},
		{"en", "site_cases", []any{"Site", "12-mill-lane", "Count", 3}, "Site 12-mill-lane: 3 earlier cases."},
		{"", "what_was_it", nil, "What was it?"},
		{"xx", "what_was_it", nil, "What was it?"},
		{"en", "no such key", nil, "no such key"},
	} {
		if got := wording.In(c.language).Say(c.key, c.pairs...); got != c.want {
			t.Errorf("%s %s: %q, want %q", c.language, c.key, got, c.want)
		}
	}
	for _, language := range knowledge.Languages[1:] {
		if got := wording.In(language).Say("what_is_wrong"); got == "What is wrong?" || strings.Contains(got, "_") {
			t.Errorf("%s: %q", language, got)
		}
	}
}
