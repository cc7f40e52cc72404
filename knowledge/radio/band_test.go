package radio_test

import (
	"math"
	"testing"

	"ferrule/knowledge/radio"
)

// Source: CEPT ERC/REC 70-03, annex 1 and the annex on alarms, by public pages;
// that a duty cycle is over one hour, and so the seconds, from memory.
func TestBands(t *testing.T) {
	for _, c := range []struct {
		mhz, watts, duty, seconds float64
		use                       radio.Use
		channel                   float64
	}{
		{864, 0.025, 0.001, 3.6, radio.NonSpecific, 0},
		{866, 0.025, 0.01, 36, radio.NonSpecific, 0},
		{868.3, 0.025, 0.01, 36, radio.NonSpecific, 0},
		{868.65, 0.010, 0.01, 36, radio.Alarms, 25e3},
		{869, 0.025, 0.001, 3.6, radio.NonSpecific, 0},
		{869.225, 0.010, 0.001, 3.6, radio.SocialAlarms, 25e3},
		{869.275, 0.010, 0.001, 3.6, radio.Alarms, 25e3},
		{869.35, 0.010, 0.01, 36, radio.Alarms, 25e3},
		{869.525, 0.5, 0.1, 360, radio.NonSpecific, 0},
		{869.675, 0.025, 0.1, 360, radio.Alarms, 25e3},
	} {
		got, err := radio.Bands(c.mhz * 1e6)
		if err != nil || len(got) != 1 {
			t.Errorf("%g MHz: %+v, %v", c.mhz, got, err)
			continue
		}
		b := got[0]
		if b.ERP != c.watts || b.DutyCycle != c.duty || b.OnAir() != c.seconds || b.Use != c.use || b.Channel != c.channel {
			t.Errorf("%g MHz: %+v, %g s", c.mhz, b, b.OnAir())
		}
		// 868.6 to 868.7 MHz may be one channel; below it, access techniques may
		// replace the duty cycle.
		if b.Whole != (c.mhz == 868.65) || b.OrAccess != (c.mhz == 868.3) {
			t.Errorf("%g MHz: %+v", c.mhz, b)
		}
	}
	either, err := radio.Bands(869.8e6)
	if err != nil || len(either) != 2 || either[0].ERP != 0.005 || either[0].OnAir() != 3600 || either[1].ERP != 0.025 || either[1].OnAir() != 36 {
		t.Errorf("869.8 MHz: %+v, %v", either, err)
	}
}

// The table has no gap and no overlap but the choice at its end; a common limit
// gives both neighbours.
func TestBandLimits(t *testing.T) {
	for hz, want := range map[float64]int{863e6: 1, 865e6: 2, 868e6: 2, 868.6e6: 2, 868.7e6: 2, 869.2e6: 2, 869.25e6: 2, 869.3e6: 2, 869.4e6: 2, 869.65e6: 2, 869.7e6: 3, 870e6: 2} {
		if got, err := radio.Bands(hz); err != nil || len(got) != want {
			t.Errorf("%g Hz: %d bands, %v, want %d", hz, len(got), err, want)
		}
	}
	for hz := 863e6; hz <= 870e6; hz += 5e3 {
		got, err := radio.Bands(hz)
		if err != nil || len(got) == 0 {
			t.Fatalf("%g Hz: %v, %v", hz, got, err)
		}
		for _, b := range got {
			if !(b.Low <= hz && hz <= b.High) {
				t.Fatalf("%g Hz is in %+v", hz, b)
			}
		}
	}
	for _, hz := range []float64{862.9e6, 870.1e6, math.NaN(), math.Inf(1)} {
		_, err := radio.Bands(hz)
		refused(t, "band", "frequency", err)
	}
	a, _ := radio.Bands(868.3e6)
	a[0].ERP = 1000
	if b, _ := radio.Bands(868.3e6); b[0].ERP != 0.025 {
		t.Error("a caller changed the table")
	}
}
