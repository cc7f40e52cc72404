package diagnosis_test

import (
	"fmt"
	"math"
	"slices"
	"testing"
	"testing/fstest"

	"pgregory.net/rapid"

	"ferrule/knowledge"
	"ferrule/rules"
	"ferrule/rules/diagnosis"
)

// packOf wraps rules, tables and causes in a vocabulary of yes/no readings
// t.a to t.d at different places.
func packOf(t interface{ Fatal(...any) }, rest string) *diagnosis.Model {
	src := `symptoms:
  - {symptom: s, title: s, subject: device, something_else: 0.05, words: {en: [x]}, source: common practice}
  - {symptom: tiny, title: s, subject: device, something_else: 0.000000001, words: {en: [y]}, source: common practice}
readings:
`
	for _, r := range []string{"a panel 2", "b panel 3", "c ladder 4", "d device 1"} {
		var name, place string
		var minutes int
		if _, err := fmt.Sscan(r, &name, &place, &minutes); err != nil {
			t.Fatal(err)
		}
		src += fmt.Sprintf("  - {reading: t.%s, title: %s, kind: yes/no, subject: device, ask: Is it?, place: %s, minutes: %d, source: common practice}\n", name, name, place, minutes)
	}
	p, err := knowledge.Load(fstest.MapFS{"p.yaml": {Data: []byte(src + rest)}})
	if err != nil {
		t.Fatal(err)
	}
	program, err := rules.Compile(p)
	if err != nil {
		t.Fatal(err)
	}
	return diagnosis.New(program, nil)
}

func cause(name, symptoms string, minutes int) string {
	return fmt.Sprintf("  - {cause: %s, title: %s, symptoms: {%s}, fix: {steps: [mend it], minutes: %d}, success: ok, source: common practice}\n", name, name, symptoms, minutes)
}

func next(t interface{ Fatal(...any) }, m *diagnosis.Model, in diagnosis.Input) diagnosis.Step {
	s, err := m.Next(in, m.Assess(in))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func know(values map[string]bool) *rules.Observed {
	o := &rules.Observed{}
	for name, v := range values {
		o.Set(name, rules.Subject{Class: knowledge.Device, N: 1}, rules.Yes(v))
	}
	return o
}

func probability(a *diagnosis.Assessment, name string) float64 {
	for _, p := range a.Causes {
		if p.Name() == name {
			return p.Probability
		}
	}
	return 0
}

// Sources: the serum ferritin example of the Centre for Evidence-Based Medicine,
// 731 of 809 with and 270 of 1770 without iron deficiency test positive and 809 of
// 2579 have it, so after a positive test it is 73 % (731/1001) and after a negative
// one 5 % (78/1578); its two weights are recomputed. A public copy of a table of
// pre-test probabilities: 2 % and 50 % become 11 % and 86 % with a likelihood ratio
// of 6. The weight of evidence is 10 log10 of the ratio in decibans (Good, Turing).
func TestPublishedOdds(t *testing.T) {
	const notGiven = 0
	for _, tt := range []struct {
		name               string
		prior              float64
		deficient, healthy float64 // P(positive | cause)
		positive           bool
		want, within       float64 // probability afterwards
		decibans, half     float64 // half of the last digit given
	}{
		{"ferritin positive", 0.313687, 0.903585, 0.152542, true, 731.0 / 1001, 2e-6, 7.7258, 5e-5},
		{"ferritin negative", 0.313687, 0.903585, 0.152542, false, 78.0 / 1578, 2e-6, -9.4397, 5e-5},
		{"2 %, ratio 6", 0.02, 0.6, 0.1, true, 0.109091, 5e-7, notGiven, 0},
		{"50 %, ratio 6", 0.5, 0.6, 0.1, true, 0.857143, 5e-7, notGiven, 0},
		{"ratio 10", 0.5, 0.5, 0.05, true, notGiven, 0, 10, 1e-6},
		{"ratio 2", 0.5, 0.4, 0.2, true, notGiven, 0, 3.0103, 5e-5},
		{"ratio 1.2589", 0.5, 0.62945, 0.5, true, notGiven, 0, 1, 1.8e-4},
		{"one nat", 0.5, math.E / 10, 0.1, true, notGiven, 0, 4.342945, 5e-7},
	} {
		m := packOf(t, "causes:\n"+cause("deficient", fmt.Sprintf("tiny: %.15g", tt.prior), 5)+cause("healthy", fmt.Sprintf("tiny: %.15g", 1-tt.prior), 5)+
			fmt.Sprintf(`evidence:
  - evidence: test
    bands: [{when: t.a}, rest]
    given: {deficient: [%.15g, %.15g], healthy: [%.15g, %.15g]}
    otherwise: [0.5, 0.5]
    source: common practice
`, tt.deficient, 1-tt.deficient, tt.healthy, 1-tt.healthy))
		a := m.Assess(diagnosis.Input{Symptoms: []string{"tiny"}, Observed: know(map[string]bool{"t.a": tt.positive})})
		if got := probability(a, "deficient"); tt.want != notGiven && !(math.Abs(got-tt.want) <= tt.within) {
			t.Errorf("%s: %.6f, want %.6f", tt.name, got, tt.want)
		}
		w := m.Weights(a, "deficient")
		if len(w) != 1 || tt.decibans != notGiven && !(math.Abs(w[0].Decibans-tt.decibans) <= tt.half) {
			t.Errorf("%s: weights %+v, want %g decibans", tt.name, w, tt.decibans)
		}
	}
}

const threeCauses = `evidence:
  - evidence: ea
    bands: [{when: t.a}, rest]
    given: {one: [0.95, 0.05]}
    otherwise: [0.02, 0.98]
    source: common practice
  - evidence: eb
    bands: [{when: t.b}, rest]
    given: {two: [0.95, 0.05]}
    otherwise: [0.02, 0.98]
    source: common practice
`

// Two strong findings that point to two causes raise something else instead
// of forcing an answer.
func TestContradictionRaisesSomethingElse(t *testing.T) {
	m := packOf(t, "causes:\n"+cause("one", "s: 0.3", 5)+cause("two", "s: 0.3", 5)+cause("three", "s: 0.3", 5)+threeCauses)
	in := diagnosis.Input{Symptoms: []string{"s"}, Observed: know(nil)}
	if p := probability(m.Assess(in), diagnosis.SomethingElse); math.Abs(p-0.05) > 1e-12 {
		t.Errorf("before: %.3f, want 0.05", p)
	}
	in.Observed = know(map[string]bool{"t.a": true, "t.b": true})
	if p := probability(m.Assess(in), diagnosis.SomethingElse); p < 0.15 {
		t.Errorf("after two findings that contradict each other: %.3f, want more than three times the prior", p)
	}
}

const blockers = `rules:
  - rule: second
    when: t.b
    kind: blocker
    cause: two
    says: b
    source: common practice
    examples: [{readings: {t.b: yes}, fires: true}]
  - rule: first
    when: t.a
    kind: blocker
    cause: one
    before: [second]
    says: a
    source: common practice
    examples: [{readings: {t.a: yes}, fires: true}]
`

func TestBlockers(t *testing.T) {
	m := packOf(t, "causes:\n"+cause("one", "s: 0.5", 5)+cause("two", "s: 0.3", 5)+cause("three", "s: 0.2", 5)+blockers)
	assess := func(o *rules.Observed) *diagnosis.Assessment {
		return m.Assess(diagnosis.Input{Symptoms: []string{"s"}, Observed: o})
	}
	a := assess(know(map[string]bool{"t.a": true, "t.b": true}))
	if len(a.Blockers) != 2 || a.Blockers[0].Rule.Name.S != "first" {
		t.Errorf("blockers %v, want the one that is fixed first in front", a.Blockers)
	}
	if probability(a, "one") != 0 || probability(a, "three") == 0 {
		t.Error("a blocker's cause stands outside the probabilities, and diagnosis goes on")
	}
	if a := assess(know(nil)); math.Abs(probability(a, "one")-0.475) > 1e-9 {
		t.Errorf("while its rule is unknown the cause keeps its prior; got %.3f", probability(a, "one"))
	}
	if a := assess(know(map[string]bool{"t.a": false})); probability(a, "one") != 0 || len(a.Blockers) != 0 {
		t.Error("a cause whose blocker is false is ruled out")
	}
	hedged := know(nil)
	v := rules.Yes(true)
	v.Certainty = 0.7
	hedged.Set("t.a", rules.Subject{Class: knowledge.Device, N: 1}, v)
	if a := assess(hedged); len(a.Blockers) != 0 {
		t.Error("a hedged value fired a blocker")
	}
}

func TestHedgedEvidenceWeighsLess(t *testing.T) {
	m := packOf(t, "causes:\n"+cause("one", "s: 0.3", 5)+cause("two", "s: 0.6", 5)+threeCauses)
	at := func(certainty float64) float64 {
		o := know(nil)
		v := rules.Yes(true)
		v.Certainty = certainty
		o.Set("t.a", rules.Subject{Class: knowledge.Device, N: 1}, v)
		return probability(m.Assess(diagnosis.Input{Symptoms: []string{"s"}, Observed: o}), "one")
	}
	// c·row + (1-c)·mean row, by hand: mean of the row is (0.95·0.3+0.02·0.6)/0.9 = 0.33.
	mean := (0.95*0.3 + 0.02*0.6) / 0.9
	one := 0.95 / 0.9 * 0.3 * (0.7*0.95 + 0.3*mean)
	two := 0.95 / 0.9 * 0.6 * (0.7*0.02 + 0.3*mean)
	want := one / (one + two + 0.05*mean)
	if got := at(0.7); math.Abs(got-want) > 1e-9 {
		t.Errorf("got %.6f, want %.6f", got, want)
	}
	if at(1) <= at(0.7) {
		t.Error("a sure value does not weigh more than a hedged one")
	}
}

// The posterior agrees with the joint distribution, enumerated.
func TestPosteriorAgainstEnumeration(t *testing.T) {
	names := []string{"one", "two", "three", "four"}
	readings := []string{"t.a", "t.b", "t.c", "t.d"}
	rapid.Check(t, func(t *rapid.T) {
		causes := "causes:\n"
		share := make([]float64, len(names))
		for i, n := range names {
			share[i] = float64(rapid.IntRange(1, 99).Draw(t, "share")) / 100
			causes += cause(n, fmt.Sprintf("s: %g", share[i]), 5)
		}
		yes := make([][]float64, len(readings)) // P(reading | cause)
		tables := "evidence:\n"
		for r := range readings {
			tables += fmt.Sprintf("  - evidence: e%d\n    bands: [{when: %s}, rest]\n    otherwise: [0.5, 0.5]\n    source: common practice\n    given:\n", r, readings[r])
			for _, n := range names {
				p := float64(rapid.IntRange(1, 99).Draw(t, "p")) / 100
				yes[r] = append(yes[r], p)
				tables += fmt.Sprintf("      %s: [%g, %g]\n", n, p, 1-p)
			}
		}
		m := packOf(t, causes+tables)
		seen := map[string]bool{}
		for _, r := range readings {
			if rapid.Bool().Draw(t, "known") {
				seen[r] = rapid.Bool().Draw(t, "value")
			}
		}
		a := m.Assess(diagnosis.Input{Symptoms: []string{"s"}, Observed: know(seen)})
		want := enumerate(share, readings, yes, seen)
		for i, n := range names {
			if got := probability(a, n); math.Abs(got-want[i]) > 1e-9 {
				t.Fatalf("%s: %.9f, want %.9f", n, got, want[i])
			}
		}
	})
}

// enumerate sums the joint distribution of cause and all four readings over
// everything that agrees with what was seen. Something else answers each
// table with the mean of the causes.
func enumerate(share []float64, readings []string, yes [][]float64, seen map[string]bool) []float64 {
	total := 0.0
	for _, s := range share {
		total += s
	}
	prior := make([]float64, len(share)+1)
	for i, s := range share {
		prior[i] = 0.95 * s / total
	}
	prior[len(share)] = 0.05
	weight := make([]float64, len(prior))
	for world := range 1 << len(readings) {
		agrees := true
		for r, name := range readings {
			if v, known := seen[name]; known && v != (world>>r&1 == 1) {
				agrees = false
			}
		}
		if !agrees {
			continue
		}
		for c := range prior {
			p := prior[c]
			for r := range readings {
				q := 0.0
				if c < len(share) {
					q = yes[r][c]
				} else {
					for i := range share {
						q += share[i] / total * yes[r][i]
					}
				}
				if world>>r&1 == 0 {
					q = 1 - q
				}
				p *= q
			}
			weight[c] += p
		}
	}
	sum := 0.0
	for _, w := range weight {
		sum += w
	}
	for i := range weight {
		weight[i] /= sum
	}
	return weight
}

func TestNext(t *testing.T) {
	m := packOf(t, "causes:\n"+cause("one", "s: 0.4", 40)+cause("two", "s: 0.4", 40)+cause("three", "s: 0.2", 40)+threeCauses)
	in := diagnosis.Input{Symptoms: []string{"s"}, Observed: know(nil)}
	s := next(t, m, in)
	if s.Kind != diagnosis.Measure || s.Place != knowledge.AtPanel || len(s.Readings) != 2 {
		t.Fatalf("got %+v; want both readings at the panel asked for together", s)
	}
	in.Observed = know(map[string]bool{"t.a": true, "t.b": false})
	if s := next(t, m, in); s.Kind != diagnosis.Repair || s.Cause.Name.S != "one" {
		t.Errorf("got %+v, want the repair of one", s)
	}
	in.Failed = []string{"one"}
	if s := next(t, m, in); s.Cause != nil && s.Cause.Name.S == "one" {
		t.Error("a repair that failed is proposed again")
	}
	in = diagnosis.Input{Observed: know(nil)}
	if s := next(t, m, in); s.Kind != diagnosis.None {
		t.Errorf("without a symptom: got %+v", s)
	}
}

// What is settled by something known is not asked.
func TestUnlessLeavesAQuestionOut(t *testing.T) {
	pack := "  - {reading: t.e, title: e, kind: yes/no, subject: device, unless: t.a, ask: Is it?, place: panel, minutes: 1, source: common practice}\n" +
		"causes:\n" + cause("one", "s: 0.5", 20) + cause("two", "s: 0.5", 20) +
		"evidence:\n  - {evidence: e, bands: [{when: t.e}, rest], given: {one: [0.9, 0.1]}, otherwise: [0.1, 0.9], source: common practice}\n"
	m := packOf(t, pack)
	for a, want := range map[bool]diagnosis.StepKind{false: diagnosis.Measure, true: diagnosis.Repair} {
		in := diagnosis.Input{Symptoms: []string{"s"}, Observed: know(map[string]bool{"t.a": a})}
		if s := next(t, m, in); s.Kind != want {
			t.Errorf("with t.a %v: got %s, want %s", a, s.Kind, want)
		}
	}
}

// Who was asked three times and did not tell can't.
func TestNotAskedForEver(t *testing.T) {
	m := packOf(t, "causes:\n"+cause("one", "s: 0.5", 40)+cause("two", "s: 0.5", 40)+threeCauses)
	in := diagnosis.Input{Symptoms: []string{"s"}, Observed: know(nil)}
	first := next(t, m, in).Readings[0].Name.S
	in.Asked = map[string]int{first: 3}
	if s := next(t, m, in); s.Kind == diagnosis.Measure && s.Readings[0].Name.S == first {
		t.Errorf("%s is asked for again", first)
	}
}

// Answering each question, and failing each repair, always comes to an end,
// and no step is proposed twice.
func TestNextEnds(t *testing.T) {
	m := packOf(t, "causes:\n"+cause("one", "s: 0.4", 5)+cause("two", "s: 0.4", 9)+cause("three", "s: 0.2", 7)+threeCauses+blockers)
	rapid.Check(t, func(t *rapid.T) {
		in := diagnosis.Input{Symptoms: []string{"s"}, Observed: know(nil)}
		var asked []string
		for range 20 {
			s := next(t, m, in)
			switch s.Kind {
			case diagnosis.None:
				return
			case diagnosis.Repair:
				if slices.Contains(in.Failed, s.Cause.Name.S) {
					t.Fatalf("%s is to be repaired again", s.Cause.Name.S)
				}
				in.Failed = append(in.Failed, s.Cause.Name.S)
			case diagnosis.Measure:
				for _, r := range s.Readings {
					if slices.Contains(asked, r.Name.S) {
						t.Fatalf("%s is asked for again", r.Name.S)
					}
					asked = append(asked, r.Name.S)
					v := rules.Yes(rapid.Bool().Draw(t, r.Name.S))
					if rapid.Bool().Draw(t, "unavailable") {
						v = rules.Value{State: rules.Unavailable}
					}
					in.Observed.Set(r.Name.S, rules.Subject{Class: knowledge.Device, N: 1}, v)
				}
			}
		}
		t.Fatal("no end after 20 steps")
	})
}

// A repair that can't be done here is not proposed from among the many causes
// that are looked at together, either.
func TestBeyondAmongTheRest(t *testing.T) {
	src := "causes:\n"
	for i := range 20 {
		minutes := 10
		if i >= 18 {
			minutes = 2 // the first to be tried of the rest
		}
		src += cause(fmt.Sprintf("c%02d", i), fmt.Sprintf("s: %g", 0.05-0.001*float64(i)), minutes)
	}
	m := packOf(t, src)
	in := diagnosis.Input{Symptoms: []string{"s"}, Observed: know(nil), Beyond: []string{"c18", "c19"}}
	repaired := 0
	for range 40 {
		s := next(t, m, in)
		if s.Kind != diagnosis.Repair {
			break
		}
		if slices.Contains(in.Beyond, s.Cause.Name.S) || slices.Contains(in.Failed, s.Cause.Name.S) {
			t.Fatalf("%s is proposed after %v", s.Cause.Name.S, in.Failed)
		}
		in.Failed = append(in.Failed, s.Cause.Name.S)
		repaired++
	}
	if repaired < 15 {
		t.Errorf("only %d repairs were proposed: the rest was not reached", repaired)
	}
}
