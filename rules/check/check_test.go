package check_test

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/rogpeppe/go-internal/txtar"

	"ferrule/knowledge"
	"ferrule/knowledge/starter"
	"ferrule/rules/check"
)

const brokenDir = "../../testdata/broken"

func checked(files fstest.MapFS) error {
	_, _, err := check.Files(files)
	return err
}

// Faults of the shape and of the expressions are reported together.
func TestEveryFaultAtOnce(t *testing.T) {
	err := checked(fstest.MapFS{"base.yaml": baseFile(t), "p.yaml": {Data: []byte(`rules:
  - rule: one
    when: radio.signl < 40
    kind: note
    says: Low.
    source: common practice
    examples: [{readings: {radio.signal: 39}, fires: true}]
  - rule: two
    when: radio.signal < 40
    kind: nota
    says: Low.
    source: common practice
    examples: [{readings: {radio.signal: 39}, fires: true}]
`)}})
	lines := map[int]bool{}
	for _, p := range knowledge.ProblemsOf(err) {
		lines[p.Line] = true
	}
	if !lines[3] || !lines[8] {
		t.Errorf("want faults on lines 3 and 8, got:\n%v", err)
	}
}

func baseFile(t *testing.T) *fstest.MapFile {
	t.Helper()
	src, err := os.ReadFile(filepath.Join(brokenDir, "base.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	return &fstest.MapFile{Data: src}
}

func TestBrokenPacks(t *testing.T) {
	base := baseFile(t)
	if err := checked(fstest.MapFS{"base.yaml": base}); err != nil {
		t.Fatalf("the sound part is not sound: %v", err)
	}
	names, err := filepath.Glob(filepath.Join(brokenDir, "*.txtar"))
	if err != nil || len(names) < 10 {
		t.Fatalf("%d broken packs, %v; want ten or more", len(names), err)
	}
	for _, name := range names {
		t.Run(strings.TrimSuffix(filepath.Base(name), ".txtar"), func(t *testing.T) {
			archive, err := txtar.ParseFile(name)
			if err != nil {
				t.Fatal(err)
			}
			files := fstest.MapFS{"base.yaml": base}
			want := ""
			for _, f := range archive.Files {
				if f.Name == "want" {
					want = strings.TrimSpace(string(f.Data))
				} else {
					files[f.Name] = &fstest.MapFile{Data: f.Data}
				}
			}
			if want == "" {
				t.Fatal("no want section")
			}
			err = checked(files)
			for line := range strings.Lines(want) {
				place, says, _ := strings.Cut(strings.TrimSpace(line), ": ")
				if !slices.ContainsFunc(knowledge.ProblemsOf(err), func(p knowledge.Problem) bool {
					return strings.HasPrefix(p.Pos.String()+":", place+":") && strings.Contains(p.Error(), says)
				}) {
					t.Errorf("no problem at %s that says %q, but:\n%v", place, says, err)
				}
			}
		})
	}
}

func TestStarterPackIsClean(t *testing.T) {
	p, err := knowledge.Load(starter.FS)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := check.Pack(p); err != nil {
		t.Fatal(err)
	}
	t.Log(check.Count(p))
}
