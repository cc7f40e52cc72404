package knowledge_test

import (
	"errors"
	"strings"
	"testing"
	"testing/fstest"

	"ferrule/knowledge"
)

// load reads a pack of one file.
func load(src string) (*knowledge.Pack, error) {
	return knowledge.Load(fstest.MapFS{"p.yaml": {Data: []byte(src)}})
}

func TestLabel(t *testing.T) {
	w := knowledge.Words{"de": {"=am anderen hub", "anderer hub"}, "pl": {"na drugim hubie"}, "fr": {}}
	for language, want := range map[string]string{"de": "am anderen hub", "pl": "na drugim hubie", "fr": "", "nl": ""} {
		if got := w.Label(language); got != want {
			t.Errorf("%s: got %q, want %q", language, got, want)
		}
	}
	if got := knowledge.Words(nil).Label("de"); got != "" {
		t.Errorf("no words are called %q", got)
	}
}

const goodReading = `readings:
  - reading: radio.signal
    title: signal level
    kind: number
    subject: device
    unit: "%"
    ask: What is the level?
    place: panel
    minutes: 3
    source: common practice
`

func TestLoadKeepsScalarsAsWritten(t *testing.T) {
	p, err := load(`equipment:
  - {model: 4.10, class: panel, generic: yes, scheme: dotted, requires: {hub: {any: 4.10}}, source: invented}
`)
	if err != nil {
		t.Fatal(err)
	}
	if p.Model("4.10") == nil {
		t.Error("a model written 4.10 is not found under 4.10")
	}
	if s, ok := p.Property("4.10", "requires.hub", ""); !ok || s.S != "4.10" {
		t.Errorf("a version written 4.10 became %q", s.S)
	}
}

// Each trap of YAML, and each kind of fault, with the place and the advice.
func TestLoadProblems(t *testing.T) {
	tests := []struct{ name, src, at, says string }{
		{"tag on an expression", "rules:\n  - rule: r\n    when: !tamper and x\n", "p.yaml:3:11", "starts a YAML tag"},
		{"comment after an expression", "rules:\n  - rule: r\n    when: a.b < 3 # low\n", "p.yaml:3:11", "cut off silently"},
		{"unknown key", "readings:\n  - reading: a.b\n    tytle: x\n", "p.yaml:3:5", "did you mean title?"},
		{"key twice", "readings:\n  - reading: a.b\n    title: x\n    title: y\n", "p.yaml:4:5", ""},
		{"not YAML", "readings:\n  - reading: [a\n", "p.yaml:2:14", "not YAML"},
		{"unknown top key", "raedings: []\n", "p.yaml:1:1", "did you mean readings?"},
		{"a list where a mapping belongs", "readings:\n  - [a, b]\n", "p.yaml:2:5", "a mapping is wanted"},
		{"a word where a number belongs", strings.Replace(goodReading, "minutes: 3", "minutes: three", 1), "p.yaml:9:14", "is not a number"},
		{"not a number at all", strings.Replace(goodReading, "minutes: 3", "minutes: .nan", 1), "p.yaml:9:14", "is not a number"},
		{"anchor", "readings: &r\n  - reading: a.b\n", "p.yaml:1:11", "anchors and aliases"},
		{"figures of a radio", goodReading + "equipment:\n  - {model: m, class: device, radio: {radiated_mw: 0, aerial_loss_db: 5, level_scale: {low: -40, high: -100}}, source: s}\n", "p.yaml:12:6", "radiated_mw is 0"},
		{"a scale that falls", goodReading + "equipment:\n  - {model: m, class: device, radio: {radiated_mw: 5, aerial_loss_db: 5, level_scale: {low: -40, high: -100}}, source: s}\n", "p.yaml:12:6", "level_scale runs from -40 to -100"},
		{"half a scale", goodReading + "equipment:\n  - {model: m, class: device, radio: {radiated_mw: 5, aerial_loss_db: 5, level_scale: {low: -40}}, source: s}\n", "p.yaml:12:88", "high: is missing"},
		{"volts upside down", goodReading + "equipment:\n  - {model: m, class: device, volts: {low: 14, high: 10}, source: s}\n", "p.yaml:12:6", "volts runs from 14 to 10"},
		{"an expression without quotes", goodReading + "rules:\n  - {rule: r, when: f(a.b, c.d) > 2}\n", "p.yaml:12:28", "put the whole expression into quotes"},
		{"unknown unit", strings.Replace(goodReading, `"%"`, "percent", 1), "p.yaml:2:5", "unknown unit"},
		{"unknown kind", strings.Replace(goodReading, "kind: number", "kind: numbr", 1), "p.yaml:2:5", "did you mean number?"},
		{"no source", strings.Replace(goodReading, "    source: common practice\n", "", 1), "p.yaml:2:5", "source: is missing"},
		{"reading twice", goodReading + strings.TrimPrefix(goodReading, "readings:\n"), "p.yaml:11:14", "already defined at p.yaml:2:14"},
		{"row that does not sum to 1", goodReading + `symptoms:
  - {symptom: s, title: s, subject: device, words: {en: [x]}, source: common practice}
causes:
  - {cause: c, title: c, symptoms: {s: 0.5}, fix: {steps: [a], minutes: 1}, success: y, source: common practice}
evidence:
  - evidence: e
    bands: [{when: radio.signal < 10}, rest]
    given: {c: [0.5, 0.4]}
    otherwise: [0.5, 0.5]
    source: common practice
`, "p.yaml:18:13", "sums to 0.9"},
		{"empty folder", "", "(no place)", "no .yaml file"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var err error
			if tt.src == "" {
				_, err = knowledge.Load(fstest.MapFS{})
			} else {
				_, err = load(tt.src)
			}
			for _, p := range knowledge.ProblemsOf(err) {
				if p.Pos.String() == tt.at && strings.Contains(p.Error(), tt.says) {
					return
				}
			}
			t.Errorf("no problem at %s that says %q in:\n%v", tt.at, tt.says, err)
		})
	}
}

func TestLoadReportsEveryProblem(t *testing.T) {
	_, err := load("readings:\n  - reading: a.b\n    tytle: x\nsymptoms:\n  - symptm: y\ncauses:\n  - 3\n")
	var ps knowledge.Problems
	if !errors.As(err, &ps) {
		t.Fatalf("got %v, want Problems", err)
	}
	lines := map[int]bool{}
	for _, p := range ps {
		lines[p.Line] = true
	}
	for _, want := range []int{3, 5, 7} {
		if !lines[want] {
			t.Errorf("nothing is reported on line %d:\n%v", want, err)
		}
	}
}

func TestLoadGood(t *testing.T) {
	p, err := load(goodReading)
	if err != nil {
		t.Fatal(err)
	}
	if r := p.Reading("radio.signal"); r == nil || r.Minutes != 3 || r.Unit != "%" || r.Name.Line != 2 {
		t.Errorf("got %+v", r)
	}
	if !strings.HasPrefix(p.Hash, "sha256:") || len(p.Hash) != 71 {
		t.Errorf("hash %q", p.Hash)
	}
}

// Whatever is fed in, Load answers with a pack or with problems; it never
// panics, and each problem names a place.
func FuzzLoad(f *testing.F) {
	f.Add([]byte(goodReading))
	f.Add([]byte("rules:\n  - rule: r\n    when: !x\n"))
	f.Add([]byte("evidence:\n  - bands: [{when: a}, rest]\n    given: {a: [1, 2}\n"))
	f.Add([]byte("a: &x [*x]\n? b\n: |\n  c\n"))
	f.Fuzz(func(t *testing.T, src []byte) {
		p, err := load(string(src))
		if err == nil {
			if p == nil {
				t.Fatal("neither a pack nor an error")
			}
			return
		}
		var ps knowledge.Problems
		if !errors.As(err, &ps) {
			t.Fatalf("not Problems: %v", err)
		}
		for _, problem := range ps {
			if problem.File == "" || problem.Line < 1 || problem.Column < 1 {
				t.Errorf("no place: %v", problem)
			}
		}
	})
}
