package diagnosis

import (
	"testing"

	"ferrule/knowledge"
	"ferrule/rules"
)

// BenchmarkNext plans the next step on the starter pack: a complaint with many
// causes, and one with a few readings.
func BenchmarkNext(b *testing.B) {
	m := starterModel(b)
	o := &rules.Observed{}
	o.Set("radio.signal", rules.Subject{Class: knowledge.Device, N: 1}, rules.Num(31))
	for name, in := range map[string]Input{
		"33 causes":      {Symptoms: []string{"intermittent_loss"}},
		"weak with 31 %": {Symptoms: []string{"weak_signal"}, Observed: o},
	} {
		a := m.Assess(in)
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := m.plan(in, a, in.positions()); err != nil {
					b.Fatal(err)
				}
			}
		})
		if _, err := m.Next(in, a); err != nil {
			b.Fatal(err)
		}
		b.Run(name+" remembered", func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := m.Next(in, a); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// BenchmarkAssess computes the findings and probabilities of a case anew: one
// pass over all rules and tables.
func BenchmarkAssess(b *testing.B) {
	m := starterModel(b)
	in := Input{Symptoms: []string{"intermittent_loss"}}
	b.ReportAllocs()
	for b.Loop() {
		m.Assess(in)
	}
}

// BenchmarkPosterior is the probabilities alone.
func BenchmarkPosterior(b *testing.B) {
	m := starterModel(b)
	in := Input{Symptoms: []string{"intermittent_loss"}}
	a := m.Assess(in)
	for t := range a.seen.bands {
		a.seen.bands[t] = 1
	}
	b.ReportAllocs()
	for b.Loop() {
		m.reassess(in, a)
	}
}
