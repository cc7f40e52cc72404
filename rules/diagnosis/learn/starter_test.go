package learn_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"ferrule/knowledge"
	"ferrule/knowledge/starter"
	"ferrule/rules/diagnosis/learn"
)

// starterTeam works with the starter pack, on some of its complaints. Its true
// shares are the pack's, or those of a team with habits and stock of its own: in
// each complaint one cause is behind four cases of ten.
type starterTeam struct {
	pack     *knowledge.Pack
	symptoms []string
	truth    map[string][]learn.Share
}

func newStarterTeam(t *testing.T, pack *knowledge.Pack, r *rand.Rand, symptoms []string, differs bool) starterTeam {
	t.Helper()
	none, err := learn.Learn(pack, slices.Values([]learn.Case(nil)), learn.Default())
	if err != nil {
		t.Fatal(err)
	}
	numbers, err := none.Numbers(pack)
	if err != nil {
		t.Fatal(err)
	}
	tm := starterTeam{pack: pack, symptoms: symptoms, truth: map[string][]learn.Share{}}
	for _, s := range symptoms {
		shares := numbers.CausePrior(s, "")
		if differs {
			often := r.IntN(len(shares) - 1)
			rest := 1 - shares[often].Share
			for i := range shares {
				shares[i].Share *= 0.6 / rest
			}
			shares[often].Share = 0.4
		}
		tm.truth[s] = shares
	}
	return tm
}

func (tm starterTeam) cases(r *rand.Rand, n int) []learn.Case {
	out := make([]learn.Case, n)
	for i := range out {
		s := tm.symptoms[r.IntN(len(tm.symptoms))]
		x, cause := r.Float64(), learn.SomethingElse
		for _, share := range tm.truth[s] {
			if x -= share.Share; x < 0 {
				cause = share.Cause
				break
			}
		}
		confirmed := []string{learn.Measurement, learn.Measurement, learn.SwapBack, learn.SymptomGone, learn.Unproven}[r.IntN(5)]
		out[i] = learn.Case{
			ID: uint64(i + 1), Closed: time.Date(2026, 1, 1, 0, i, 0, 0, time.UTC), Symptoms: []string{s}, Cause: cause, Confirmed: confirmed,
		}
	}
	return out
}

// gain is what the cases save in nats a case on what the team will see.
func (tm starterTeam) gain(t *testing.T, cases []learn.Case) float64 {
	t.Helper()
	shares := func(cases []learn.Case) *learn.Numbers {
		l, err := learn.Learn(tm.pack, slices.Values(cases), learn.Default())
		if err != nil {
			t.Fatal(err)
		}
		n, err := l.Numbers(tm.pack)
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	before, after := shares(nil), shares(cases)
	sum := 0.0
	for _, s := range tm.symptoms {
		old, now := before.CausePrior(s, ""), after.CausePrior(s, "")
		for i, truth := range tm.truth[s] {
			sum += truth.Share * math.Log(now[i].Share/old[i].Share) / float64(len(tm.symptoms))
		}
	}
	return sum
}

// 200 closed cases on the starter pack: a team that differs from it gains 0.1
// nats a case or more, one that agrees loses 0.02 at most.
func TestTwoHundredCasesOnTheStarterPack(t *testing.T) {
	pack, err := knowledge.Load(starter.FS)
	if err != nil {
		t.Fatal(err)
	}
	const seeds, n = 20, 200
	for _, symptoms := range [][]string{
		{"weak_signal", "supply_or_battery", "false_alarm", "enrolment_failure"},
		{"weak_signal", "intermittent_loss", "enrolment_failure", "keypad_dead", "loop_fault", "tamper", "false_alarm", "supply_or_battery"},
	} {
		t.Run(fmt.Sprintf("%d complaints", len(symptoms)), func(t *testing.T) {
			for _, differs := range []bool{true, false} {
				var gains []float64
				for seed := range uint64(seeds) {
					r := rand.New(rand.NewPCG(seed, 2027))
					tm := newStarterTeam(t, pack, r, symptoms, differs)
					gains = append(gains, tm.gain(t, tm.cases(r, n)))
				}
				t.Logf("the team differs: %-5v seeds 0 to %d: %s nats a case", differs, seeds-1, summary(gains))
				switch m := mean(gains); {
				case differs && m < 0.1:
					t.Errorf("gained %.3f nats, want 0.1 or more", m)
				case !differs && m < -0.02:
					t.Errorf("lost %.3f nats, want 0.02 at most", -m)
				}
			}
		})
	}
}
