package learn_test

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"ferrule/knowledge"
	"ferrule/knowledge/units"
	"ferrule/rules/diagnosis/learn"
)

// The mean of a Dirichlet with the prior mean p counting as 20 cases, by hand:
// (20·p + weight of the cause)/(20 + weight of all). The shares of the pack are
// 0.95·(4, 3, 2)/9 and 0.05.
func TestCausePrior(t *testing.T) {
	n := numbers(t,
		weak(1, "place_too_weak", learn.Measurement), weak(2, "place_too_weak", learn.SwapBack),
		weak(3, "metal_case", learn.SymptomGone), weak(4, "", learn.Unproven), weak(5, "aerial_loose", learn.Unproven),
	)
	all := 20 + 1 + 1 + 0.5 + 0.25 + 0.25
	for cause, want := range map[string]float64{
		"place_too_weak":    (20*0.95*4/9 + 2) / all,
		"metal_case":        (20*0.95*3/9 + 0.5) / all,
		"other_transmitter": 20 * 0.95 * 2 / 9 / all,
		"aerial_loose":      0.25 / all, // the pack does not list it
		learn.SomethingElse: (20*0.05 + 0.25) / all,
	} {
		near(t, cause, shareOf(n, "weak_signal", "", cause), want, 1e-12)
	}
	var order []string
	for _, s := range n.CausePrior("weak_signal", "") {
		order = append(order, s.Cause)
	}
	if got := strings.Join(order, " "); got != "place_too_weak metal_case other_transmitter aerial_loose something_else" {
		t.Errorf("order %s", got)
	}
	if n.CausePrior("no_such", "") != nil {
		t.Error("shares for a symptom that the pack does not have")
	}
}

// By hand: the other cases of the symptom first, then those of the kind, then
// those of the model, each on top of a mean that counts as 20 cases.
func TestEquipmentIsShrunkTowardsWhatIsAbove(t *testing.T) {
	var cases []learn.Case
	add := func(n int, cause, equipment string) {
		for range n {
			c := weak(len(cases)+1, cause, learn.Measurement)
			c.Equipment = equipment
			cases = append(cases, c)
		}
	}
	add(10, "metal_case", "")
	add(5, "metal_case", "keypad")
	add(20, "place_too_weak", "wick")
	n := numbers(t, cases...)
	pack := 0.95 * 4 / 9
	near(t, "all", shareOf(n, "weak_signal", "", "place_too_weak"), (20*pack+20)/55, 1e-12)
	others := 20 * pack / 30
	near(t, "kind", shareOf(n, "weak_signal", "keypad", "place_too_weak"), (20*others+20)/45, 1e-12)
	kind := 20 * others / 25
	near(t, "model", shareOf(n, "weak_signal", "wick", "place_too_weak"), (20*kind+20)/40, 1e-12)
	near(t, "another", shareOf(n, "weak_signal", "rill", "place_too_weak"), (20*pack+20)/55, 1e-12)
	near(t, "unknown", shareOf(n, "weak_signal", "brand new", "place_too_weak"), (20*pack+20)/55, 1e-12)
	// Where all cases are of one model, naming it adds nothing.
	n = numbers(t, cases[15:]...)
	near(t, "one model", shareOf(n, "weak_signal", "wick", "place_too_weak"), shareOf(n, "weak_signal", "", "place_too_weak"), 1e-12)
}

func TestRows(t *testing.T) {
	see := func(id int, cause string, bands ...learn.Observed) learn.Case {
		c := weak(id, cause, learn.Measurement)
		c.Bands = bands
		return c
	}
	n := numbers(t,
		see(1, "place_too_weak", learn.Observed{"level", 1}),
		see(2, "place_too_weak", learn.Observed{"level", 3}, learn.Observed{"level", 2}), // the later one holds
		see(3, "other_transmitter", learn.Observed{"level", 1}, learn.Observed{"spread", 2}),
		see(4, "aerial_loose", learn.Observed{"level", 3}, learn.Observed{"spread", 2}), // spread is not in force
		see(5, "other_transmitter", learn.Observed{"spread", 1}),                        // nor here
		see(6, "", learn.Observed{"level", 1}),                                          // something else has no row
		see(7, "renamed", learn.Observed{"level", 1}),
		see(8, "metal_case", learn.Observed{"level", 4}),
	)
	for _, tt := range []struct {
		evidence, cause string
		want            []float64 // (20·p + n)/(20 + all), by hand
	}{
		{"level", "place_too_weak", []float64{11. / 22, 8. / 22, 3. / 22}},
		{"level", "metal_case", []float64{0.6, 0.3, 0.1}},
		{"level", "other_transmitter", []float64{2. / 22, 3. / 22, 17. / 22}},
		{"level", "aerial_loose", []float64{2. / 22, 3. / 22, 17. / 22}}, // pooled
		{"spread", "other_transmitter", []float64{14. / 21, 7. / 21}},
		{"spread", "place_too_weak", []float64{0.4, 0.6}},
		{"level", learn.SomethingElse, nil}, {"level", "renamed", nil}, {"no such", "metal_case", nil},
	} {
		got := n.Row(tt.evidence, tt.cause)
		if len(got) != len(tt.want) {
			t.Errorf("%s, %s: %v, want %v", tt.evidence, tt.cause, got, tt.want)
			continue
		}
		for i := range got {
			near(t, tt.evidence+" "+tt.cause, got[i], tt.want[i], 1e-12)
		}
	}
	near(t, "otherwise", n.Otherwise("level")[0], 2./22, 1e-12)
	want := []learn.Aside{{"band", "level 4", 1}, {"cause", "renamed", 1}, {"not in force", "spread", 2}}
	if got := n.Aside(); !slices.Equal(got, want) {
		t.Errorf("aside %v, want %v", got, want)
	}
}

// The mean of a Beta, by hand: (18 + mended)/(20 + tried). A repair of another
// cause than the one it was says nothing.
func TestMends(t *testing.T) {
	one := weak(1, "metal_case", learn.Measurement)
	one.Repairs = []learn.Tried{{Cause: "place_too_weak"}, {Cause: "metal_case"}, {Cause: "metal_case", Mended: true}}
	two := weak(2, "metal_case", learn.SymptomGone)
	two.Repairs = []learn.Tried{{Cause: "metal_case", Mended: true}}
	n := numbers(t, one, two)
	near(t, "mends", n.Mends("metal_case"), (18+1+0.5)/(20+2+0.5), 1e-12)
	near(t, "no case of its own", n.Mends("place_too_weak"), 0.9, 1e-12)
	near(t, "unknown", n.Mends("no_such"), 0.9, 1e-12)
}

// Without cases the log is a Student t with as many degrees of freedom as the
// pack counts as cases, and the scale 0.5·sqrt(1 + 1/cases). Quantiles of t:
// NIST/SEMATECH e-Handbook 1.3.6.7.2, from memory, to three places.
func TestMinutesWithoutCasesAgainstTable(t *testing.T) {
	for _, tt := range []struct{ cases, t90, t975 float64 }{
		{1, 3.078, 12.706}, {2, 1.886, 4.303}, {3, 1.638, 3.182}, {4, 1.533, 2.776}, {5, 1.476, 2.571},
		{10, 1.372, 2.228}, {20, 1.325, 2.086}, {30, 1.310, 2.042}, {100, 1.290, 1.984},
	} {
		s := learn.Default()
		s.MinutesCases = tt.cases
		l, err := learn.Learn(invented(), slices.Values([]learn.Case{}), s)
		if err != nil {
			t.Fatal(err)
		}
		n, err := l.Numbers(invented())
		if err != nil {
			t.Fatal(err)
		}
		m, ok := n.Minutes("place_too_weak")
		if !ok || m.Median != 20 || m.Cases != 0 {
			t.Fatalf("%v %v, want the pack's 20 minutes", m, ok)
		}
		scale := 0.5 * math.Sqrt(1+1/tt.cases)
		for _, q := range []struct{ got, want float64 }{
			{math.Log(m.High80/20) / scale, tt.t90}, {-math.Log(m.Low80/20) / scale, tt.t90},
			{math.Log(m.High95/20) / scale, tt.t975}, {-math.Log(m.Low95/20) / scale, tt.t975},
		} {
			if math.Abs(q.got-q.want) > 0.0006 {
				t.Errorf("%g cases: t %.4f, want %.3f", tt.cases, q.got, q.want)
			}
		}
	}
}

func TestMinutes(t *testing.T) {
	c := weak(1, "metal_case", learn.Unproven)
	c.Repairs = []learn.Tried{{Cause: "metal_case", Minutes: 40}, {Cause: "renamed", Minutes: 5}, {Cause: "metal_case"}}
	c.Steps = []learn.Timed{{"radio.signal", 6}, {"radio.margin", 2}, {"no.such", 2}, {Reading: "radio.signal"}}
	n := numbers(t, c)
	// The median is the weighted geometric mean of the pack's, 4 times, and the
	// case, however the cause was confirmed.
	m, ok := n.Minutes("metal_case")
	near(t, "repair", m.Median, math.Pow(math.Pow(10, 4)*40, 1./5), 1e-12)
	step, stepOK := n.StepMinutes("radio.signal")
	near(t, "reading", step.Median, math.Pow(math.Pow(3, 4)*6, 1./5), 1e-12)
	if !ok || !stepOK || m.Cases != 1 || step.Cases != 1 {
		t.Errorf("%v %v: want a case each", m, step)
	}
	if !(m.Low95 < m.Low80 && m.Low80 < m.Median && m.Median < m.High80 && m.High80 < m.High95) {
		t.Errorf("%v is out of order", m)
	}
	for _, name := range []string{"renamed", learn.SomethingElse, ""} {
		if _, ok := n.Minutes(name); ok {
			t.Errorf("minutes for %q", name)
		}
	}
	for _, name := range []string{"no.such", "radio.margin"} { // the latter has none in the pack
		if _, ok := n.StepMinutes(name); ok {
			t.Errorf("minutes for %q", name)
		}
	}
	want := []learn.Aside{{"cause", "renamed", 1}, {"reading", "no.such", 1}}
	if got := n.Aside(); !slices.Equal(got, want) {
		t.Errorf("aside %v, want %v", got, want)
	}
}

// Names that the pack no longer has are counted, and tilt nothing.
func TestUnknownNames(t *testing.T) {
	one, two := weak(1, "renamed", learn.Measurement), weak(2, "metal_case", learn.Measurement)
	one.Symptoms = append(one.Symptoms, "old_symptom", "weak_signal")
	one.Equipment, two.Equipment = "old model", "old model"
	two.Bands = []learn.Observed{{"old table", 2}}
	n := numbers(t, one, two)
	near(t, "share", shareOf(n, "weak_signal", "", "metal_case"), (20*0.95*3/9+1)/21, 1e-12)
	want := []learn.Aside{{"cause", "renamed", 1}, {"equipment", "old model", 2}, {"evidence", "old table", 1}, {"symptom", "old_symptom", 1}}
	if got := n.Aside(); !slices.Equal(got, want) {
		t.Errorf("aside %v, want %v", got, want)
	}
	// In a pack that has the name again, the case counts.
	pack := invented()
	pack.Causes = append(pack.Causes, cause("renamed", 5, share("weak_signal", 0.1)))
	again, err := n.Learned().Carry(pack)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "share", shareOf(again, "weak_signal", "", "renamed"), (20*0.095+1)/22, 1e-12)
}

func TestOtherPackIsRefused(t *testing.T) {
	l := learned(t, weak(1, "metal_case", learn.Measurement))
	pack := invented()
	pack.Hash = "sha256:changed"
	var other *learn.OtherPack
	if _, err := l.Numbers(pack); !errors.As(err, &other) || other.Learned != "sha256:invented" || other.Pack != "sha256:changed" {
		t.Errorf("got %v, want an *OtherPack", err)
	}
	if _, err := l.Numbers(nil); !errors.As(err, &other) {
		t.Errorf("got %v, want an *OtherPack", err)
	}
	n, err := l.Carry(pack)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "carried", shareOf(n, "weak_signal", "", "metal_case"), (20*0.95*3/9+1)/21, 1e-12)
	if l.Pack() != "sha256:invented" || l.Cases() != 1 || l.Settings() != learn.Default() {
		t.Errorf("%s, %d cases", l.Pack(), l.Cases())
	}
	if first, last := l.Span(); !first.Equal(start.Add(3600e9)) || !last.Equal(first) {
		t.Errorf("span %v to %v", first, last)
	}
	var zero *units.OutOfRange
	if _, err := new(learn.Learned).Carry(pack); !errors.As(err, &zero) {
		t.Errorf("a Learned that nobody made: %v", err)
	}
}

// A symptom without a cause is something else, and an empty pack has no numbers.
func TestBarePacks(t *testing.T) {
	pack := &knowledge.Pack{Symptoms: []knowledge.Symptom{{Name: str("other"), Else: 0.5}}}
	l, err := learn.Learn(pack, slices.Values([]learn.Case{}), learn.Default())
	if err != nil {
		t.Fatal(err)
	}
	n, err := l.Numbers(pack)
	if err != nil {
		t.Fatal(err)
	}
	if got := n.CausePrior("other", ""); !slices.Equal(got, []learn.Share{{learn.SomethingElse, 1}}) {
		t.Errorf("got %v", got)
	}
	if l, err = learn.Learn(nil, slices.Values([]learn.Case{weak(1, "x", learn.Measurement)}), learn.Default()); err != nil {
		t.Fatal(err)
	}
	if n, err = l.Numbers(nil); err != nil || len(n.Explain()) != 0 || len(n.Aside()) != 2 {
		t.Errorf("%v, %v, %v", n.Explain(), n.Aside(), err)
	}
}

func TestExplain(t *testing.T) {
	one := weak(1, "place_too_weak", learn.SymptomGone)
	one.Equipment = "wick"
	one.Bands = []learn.Observed{{"level", 1}}
	one.Repairs = []learn.Tried{{Cause: "place_too_weak", Mended: true, Minutes: 20}}
	one.Steps = []learn.Timed{{"radio.signal", 3}}
	n := numbers(t, one)
	var text strings.Builder
	for _, l := range n.Explain() {
		text.WriteString(l.String() + "\n")
	}
	// (20·0.42222 + 0.5)/20.5 = 0.436; (10 + 0.5)/20.5 = 0.512; 18.5/20.5 = 0.902.
	for _, want := range []string{
		"weak_signal: place_too_weak: the pack says 0.422 (as 20 cases), 1 of 1 cases do (they count as 0.5), now 0.436\n",
		"weak_signal, wick: place_too_weak: the pack says 0.422, other equipment 0.422 (as 20 cases), 1 of 1 cases do (they count as 0.5), now 0.436\n",
		"weak_signal, keypad: metal_case: the pack says 0.317, other equipment 0.317 (as 20 cases), 0 of 1 cases do (they count as 0.5), now 0.309\n",
		"interference: something_else: the pack says 0.2 (as 20 cases), no case speaks to it, now 0.2\n",
		"level, band 1: place_too_weak: the pack says 0.5 (as 20 cases), 1 of 1 cases do (they count as 0.5), now 0.512\n",
		"spread, band 2: any other cause: the pack says 0.6 (as 20 cases), no case speaks to it, now 0.6\n",
		"the repair of place_too_weak mends it: the pack says 0.9 (as 20 cases), 1 of 1 cases do (they count as 0.5), now 0.902\n",
		"minutes for the repair of place_too_weak: the pack says 20 (as 4 cases), 1 timed, now 20\n",
		"minutes for the reading radio.signal: the pack says 3 (as 4 cases), 1 timed, now 3\n",
	} {
		if !strings.Contains(text.String(), want) {
			t.Errorf("no line %q in\n%s", want, &text)
		}
	}
}
