package check_test

import (
	"testing"
	"testing/fstest"

	"ferrule/knowledge"
	"ferrule/knowledge/starter"
	"ferrule/rules/check"
)

const twoCauses = `
readings:
  - {reading: a.x, title: x, kind: choice, subject: device, choices: [{choice: one}, {choice: two}], words: {en: [x]}, ask: X?, place: device, minutes: 1, source: test}
symptoms:
  - {symptom: s, title: s, subject: device, words: {en: [s]}, source: test}
causes:
  - {cause: c, title: c, symptoms: {s: 0.5}, fix: {steps: [mend], minutes: 1, place: device}, success: gone, source: test}
  - {cause: d, title: d, symptoms: {s: 0.5}, fix: {steps: [mend], minutes: 1, place: device}, success: gone, source: test}
  - {cause: e, title: e, symptoms: {s: 0.5}, fix: {steps: [mend], minutes: 1, place: device}, success: gone, source: test}
evidence:
  - evidence: t
    bands: [{when: 'a.x == "one"'}, rest]
    given:
      c: [0.8, 0.2]
      d: [0.2, 0.8]
    otherwise: [0.5, 0.5]
    source: test
`

// By hand: c and d differ by 0.8/0.2 = 4 in either band; e has the row of all
// others, 0.5: 0.8/0.5 = 1.6 in one band and 0.5/0.2 = 2.5 in the other.
func TestPairs(t *testing.T) {
	p, err := knowledge.Load(fstest.MapFS{"p.yaml": {Data: []byte(twoCauses)}})
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]float64{}
	for _, pair := range check.Pairs(p) {
		got[pair.A+pair.B] = pair.Ratio
	}
	for pair, want := range map[string]float64{"cd": 4, "ce": 2.5, "de": 2.5} {
		if x := got[pair]; x < want-1e-9 || x > want+1e-9 {
			t.Errorf("%s: %g, want %g", pair, x, want)
		}
	}
}

// TestNeighboursAreToldApart holds the starter pack to its own limit.
func TestNeighboursAreToldApart(t *testing.T) {
	p, err := knowledge.Load(starter.FS)
	if err != nil {
		t.Fatal(err)
	}
	pairs := check.Pairs(p)
	if len(pairs) < 100 {
		t.Fatalf("only %d pairs", len(pairs))
	}
	for _, x := range pairs {
		if x.Ratio < check.LeastRatio {
			t.Errorf("%s and %s are told apart by %.1f at best (%s)", x.A, x.B, x.Ratio, x.Evidence)
		}
	}
	t.Logf("%d pairs, the weakest: %+v", len(pairs), pairs[0])
}

func TestCoveredByExamples(t *testing.T) {
	p, err := knowledge.Load(starter.FS)
	if err != nil {
		t.Fatal(err)
	}
	c := check.Covered(p)
	t.Logf("%d rules: %d true, %d false, %d unknown; %d of %d bands", c.Rules, c.True, c.False, c.Unknown, c.Seen, c.Bands)
	for _, m := range c.Missing {
		t.Errorf("no example shows %s", m)
	}
}
