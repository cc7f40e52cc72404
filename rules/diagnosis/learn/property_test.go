package learn_test

import (
	"bytes"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"ferrule/knowledge"
	"ferrule/rules/diagnosis/learn"
)

// drawn are cases of everything, names that the pack does not have among them.
func drawn(t *rapid.T) []learn.Case {
	n := rapid.IntRange(0, 30).Draw(t, "cases")
	cases := make([]learn.Case, n)
	for i := range cases {
		c := learn.Case{
			ID: uint64(i), Closed: start.Add(time.Duration(rapid.IntRange(0, 1000).Draw(t, "closed")) * time.Minute),
			Symptoms:  rapid.SliceOfN(rapid.SampledFrom([]string{"weak_signal", "interference", "old"}), 0, 3).Draw(t, "symptoms"),
			Equipment: rapid.SampledFrom(equipmentNames).Draw(t, "equipment"),
			Cause:     rapid.SampledFrom(causeNames).Draw(t, "cause"),
			Confirmed: rapid.SampledFrom(confirmedNames[1:]).Draw(t, "confirmed"),
		}
		time := rapid.SampledFrom([]float64{0, 0.01, 2, 17.3, 100_000})
		for range rapid.IntRange(0, 3).Draw(t, "bands") {
			c.Bands = append(c.Bands, learn.Observed{
				Evidence: rapid.SampledFrom([]string{"level", "spread", "old table"}).Draw(t, "table"), Band: rapid.IntRange(1, 4).Draw(t, "band"),
			})
		}
		for range rapid.IntRange(0, 2).Draw(t, "repairs") {
			c.Repairs = append(c.Repairs, learn.Tried{
				Cause: rapid.SampledFrom(causeNames[1:]).Draw(t, "repair"), Mended: rapid.Bool().Draw(t, "mended"), Minutes: time.Draw(t, "minutes"),
			})
		}
		if rapid.Bool().Draw(t, "timed") {
			c.Steps = []learn.Timed{{Reading: rapid.SampledFrom([]string{"radio.signal", "old.reading"}).Draw(t, "reading"), Minutes: time.Draw(t, "minutes")}}
		}
		cases[i] = c
	}
	return cases
}

// The same cases in any order give the same file, byte for byte, with any weights.
func TestOrderDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cases := drawn(t)
		s := learn.Default()
		s.SymptomGone, s.Unproven = 0.3, 0.1
		var files [2][]byte
		for i := range files {
			l, err := learn.Learn(invented(), slices.Values(cases), s)
			if err != nil {
				t.Fatal(err)
			}
			files[i] = encoded(t, l)
			seed := rapid.Uint64().Draw(t, "seed")
			rand.New(rand.NewPCG(seed, 1)).Shuffle(len(cases), func(i, j int) { cases[i], cases[j] = cases[j], cases[i] })
		}
		if !bytes.Equal(files[0], files[1]) {
			t.Fatalf("%s\nand in another order\n%s", files[0], files[1])
		}
	})
}

// What comes back from a file is the same, and so are its numbers.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := learned(t, drawn(t)...)
		b := encoded(t, l)
		back, err := learn.Decode(bytes.NewReader(b))
		if err != nil {
			t.Fatalf("%v\n%s", err, b)
		}
		if again := encoded(t, back); !bytes.Equal(b, again) || back.Hash() != l.Hash() {
			t.Fatalf("%s\nbecame\n%s", b, again)
		}
		one, errOne := l.Numbers(invented())
		two, errTwo := back.Numbers(invented())
		if errOne != nil || errTwo != nil {
			t.Fatal(errOne, errTwo)
		}
		if !slices.Equal(one.Explain(), two.Explain()) || !slices.Equal(one.Aside(), two.Aside()) {
			t.Fatalf("other numbers after reading the file")
		}
	})
}

// Shares and rows are probabilities that sum to 1; chances and minutes are what
// they can be, for all cases.
func TestNumbersArePossible(t *testing.T) {
	pack := invented()
	rapid.Check(t, func(t *rapid.T) {
		n := numbers(t, drawn(t)...)
		for _, symptom := range symptomNames[1:] {
			for _, equipment := range equipmentNames {
				sum := 0.0
				for _, s := range n.CausePrior(symptom, equipment) {
					if !(s.Share >= 0 && s.Share <= 1) {
						t.Fatalf("%s, %s: %v", symptom, equipment, s)
					}
					sum += s.Share
				}
				if math.Abs(sum-1) > 1e-12 {
					t.Fatalf("%s, %s sums to %v", symptom, equipment, sum)
				}
			}
		}
		for _, c := range pack.Causes {
			for _, e := range pack.Evidence {
				sum := 0.0
				for _, p := range n.Row(e.Name.S, c.Name.S) {
					if !(p > 0 && p < 1) {
						t.Fatalf("%s, %s: %v", e.Name.S, c.Name.S, p)
					}
					sum += p
				}
				if math.Abs(sum-1) > 1e-12 {
					t.Fatalf("%s, %s sums to %v", e.Name.S, c.Name.S, sum)
				}
			}
			m, ok := n.Minutes(c.Name.S)
			if p := n.Mends(c.Name.S); !ok || !(p > 0 && p < 1) || !possible(m) {
				t.Fatalf("%s: mends %v, %v", c.Name.S, p, m)
			}
		}
		for _, l := range n.Explain() {
			if l.Seen > l.Cases || l.Weight > float64(l.Cases) || l.Weight < 0 || l.String() == "" {
				t.Fatalf("%+v", l)
			}
		}
	})
}

func possible(m learn.Minutes) bool {
	return 0 < m.Low95 && m.Low95 < m.Low80 && m.Low80 < m.Median && m.Median < m.High80 && m.High80 < m.High95 && m.High95 < math.MaxFloat64
}

// Without cases every number is the pack's. Cases that only have names which the
// pack does not have change none either.
func TestNoCasesIsThePack(t *testing.T) {
	strange := learn.Case{
		ID: 1, Symptoms: []string{"weak_signal"}, Cause: "of_another_pack", Equipment: "wick", Confirmed: learn.Measurement,
		Bands: []learn.Observed{{"level", 1}}, Repairs: []learn.Tried{{Cause: "of_another_pack", Minutes: 3, Mended: true}},
	}
	for _, n := range []*learn.Numbers{numbers(t), numbers(t, strange)} {
		for _, l := range n.Explain() {
			near(t, l.String(), l.Now, l.Pack, 1e-12)
		}
		pack := invented()
		for _, e := range pack.Evidence {
			for _, g := range e.Given {
				if got := n.Row(e.Name.S, g.Name.S); !slices.Equal(got, g.Value) {
					t.Errorf("%s, %s: %v", e.Name.S, g.Name.S, got)
				}
			}
			if got := n.Otherwise(e.Name.S); !slices.Equal(got, e.Otherwise) {
				t.Errorf("%s: %v", e.Name.S, got)
			}
		}
		for cause, want := range map[string]float64{"place_too_weak": 0.3 / 0.9 * 0.8, "other_transmitter": 0.5 / 0.9 * 0.8, learn.SomethingElse: 0.2} {
			for _, equipment := range equipmentNames {
				near(t, cause, shareOf(n, "interference", equipment, cause), want, 1e-12)
			}
		}
		for _, c := range pack.Causes {
			if m, ok := n.Minutes(c.Name.S); !ok || m.Median != c.Fix.Minutes || n.Mends(c.Name.S) != 0.9 {
				t.Errorf("%s: %v", c.Name.S, m)
			}
		}
	}
}

// More of the same evidence takes each share nearer to what was seen, and never
// past it.
func TestMoreEvidence(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		seen := make([]int, 5)
		total := 0
		names := []string{"place_too_weak", "metal_case", "other_transmitter", "aerial_loose", learn.SomethingElse}
		for i := range seen {
			seen[i] = rapid.IntRange(0, 4).Draw(t, "seen")
			total += seen[i]
		}
		if total == 0 {
			return
		}
		equipment := rapid.SampledFrom(equipmentNames).Draw(t, "equipment")
		confirmed := rapid.SampledFrom(confirmedNames[1:]).Draw(t, "confirmed")
		before := numbers(t)
		var cases []learn.Case
		for range rapid.IntRange(1, 5).Draw(t, "rounds") {
			for i, n := range seen {
				for range n {
					c := weak(len(cases), names[i], confirmed)
					c.Equipment = equipment
					c.Bands = []learn.Observed{{"level", i%3 + 1}}
					cases = append(cases, c)
				}
			}
			after := numbers(t, cases...)
			for i, name := range names {
				want := float64(seen[i]) / float64(total)
				from, to := shareOf(before, "weak_signal", equipment, name), shareOf(after, "weak_signal", equipment, name)
				if math.IsNaN(from) {
					from = 0 // the pack does not list it
				}
				if math.IsNaN(to) {
					to = 0
				}
				towards(t, from, to, want)
			}
			before = after
		}
	})
}

func towards(t *rapid.T, from, to, seen float64) {
	const slack = 1e-12
	if to < min(from, seen)-slack || to > max(from, seen)+slack {
		t.Fatalf("from %v to %v, and %v was seen", from, to, seen)
	}
	if math.Abs(from-seen) > 1e-9 && math.Abs(to-seen) >= math.Abs(from-seen) {
		t.Fatalf("from %v to %v is no nearer to %v", from, to, seen)
	}
}

// The same for a row, for a repair that mends, and for minutes: the median never
// leaves the pack's and the cases'.
func TestMoreEvidenceOfTheRest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		band, mended := rapid.IntRange(1, 3).Draw(t, "band"), rapid.Bool().Draw(t, "mended")
		took := rapid.Float64Range(0.01, 100_000).Draw(t, "minutes")
		before := numbers(t)
		var cases []learn.Case
		width := math.Inf(1)
		for i := range 6 {
			c := weak(i, "metal_case", learn.Measurement)
			c.Bands = []learn.Observed{{"level", band}}
			c.Repairs = []learn.Tried{{Cause: "metal_case", Mended: mended, Minutes: took}}
			cases = append(cases, c)
			after := numbers(t, cases...)
			for b := range 3 {
				seen := 0.0
				if b+1 == band {
					seen = 1
				}
				towards(t, before.Row("level", "metal_case")[b], after.Row("level", "metal_case")[b], seen)
			}
			seen := 0.0
			if mended {
				seen = 1
			}
			towards(t, before.Mends("metal_case"), after.Mends("metal_case"), seen)
			from, _ := before.Minutes("metal_case")
			to, _ := after.Minutes("metal_case")
			towards(t, math.Log(from.Median), math.Log(to.Median), math.Log(took))
			if w := math.Log(to.High95 / to.Low95); i > 2 && w >= width {
				t.Fatalf("case %d of the same minutes widened the interval from %v to %v", i, width, w)
			} else {
				width = w
			}
			before = after
		}
	})
}

// What a method returns belongs to the caller.
func TestResultsAreCopies(t *testing.T) {
	n := numbers(t, weak(1, "metal_case", learn.Measurement))
	n.CausePrior("weak_signal", "")[0].Share = 7
	n.Row("level", "metal_case")[0] = 7
	n.Otherwise("level")[0] = 7
	if n.CausePrior("weak_signal", "")[0].Share > 1 || n.Row("level", "metal_case")[0] != 0.6 || n.Otherwise("level")[0] != 0.05 {
		t.Error("the numbers changed")
	}
	pack := invented()
	l, _ := learn.Learn(pack, slices.Values([]learn.Case{}), learn.Default())
	other, err := l.Numbers(pack)
	if err != nil {
		t.Fatal(err)
	}
	other.Row("level", "metal_case")[0] = 7
	if want := (knowledge.Named[[]float64]{Name: str("metal_case"), Value: []float64{0.6, 0.3, 0.1}}); pack.Evidence[0].Given[1].Value[0] != want.Value[0] {
		t.Error("the pack changed")
	}
}
