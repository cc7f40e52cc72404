package learn_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"ferrule/knowledge"
	"ferrule/rules/diagnosis/learn"
)

// team is a team whose faults follow shares of its own.
type team struct {
	pack  *knowledge.Pack
	truth [][]float64 // by symptom; something else last
}

// newTeam invents a pack with so many causes for each symptom, something else
// among them, and a team that agrees with it.
func newTeam(r *rand.Rand, symptoms, causes int) team {
	p := &knowledge.Pack{Hash: "sha256:simulated"}
	tm := team{pack: p}
	for s := range symptoms {
		p.Symptoms = append(p.Symptoms, knowledge.Symptom{Name: str(fmt.Sprintf("symptom_%d", s))})
		shares := make([]float64, causes-1)
		for c := range shares {
			shares[c] = 0.1 + r.Float64()
			p.Causes = append(p.Causes, cause(fmt.Sprintf("cause_%d_%d", s, c), 10, share(fmt.Sprintf("symptom_%d", s), shares[c]/2)))
		}
		tm.truth = append(tm.truth, append(scaled(shares, 0.95), 0.05))
	}
	return tm
}

func scaled(p []float64, to float64) []float64 {
	sum := 0.0
	for _, x := range p {
		sum += x
	}
	out := make([]float64, len(p))
	for i, x := range p {
		out[i] = x / sum * to
	}
	return out
}

// tilt multiplies each share by a factor between 1/4 and 4.
func (tm team) tilt(r *rand.Rand) {
	for s, p := range tm.truth {
		for i := range p {
			p[i] *= math.Pow(4, 2*r.Float64()-1)
		}
		tm.truth[s] = scaled(p, 1)
	}
}

func (tm team) cases(r *rand.Rand, n int) []learn.Case {
	cases := make([]learn.Case, n)
	for i := range cases {
		s := r.IntN(len(tm.truth))
		c, at := 0, r.Float64()
		for at -= tm.truth[s][c]; at > 0 && c < len(tm.truth[s])-1; at -= tm.truth[s][c] {
			c++
		}
		name := fmt.Sprintf("cause_%d_%d", s, c)
		if c == len(tm.truth[s])-1 {
			name = learn.SomethingElse
		}
		cases[i] = weak(i, name, []string{learn.Measurement, learn.SwapBack, learn.SymptomGone, learn.Unproven}[[]int{0, 0, 0, 0, 0, 1, 2, 2, 2, 3}[r.IntN(10)]])
		cases[i].Symptoms = []string{fmt.Sprintf("symptom_%d", s)}
	}
	return cases
}

// gain is what learning saves in nats a case, against the pack alone: on the
// cases as they come (prequential), and afterwards on what the team will see
// (held out, by the true shares).
func (tm team) gain(t *testing.T, cases []learn.Case) (asTheyCome, heldOut float64) {
	t.Helper()
	score := func(every int) float64 {
		s, err := learn.Prequential(tm.pack, slices.Values(cases), learn.Default(), every, func(l *learn.Learned, c learn.Case) learn.Forecast {
			return forecast(tm.numbers(t, l).CausePrior(c.Symptoms[0], ""), c)
		})
		if err != nil {
			t.Fatal(err)
		}
		return s.Log
	}
	l, err := learn.Learn(tm.pack, slices.Values(cases), learn.Default())
	if err != nil {
		t.Fatal(err)
	}
	none, err := learn.Learn(tm.pack, slices.Values(cases[:0]), learn.Default())
	if err != nil {
		t.Fatal(err)
	}
	after, before := tm.numbers(t, l), tm.numbers(t, none)
	for s, p := range tm.truth {
		name := fmt.Sprintf("symptom_%d", s)
		now, pack := after.CausePrior(name, ""), before.CausePrior(name, "")
		for i, x := range p {
			heldOut += x * math.Log(now[i].Share/pack[i].Share) / float64(len(tm.truth))
		}
	}
	return score(len(cases)) - score(1), heldOut
}

func (tm team) numbers(t *testing.T, l *learn.Learned) *learn.Numbers {
	t.Helper()
	n, err := l.Numbers(tm.pack)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// 200 cases of a team that differs from the pack, each share by a factor of up to
// 4, make the shares better; 200 cases of one that agrees make them worse by at
// most 0.02 nats a case. By theory the latter lose (K-1)/2 · V/(20+W)² for K
// causes, with W the sum of the weights and V that of their squares, and on the
// way the mean of that.
func TestTwoHundredCases(t *testing.T) {
	const seeds, n = 40, 200
	for _, size := range []struct{ symptoms, causes int }{{1, 6}, {2, 5}, {4, 4}} {
		t.Run(fmt.Sprintf("%d symptoms of %d causes", size.symptoms, size.causes), func(t *testing.T) {
			for _, differs := range []bool{true, false} {
				var come, held []float64
				for seed := range uint64(seeds) {
					r := rand.New(rand.NewPCG(seed, 2026))
					tm := newTeam(r, size.symptoms, size.causes)
					if differs {
						tm.tilt(r)
					}
					a, b := tm.gain(t, tm.cases(r, n))
					come, held = append(come, a), append(held, b)
				}
				t.Logf("the team differs: %-5v seeds 0 to %d: prequential %s; held out %s", differs, seeds-1, summary(come), summary(held))
				if !differs {
					if least := min(mean(come), mean(held)); least < -0.02 {
						t.Errorf("agreeing cases cost %.4f nats each, want 0.02 or less", -least)
					}
					want := -expectedLoss(size.symptoms, size.causes, n)
					t.Logf("held out by theory %.4f", want)
					if got := mean(held); got < 1.5*want || got > want/1.5 {
						t.Errorf("held out %.4f, and theory says %.4f", got, want)
					}
					continue
				}
				if mean(come) < 0.02 || mean(held) < 0.05 || share0(held) > 0.05 {
					t.Errorf("learning from a team that differs gains too little")
				}
			}
		})
	}
}

// expectedLoss is the theory for the mix of confirmations of these teams: 0.6 of
// weight 1, 0.3 of 0.5 and 0.1 of 0.25.
func expectedLoss(symptoms, causes, cases int) float64 {
	n := float64(cases) / float64(symptoms)
	weight, squares := n*(0.6+0.3*0.5+0.1*0.25), n*(0.6+0.3*0.25+0.1*0.0625)
	return float64(causes-1) / 2 * squares / ((20 + weight) * (20 + weight))
}

func mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}

// share0 is the share of values below 0.
func share0(x []float64) float64 {
	n := 0
	for _, v := range x {
		if v < 0 {
			n++
		}
	}
	return float64(n) / float64(len(x))
}

func summary(x []float64) string {
	return fmt.Sprintf("gains %.4f nats (%.4f to %.4f)", mean(x), slices.Min(x), slices.Max(x))
}

// A model whose faults are its own is learned apart: where two models have the
// opposite shares, naming the equipment gains. Where both agree with the pack it
// costs at most 0.02 nats a case.
func TestEquipmentOfItsOwn(t *testing.T) {
	pack := shareOf(numbers(t), "weak_signal", "", "place_too_weak")
	for _, tt := range []struct {
		name             string
		wick, rill, gain float64 // shares of place_too_weak; the least gain
	}{
		{"opposite", 0.8, 0.2, 0.05}, {"alike", 0.8, 0.8, -0.02}, {"as the pack says", pack, pack, -0.02},
	} {
		var gains, lost []float64
		for seed := range uint64(40) {
			r := rand.New(rand.NewPCG(seed, 7))
			var cases []learn.Case
			for i := range 200 {
				c := weak(i, "place_too_weak", learn.Measurement)
				own := tt.wick
				if c.Equipment = "wick"; r.IntN(2) == 0 {
					c.Equipment, own = "rill", tt.rill
				}
				if r.Float64() >= own {
					c.Cause = anyOther(r)
				}
				cases = append(cases, c)
			}
			named, all, none := equipmentScore(t, cases, true, 1), equipmentScore(t, cases, false, 1), equipmentScore(t, cases, false, len(cases))
			gains, lost = append(gains, all-named), append(lost, none-named)
		}
		t.Logf("%s, seeds 0 to 39: naming the equipment, against not naming it, %s; against the pack, %s", tt.name, summary(gains), summary(lost))
		if mean(gains) < tt.gain {
			t.Errorf("%s: naming the equipment %s", tt.name, summary(gains))
		}
	}
}

// anyOther draws one of the other causes, by the shares of the pack.
func anyOther(r *rand.Rand) string {
	switch at := r.Float64() * (0.95*5/9 + 0.05); {
	case at < 0.95*3/9:
		return "metal_case"
	case at < 0.95*5/9:
		return "other_transmitter"
	}
	return learn.SomethingElse
}

func equipmentScore(t *testing.T, cases []learn.Case, named bool, every int) float64 {
	t.Helper()
	f := priorForecast(t)
	s, err := learn.Prequential(invented(), slices.Values(cases), learn.Default(), every, func(l *learn.Learned, c learn.Case) learn.Forecast {
		if !named {
			c.Equipment = ""
		}
		return f(l, c)
	})
	if err != nil {
		t.Fatal(err)
	}
	return s.Log
}

// Of a team's repairs, eight of ten fall into the 80 % interval and 95 of 100
// into the other, from the first on, when the team's own medians and spreads lie
// about the pack's as the prior says.
func TestIntervalsAreHonest(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 2026))
	s := learn.Default()
	const teams = 4000
	for _, n := range []int{0, 1, 2, 10} {
		in80, in95 := 0, 0
		for range teams {
			// Scaled inverse chi-square with as many degrees of freedom as cases.
			chi := 0.0
			for range int(s.MinutesCases) {
				z := r.NormFloat64()
				chi += z * z
			}
			spread := s.MinutesSpread * math.Sqrt(s.MinutesCases/chi)
			middle := math.Log(20) + spread/math.Sqrt(s.MinutesCases)*r.NormFloat64()
			took := func() float64 { return min(max(math.Exp(middle+spread*r.NormFloat64()), 0.01), 100_000) }
			c := weak(1, "place_too_weak", learn.Unproven)
			for range n {
				c.Repairs = append(c.Repairs, learn.Tried{Cause: "place_too_weak", Minutes: took()})
			}
			m, _ := numbers(t, c).Minutes("place_too_weak")
			next := took()
			if m.Low80 <= next && next <= m.High80 {
				in80++
			}
			if m.Low95 <= next && next <= m.High95 {
				in95++
			}
		}
		got80, got95 := float64(in80)/teams, float64(in95)/teams
		t.Logf("after %d times: %.3f in the 80 %% interval, %.3f in the 95 %% interval", n, got80, got95)
		// Four standard errors of 4,000 draws.
		if math.Abs(got80-0.8) > 0.0253 || math.Abs(got95-0.95) > 0.0138 {
			t.Errorf("after %d times: %.3f and %.3f", n, got80, got95)
		}
	}
}
