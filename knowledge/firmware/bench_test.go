package firmware

import (
	"strings"
	"testing"
)

func BenchmarkParse(b *testing.B) {
	for _, tt := range []struct{ scheme, text string }{
		{"dotted", "3.05"}, {"two-digit", "fw v1.06.12b"}, {"decimal", "2.04 (11.03.2026)"}, {"four-part", "1.2.3.4"}, {"semver", "1.2.3-rc.1"},
	} {
		s := scheme(b, tt.scheme)
		b.Run(tt.scheme, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := s.Parse(tt.text); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkCompare(b *testing.B) {
	v, w := parse(b, scheme(b, "two-digit"), "1.06.12"), parse(b, scheme(b, "two-digit"), "1.06.13")
	b.ReportAllocs()
	for b.Loop() {
		if c, err := v.Compare(w); c != -1 || err != nil {
			b.Fatal(c, err)
		}
	}
}

func BenchmarkKey(b *testing.B) {
	v := parse(b, scheme(b, "two-digit"), "1.06.12b 20260311")
	b.ReportAllocs()
	for b.Loop() {
		if _, ok := v.Key(); !ok {
			b.Fatal("no key")
		}
	}
}

func BenchmarkAllows(b *testing.B) {
	s := scheme(b, "dotted")
	c, err := s.ParseConstraint(">= 1.2, < 2")
	if err != nil {
		b.Fatal(err)
	}
	v := parse(b, s, "1.6.12")
	b.ReportAllocs()
	for b.Loop() {
		if ok, err := c.Allows(v); !ok || err != nil {
			b.Fatal(ok, err)
		}
	}
}

func BenchmarkFind(b *testing.B) {
	text := strings.Repeat("kp1 shows sig 35 % at the door, hub fw v1.06.12, panel 2.04 (11.03.2026), bus 13.1 V; ", 10)
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		Find(text)
	}
}

// What the rules ask on each message takes no allocation.
func TestNoAllocation(t *testing.T) {
	s := scheme(t, "two-digit")
	v, w := parse(t, s, "1.06.12"), parse(t, s, "1.06.13 20260311")
	c, err := s.ParseConstraint(">= 1.06, < 2.00")
	if err != nil {
		t.Fatal(err)
	}
	allocated := testing.AllocsPerRun(100, func() {
		v.Compare(w)
		v.Key()
		c.Allows(w)
		s.Parse("fw v1.06.12b 2026-03-11")
	})
	if allocated != 0 {
		t.Errorf("%v allocations", allocated)
	}
}
