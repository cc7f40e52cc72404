package radio_test

import (
	"testing"

	"ferrule/knowledge/radio"
)

func BenchmarkExpect(b *testing.B) {
	p := house()
	p.Floors = 2
	p.Scale = scale(b, radio.Point{DBm: -100, Percent: 0}, radio.Point{DBm: -50, Percent: 100})
	b.ReportAllocs()
	for b.Loop() {
		if _, err := radio.Expect(p); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkReach(b *testing.B) {
	p := house()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := radio.Reach(p, -100, 10); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkLink(b *testing.B) {
	l := radio.Link{ERP: 10, Losses: 3, PathLoss: 90}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := l.Margin(-105); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkSlab(b *testing.B) {
	m := rev3(b, radio.Brick)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := radio.Slab(m, 868e6, 0.1); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkStack(b *testing.B) {
	r := radio.Reinforced(rev3(b, radio.Concrete), 0.2, 0.1, 0.004)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := radio.Stack(868e6, r[:]...); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkMultiWall(b *testing.B) {
	c, err := radio.Cost231(2, 1, 2)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := radio.MultiWall(868e6, 20, c); err != nil {
			b.Fatal(err)
		}
	}
}

// What the rules ask on each message takes no allocation.
func TestNoAllocation(t *testing.T) {
	p := house()
	p.Floors = 1
	p.Scale = scale(t, radio.Point{DBm: -100, Percent: 0}, radio.Point{DBm: -50, Percent: 100})
	m := rev3(t, radio.Brick)
	layers := []radio.Layer{radio.Solid(m, 0.1), radio.Gap(0.05), radio.Damp(m, 0.1, 0.05, radio.FreshWater())}
	allocated := testing.AllocsPerRun(100, func() {
		e, _ := radio.Expect(p)
		e.Surprise(-80)
		radio.WithoutObstacle(p, 1)
		radio.AtDistance(p, 10)
		radio.Reach(p, -100, 10)
		radio.Slab(m, 868e6, 0.1)
		radio.Stack(868e6, layers...)
	})
	if allocated != 0 {
		t.Errorf("%v allocations", allocated)
	}
}
