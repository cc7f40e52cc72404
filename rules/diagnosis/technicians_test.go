package diagnosis

import (
	"encoding/csv"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"ferrule/knowledge"
	"ferrule/knowledge/starter"
	"ferrule/rules"
	"ferrule/rules/diagnosis/plan"
)

// The goals: over all symptoms with three causes or more, the planner takes at
// most these shares of the minutes of the other two ways.
const (
	ofChecklist = 0.60
	ofRepairs   = 0.90
)

// TestSimulatedTechnicians compares the three ways of working: a few visits in the
// first world, and with -args -long many in all four. The seeds are printed.
func TestSimulatedTechnicians(t *testing.T) {
	if raced {
		t.Skip("planning is not concurrent, and the race detector makes it many times slower")
	}
	m := starterModel(t)
	order := tradeOrder(t, m)
	visits, long := 2, slices.Contains(os.Args, "-long")
	if long {
		visits = 30
	}
	for n, w := range worlds {
		if n > 0 && !long {
			break
		}
		seed := uint64(2026 + n)
		t.Run(w.name, func(t *testing.T) {
			t.Parallel()
			total := compareWays(t, m, order, w, seed, visits)
			t.Logf("seed %d, %d visits a symptom: planner %.0f min, %.2f of the checklist's, %.2f of the repairs' by probability over cost",
				seed, visits, total.plan, total.plan/total.checklist, total.plan/total.repairs)
			if total.plan > ofChecklist*total.checklist || total.plan > ofRepairs*total.repairs {
				t.Errorf("wanted %.2f and %.2f at most", ofChecklist, ofRepairs)
			}
		})
	}
}

// ways are the mean minutes of the three ways of working.
type ways struct{ plan, checklist, repairs float64 }

func compareWays(t *testing.T, m *Model, order []int, w world, seed uint64, visits int) ways {
	cache := map[string]plan.Action{}
	var total ways
	symptoms := 0
	for s := range m.pack.Symptoms {
		name := m.pack.Symptoms[s].Name.S
		prior := m.symptoms[name]
		if len(prior.causes) < 3 {
			continue
		}
		symptoms++
		base := m.Assess(Input{Symptoms: []string{name}})
		list := slices.DeleteFunc(slices.Clone(order), func(c int) bool { return !slices.Contains(prior.causes, c) })
		var mean ways
		for n := range visits {
			for way, minutes := range []*float64{&mean.plan, &mean.checklist, &mean.repairs} {
				v := newVisit(m, w, name, seed, uint64(s)<<32|uint64(n))
				v.reset(base, v.faults)
				switch way {
				case 0:
					v.byPlan(cache)
				case 1:
					v.byChecklist(list)
				default:
					v.byProbabilityOverCost()
				}
				*minutes += v.minutes / float64(visits)
			}
		}
		t.Logf("%-24s %3d causes: planner %4.0f min, checklist %4.0f, repairs by probability over cost %4.0f", name, len(prior.causes), mean.plan, mean.checklist, mean.repairs)
		total.plan, total.checklist, total.repairs = total.plan+mean.plan, total.checklist+mean.checklist, total.repairs+mean.repairs
	}
	k := float64(symptoms)
	return ways{total.plan / k, total.checklist / k, total.repairs / k}
}

// newVisit draws the faults of a visit; every way of working meets the same.
func newVisit(m *Model, w world, symptom string, seed, n uint64) *visit {
	v := &visit{m: m, truth: m, w: w, rng: rand.New(rand.NewPCG(seed, n)), symptom: symptom, blind: map[int]bool{}}
	v.faults = []int{v.drawFault()}
	if v.rng.Float64() < w.double {
		if second := v.drawFault(); second != v.faults[0] {
			v.faults = append(v.faults, second)
		}
	}
	if w.tilt > 0 {
		v.truth = tilted(m, w.tilt, v.rng)
	}
	if w.correlated > 0 {
		for i := range spots {
			if v.rng.Float64() >= w.correlated {
				continue
			}
			for t := range m.tables {
				if names := m.program.EvidenceReadings(t); len(names) > 0 && spotOf(m.pack.Reading(names[0]).Place) == i {
					v.blind[t] = true
				}
			}
		}
	}
	return v
}

func (v *visit) drawFault() int {
	prior := v.m.symptoms[v.symptom]
	x := v.rng.Float64()
	for i, c := range prior.causes {
		if x -= prior.prior[i]; x < 0 {
			return c
		}
	}
	return -1
}

// tilted is a model whose rows have other odds.
func tilted(m *Model, factor float64, rng *rand.Rand) *Model {
	out := *m
	out.tables = slices.Clone(m.tables)
	for t := range out.tables {
		rows := make([][]float64, len(out.tables[t].rows))
		for cause, row := range out.tables[t].rows {
			if row != nil {
				rows[cause] = tilt(row, factor, rng)
			}
		}
		out.tables[t].rows = rows
		out.tables[t].otherwise = tilt(out.tables[t].otherwise, factor, rng)
	}
	return &out
}

func tilt(row []float64, factor float64, rng *rand.Rand) []float64 {
	out := make([]float64, len(row))
	total := 0.0
	for b, q := range row {
		out[b] = q * math.Pow(factor, 2*rng.Float64()-1)
		total += out[b]
	}
	for b := range out {
		out[b] /= total
	}
	return out
}

func starterModel(t testing.TB) *Model {
	t.Helper()
	pack, err := knowledge.Load(starter.FS)
	if err != nil {
		t.Fatal(err)
	}
	program, err := rules.Compile(pack)
	if err != nil {
		t.Fatal(err)
	}
	return New(program, nil)
}

// tradeOrder is the order of the causes in the trade's list.
func tradeOrder(t testing.TB, m *Model) []int {
	t.Helper()
	f, err := os.Open("../../testdata/trade.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var order []int
	for _, row := range rows[1:] {
		i := slices.IndexFunc(m.pack.Causes, func(c knowledge.Cause) bool { return c.Name.S == row[1] })
		if i >= 0 && !slices.Contains(order, i) {
			order = append(order, i)
		}
	}
	if len(order) != len(m.pack.Causes) {
		t.Fatalf("%d causes in the list, %d in the pack", len(order), len(m.pack.Causes))
	}
	return order
}
