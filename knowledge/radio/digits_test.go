package radio_test

import (
	"math"
	"testing"

	"ferrule/knowledge/radio"
)

// Two rays at 2 km with 1.5 m and 0.3 m, where they nearly cancel. Source: the
// phasor sum with 40 to 50 decimal digits, computed apart from this code.
func TestTwoRayKeepsDigits(t *testing.T) {
	for hz, want := range map[float64]float64{433.92e6: 138.97696068046553, 2.4e9: 138.97714005781470} {
		if got, err := radio.TwoRay(hz, 2000, 1.5, 0.3, -1); err != nil || math.Abs(got-want) > 1e-11 {
			t.Errorf("%g Hz: got %.16g, %v, want %.16g", hz, got, err, want)
		}
	}
}
