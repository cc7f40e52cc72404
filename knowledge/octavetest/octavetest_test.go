package octavetest

import "testing"

func TestSameRow(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want bool
	}{
		{"slab,brick,0.1,2.6454", "slab,brick,0.1,2.6454", true},
		{"slab,brick,0.1,2.64540000001", "slab,brick,0.1,2.6454000000", true},
		{"slab,brick,0.1,2.6455", "slab,brick,0.1,2.6454", false},
		{"slab,brick,0.1", "slab,brick,0.1,2.6454", false},
		{"slab,stone,0.1", "slab,brick,0.1", false},
		{"NaN", "1", false},
		{"1e-9", "2e-9", false},
		{"2.0000000001e-9", "2e-9", true},
	} {
		if got := sameRow(c.a, c.b); got != c.want {
			t.Errorf("%s and %s: %v", c.a, c.b, got)
		}
	}
}
