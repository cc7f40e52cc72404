package learn_test

import (
	"math/rand/v2"
	"slices"
	"testing"

	"ferrule/rules/diagnosis/learn"
)

// many are cases of everything that the invented pack has.
func many(n int) []learn.Case {
	r := rand.New(rand.NewPCG(1, 2))
	cases := make([]learn.Case, n)
	for i := range cases {
		name := causeNames[1+r.IntN(4)]
		c := weak(i, name, confirmedNames[1+r.IntN(4)])
		c.Equipment = equipmentNames[r.IntN(4)]
		c.Bands = []learn.Observed{{"level", 1 + r.IntN(3)}, {"spread", 1 + r.IntN(2)}}
		c.Repairs = []learn.Tried{{Cause: name, Mended: r.IntN(10) > 0, Minutes: 5 + 30*r.Float64()}}
		c.Steps = []learn.Timed{{"radio.signal", 1 + 5*r.Float64()}}
		cases[i] = c
	}
	return cases
}

func BenchmarkLearn(b *testing.B) {
	pack, cases := invented(), many(2500)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := learn.Learn(pack, slices.Values(cases), learn.Default()); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkNumbers(b *testing.B) {
	pack := invented()
	l, err := learn.Learn(pack, slices.Values(many(2500)), learn.Default())
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := l.Numbers(pack); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkPrequential(b *testing.B) {
	pack, cases := invented(), many(2500)
	even := learn.Forecast{Probabilities: map[string]float64{"a": 0.5, "b": 0.5}, True: "a"}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := learn.Prequential(pack, slices.Values(cases), learn.Default(), 1, func(*learn.Learned, learn.Case) learn.Forecast { return even }); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkMinutes(b *testing.B) {
	n := numbers(b, many(100)...)
	b.ReportAllocs()
	for b.Loop() {
		if _, ok := n.Minutes("metal_case"); !ok {
			b.Fatal("no minutes")
		}
	}
}
