package radio_test

import (
	"math"
	"testing"

	"ferrule/knowledge/radio"
)

func rev3(t testing.TB, s radio.Substance) radio.Material {
	t.Helper()
	m, err := radio.P2040Rev3(s)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func rev1(t testing.TB, s radio.Substance) radio.Material {
	t.Helper()
	m, err := radio.P2040Rev1(s)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// Source: ITU-R P.2040-3 table 3 and P.2040-1 table 3 with the single-slab
// equations, computed apart from this code.
func TestSlab(t *testing.T) {
	for _, c := range []struct {
		s                        radio.Substance
		metres                   float64
		loss3, reflection3, old1 float64
	}{
		{radio.Brick, 0.1, 2.6454, 11.2672, 3.9319},
		{radio.Brick, 0.2, 5.0114, 8.3147, 7.3958},
		{radio.Concrete, 0.1, 4.8436, 6.0476, 4.0696},
		{radio.Concrete, 0.2, 7.4914, 6.8903, 5.7980},
		{radio.Concrete, 0.3, 10.1184, 9.0636, 7.3281},
		{radio.Plasterboard, 0.0125, 0.2989, 14.5938, 0.3928},
		{radio.Glass, 0.006, 0.3683, 11.2349, 0.3692},
		{radio.Glass, 0.004, 0.1760, 14.5038, 0.1778},
		{radio.Wood, 0.04, 0.5816, 11.0026, 0.5816},
		{radio.Chipboard, 0.02, 0.8484, 11.9048, 0.8484},
		{radio.CeilingBoard, 0.0095, 0.0219, 27.7225, 0.0145},
	} {
		// The published plasterboard figure lies at 0.29885 in its last digit.
		p, err := radio.Slab(rev3(t, c.s), 868e6, c.metres)
		if err != nil || math.Abs(p.Transmission-c.loss3) > 6e-5 || math.Abs(p.Reflection-c.reflection3) > 6e-5 || p.Opaque {
			t.Errorf("%v of %g m by P.2040-3: %+v, %v", c.s, c.metres, p, err)
		}
		if p, err = radio.Slab(rev1(t, c.s), 868e6, c.metres); err != nil || math.Abs(p.Transmission-c.old1) > 6e-5 {
			t.Errorf("%v of %g m by P.2040-1: %+v, %v", c.s, c.metres, p, err)
		}
	}
}

// Source: ITU-R P.2040-3 table 3 (-2 has the same), by a public ray tracer's copy
// of it. Conductivities at 868 MHz: its C f^D, computed apart from this code. 0: not
// for that frequency, or not in the list.
func TestRev3IsTheTable(t *testing.T) {
	for _, c := range []struct {
		s          radio.Substance
		a, b, c, d float64
		low, high  float64 // GHz
		siemens    float64 // S/m at 868 MHz
	}{
		{radio.Concrete, 5.24, 0, 0.0462, 0.7822, 1, 100, 0.04136},
		{radio.Brick, 3.91, 0, 0.0238, 0.16, 1, 40, 0.02327},
		{radio.Plasterboard, 2.73, 0, 0.0085, 0.9395, 1, 100, 0.00744},
		{radio.Wood, 1.99, 0, 0.0047, 1.0718, 0.001, 100, 0.00404},
		{radio.Glass, 6.31, 0, 0.0036, 1.3394, 0.1, 100, 0.00298},
		{radio.GlassHigh, 5.79, 0, 0.0004, 1.658, 220, 450, 0},
		{radio.CeilingBoard, 1.48, 0, 0.0011, 1.0750, 1, 100, 0.00094},
		{radio.CeilingBoardHigh, 1.52, 0, 0.0029, 1.029, 220, 450, 0},
		{radio.Chipboard, 2.58, 0, 0.0217, 0.78, 1, 100, 0.01943},
		{radio.Plywood, 2.71, 0, 0.33, 0, 1, 40, 0},
		{radio.Marble, 7.074, 0, 0.0055, 0.9262, 1, 60, 0},
		{radio.Floorboard, 3.66, 0, 0.0044, 1.3515, 50, 100, 0},
		{radio.Metal, 1, 0, 1e7, 0, 1, 100, 0},
	} {
		m := rev3(t, c.s)
		if m.A != c.a || m.B != c.b || m.C != c.c || m.D != c.d || math.Abs(m.LowHz-c.low*1e9) > 1 || math.Abs(m.HighHz-c.high*1e9) > 1 {
			t.Errorf("%v: %+v", c.s, m)
		}
		if c.siemens == 0 {
			continue
		}
		// The imaginary part is 17.975 sigma / f(GHz).
		eta, err := m.Permittivity(868e6)
		if got := -imag(eta) * 0.868 / 17.975; err != nil || real(eta) != c.a || math.Abs(got-c.siemens) > 5e-6 {
			t.Errorf("%v at 868 MHz: %v, %v S/m, %v, want %v", c.s, eta, got, err, c.siemens)
		}
	}
}

// Source: conductivities at 9 GHz that a public page prints for P.2040-1.
func TestConductivity(t *testing.T) {
	for s, want := range map[radio.Substance]float64{
		radio.Concrete: 0.19305, radio.Brick: 0.038, radio.Plasterboard: 0.054914, radio.Wood: 0.049528,
		radio.Glass: 0.059075, radio.CeilingBoard: 0.0064437, radio.Chipboard: 0.12044,
	} {
		eta, err := rev1(t, s).Permittivity(9e9)
		// The Recommendation: the imaginary part is 17.98 sigma / f(GHz); 17.975 unrounded.
		if got := -imag(eta) * 9 / 17.975; err != nil || math.Abs(got-want) > want*1e-4 {
			t.Errorf("%v: %v S/m, %v, want %v", s, got, err, want)
		}
	}
	// The floorboard's 0.085726 is printed for 9 GHz, where the table itself forbids it.
	if m := rev1(t, radio.Floorboard); math.Abs(m.C*math.Pow(9, m.D)-0.085726) > 5e-7 {
		t.Errorf("floorboard: %+v", m)
	}
}

// Source: tables 3 of ITU-R P.2040-1 and -3.
func TestStatedRanges(t *testing.T) {
	for s, want := range map[radio.Substance]bool{
		radio.Concrete: true, radio.Brick: true, radio.Plasterboard: true, radio.CeilingBoard: true, radio.Chipboard: true,
		radio.Metal: true, radio.Plywood: true, radio.Marble: true, radio.Wood: false, radio.Glass: false,
	} {
		m := rev3(t, s)
		if m.Extrapolated(868e6) != want {
			t.Errorf("%v at 868 MHz: extrapolated is not %t", s, want)
		}
		if m.Extrapolated(2.4e9) {
			t.Errorf("%v at 2.4 GHz is extrapolated", s)
		}
		if _, err := m.Permittivity(868e6); err != nil {
			t.Errorf("%v: %v", s, err)
		}
	}
	for _, s := range []radio.Substance{radio.Floorboard, radio.GlassHigh, radio.CeilingBoardHigh} {
		refused(t, s.String(), "frequency for this material", func() error { _, err := radio.Slab(rev3(t, s), 868e6, 0.02); return err }())
	}
	if _, err := rev3(t, radio.Floorboard).Permittivity(60e9); err != nil {
		t.Error(err)
	}
	for _, s := range []radio.Substance{radio.Plywood, radio.Marble, radio.GlassHigh, radio.CeilingBoardHigh} {
		_, err := radio.P2040Rev1(s)
		refused(t, s.String(), "place of the substance in the table", err)
	}
}

// Source: skin depth 5.40 um and 1.61 dB a micrometre for 1e7 S/m at 868 MHz
// (sqrt(2/(omega mu sigma)); 8.686 dB a skin depth).
func TestMetalIsOpaque(t *testing.T) {
	metal := rev3(t, radio.Metal)
	thin, errThin := radio.Slab(metal, 868e6, 40e-6)
	more, errMore := radio.Slab(metal, 868e6, 41e-6)
	if errThin != nil || errMore != nil || math.Abs(more.Transmission-thin.Transmission-1.61) > 5e-3 {
		t.Errorf("%+v, %v, then %+v, %v", thin, errThin, more, errMore)
	}
	for _, metres := range []float64{1e-3, 0.1, 10} {
		p, err := radio.Slab(metal, 868e6, metres)
		if err != nil || !p.Opaque || p.Transmission != radio.OpaqueLoss || p.Reflection > 0.01 {
			t.Errorf("%g m: %+v, %v", metres, p, err)
		}
		if q, err := radio.Stack(868e6, radio.Solid(metal, metres)); err != nil || !q.Opaque || q.Transmission != radio.OpaqueLoss {
			t.Errorf("%g m as a stack: %+v, %v", metres, q, err)
		}
	}
}

func TestSubstanceNames(t *testing.T) {
	for s := radio.Concrete; s <= radio.Metal; s++ {
		if got, ok := radio.SubstanceByName(s.String()); !ok || got != s {
			t.Errorf("%v: %v, %t", s, got, ok)
		}
	}
	if s, ok := radio.SubstanceByName("Ceiling Board"); !ok || s != radio.CeilingBoard {
		t.Error(s, ok)
	}
	if _, ok := radio.SubstanceByName("jelly"); ok {
		t.Error("jelly is a substance")
	}
}
