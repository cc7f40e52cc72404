package check_test

import (
	"os"
	"path/filepath"
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
	p, err := knowledge.Load(files)
	if err != nil {
		return err
	}
	_, err = check.Pack(p)
	return err
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
			place, says, ok := strings.Cut(want, ": ")
			if !ok {
				t.Fatal("no want section")
			}
			err = checked(files)
			for _, p := range knowledge.ProblemsOf(err) {
				if strings.HasPrefix(p.Pos.String()+":", place+":") && strings.Contains(p.Error(), says) {
					return
				}
			}
			t.Errorf("no problem at %s that says %q, but:\n%v", place, says, err)
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
