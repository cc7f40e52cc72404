package loop_test

import (
	"testing"

	"ferrule/knowledge/loop"
)

func BenchmarkStates(b *testing.B) {
	l := loop.Triple(resistor(2200), resistor(4700), resistor(6800))
	l.Tamper, l.Cable, l.ClosedContact = true, 15.68, 0.5
	b.ReportAllocs()
	for b.Loop() {
		if list, err := l.States(); err != nil || len(list) != 6 {
			b.Fatal(list, err)
		}
	}
}

func BenchmarkClassify(b *testing.B) {
	c := classifier(b, loop.Triple(resistor(2200), resistor(4700), resistor(6800)), settings)
	b.ReportAllocs()
	for b.Loop() {
		if got, err := c.Classify(loop.Reading{Ohms: 6900, Uncertainty: 5}); err != nil || got.State != loop.Alarm {
			b.Fatal(got, err)
		}
	}
}

func TestClassifyAllocatesNothing(t *testing.T) {
	c := classifier(t, loop.Double(resistor(2200), resistor(4700)), settings)
	if n := testing.AllocsPerRun(100, func() { _, _ = c.Classify(loop.Reading{Ohms: 3000}) }); n != 0 {
		t.Errorf("%g allocations", n)
	}
}

func BenchmarkParse(b *testing.B) {
	for _, code := range []string{"4K7K", "2k2", "4.7 kohm"} {
		b.Run(code, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := loop.Parse(code); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkFormat(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if code, err := loop.Format(47300); err != nil || code != "47K3" {
			b.Fatal(code, err)
		}
	}
}

func BenchmarkNearest(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if n, err := loop.E24.Nearest(4444); err != nil || n.Nearest != 4300 {
			b.Fatal(n, err)
		}
	}
}

func BenchmarkExplain(b *testing.B) {
	l := loop.Triple(resistor(2200), resistor(4700), resistor(6800))
	b.ReportAllocs()
	for b.Loop() {
		if list, err := loop.Explain(l, loop.Reading{Ohms: 4400}); err != nil || list[0].Cause != loop.SecondInSeries {
			b.Fatal(list, err)
		}
	}
}
