package cable_test

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"ferrule/knowledge/cable"
	"ferrule/knowledge/units"
)

func must[T any](x T, err error) T {
	if err != nil {
		panic(err) // in a test, and only on a mistake in it
	}
	return x
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s is %.8g, want %.8g within %.2g", what, got, want, tolerance)
	}
}

func ohmsPerKm(t *testing.T, c cable.Conductor, celsius float64) float64 {
	t.Helper()
	r, err := c.OhmsPerMetre(celsius)
	if err != nil {
		t.Fatal(err)
	}
	return 1000 * r
}

// The published resistivity has five digits, 0.017241 ohm mm2/m, where 1/58 is
// 0.01724138: its half digit is 2.9e-5 of it.
const fiveDigits = 2.9e-5

func TestMaxima(t *testing.T) {
	for _, c := range []struct {
		class       cable.Class
		area        float64
		material    cable.Material
		want        float64 // ohm/km at 20 °C
		publishedIn string
	}{
		{cable.Class1, 0.5, cable.Copper, 36.0, "IEC 60228 table A.1"},
		{cable.Class1, 0.75, cable.Copper, 24.5, "IEC 60228 table A.1"},
		{cable.Class1, 1.0, cable.Copper, 18.1, "IEC 60228 table A.1"},
		{cable.Class1, 1.5, cable.Copper, 12.1, "IEC 60228 table A.1"},
		{cable.Class1, 2.5, cable.Copper, 7.41, "IEC 60228 table A.1"},
		{cable.Class5, 0.5, cable.Copper, 39.0, "IEC 60228 table 3"},
		{cable.Class5, 0.75, cable.Copper, 26.0, "IEC 60228 table 3"},
		{cable.Class5, 1.0, cable.Copper, 19.5, "IEC 60228 table 3"},
		{cable.Class5, 1.5, cable.Copper, 13.3, "IEC 60228 table 3"},
		{cable.Class5, 2.5, cable.Copper, 7.98, "IEC 60228 table 3"},
		{cable.Class5, 0.5, cable.TinnedCopper, 40.1, "IEC 60228 table 3"},
		{cable.Class5, 0.75, cable.TinnedCopper, 26.7, "IEC 60228 table 3"},
		{cable.Class5, 1.0, cable.TinnedCopper, 20.0, "IEC 60228 table 3"},
		{cable.Class5, 1.5, cable.TinnedCopper, 13.7, "IEC 60228 table 3"},
		{cable.Class5, 2.5, cable.TinnedCopper, 8.21, "IEC 60228 table 3"},
		{cable.Class5, 0.22, cable.Copper, 96, "DIN VDE 0295 extract, bunched"},
		{cable.Class5, 0.22, cable.TinnedCopper, 99, "DIN VDE 0295 extract, bunched"},
	} {
		conductor, err := cable.Listed(c.class, c.area, c.material)
		if err != nil {
			t.Fatal(err)
		}
		greatest, ok := conductor.Greatest()
		if !ok {
			t.Fatalf("%v: no maximum", c)
		}
		near(t, c.publishedIn, ohmsPerKm(t, greatest, 20), c.want, 1e-9)
		if nominal := ohmsPerKm(t, conductor, 20); nominal >= c.want {
			t.Errorf("%v: nominal %v is over the maximum", c, nominal)
		}
		if _, again := greatest.Greatest(); again {
			t.Error("a maximum has a maximum")
		}
	}
}

func TestFromSection(t *testing.T) {
	seven := must(cable.Stranded(7, 0.2, cable.Copper))
	near(t, "section of 7/0.2, 7 pi 0.1^2", seven.Area(), 0.219911, 5e-7)
	if seven.Strands() != 7 || seven.Material() != cable.Copper {
		t.Error("7/0.2 has", seven.Strands(), "strands")
	}
	for _, c := range []struct {
		name      string
		conductor cable.Conductor
		celsius   float64
		want      float64 // ohm/km; source: IACS, 0.017241 ohm mm2/m (NBS Handbook 100), times geometry
	}{
		{"7/0.2", seven, 20, 78.400},
		{"7/0.2 at 0 °C", seven, 0, 72.238},
		{"7/0.2 at 40 °C", seven, 40, 84.562},
		{"7/0.2 at 50 °C", seven, 50, 87.643},
		{"16/0.2", must(cable.Stranded(16, 0.2, cable.Copper)), 20, 34.300},
		{"24/0.2", must(cable.Stranded(24, 0.2, cable.Copper)), 20, 22.867},
		{"0.5 mm", must(cable.Solid(0.5, cable.Copper)), 20, 87.808},
		{"0.6 mm", must(cable.Solid(0.6, cable.Copper)), 20, 60.978},
		{"0.8 mm", must(cable.Solid(0.8, cable.Copper)), 20, 34.300},
		{"1 mm2, 1/58", must(cable.OfArea(1, cable.Copper)), 20, 17.241},
	} {
		near(t, c.name, ohmsPerKm(t, c.conductor, c.celsius), c.want, fiveDigits*c.want+5e-4)
	}
	// IACS, 1/58 recomputed: 0.01724138 ohm mm2/m.
	near(t, "1/58", ohmsPerKm(t, must(cable.OfArea(1, cable.Copper)), 20), 17.24138, 5e-6)
	// The maximum of the DIN VDE 0295 extract, 96 ohm/km, is 22 % above IACS.
	greatest, _ := seven.Greatest()
	near(t, "maximum by nominal", ohmsPerKm(t, greatest, 20)/ohmsPerKm(t, seven, 20), 1.22, 5e-3)
	// Common practice, no source: copper-clad aluminium has 1.5 times the
	// resistance of copper.
	near(t, "copper-clad", ohmsPerKm(t, must(cable.Stranded(7, 0.2, cable.CopperCladAluminium)), 20), 1.5*78.400, 0.01)
}

func TestGreatest(t *testing.T) {
	for _, c := range []struct {
		name      string
		conductor cable.Conductor
		want      float64 // ohm/km, 0 for none
	}{
		// DIN VDE 0295 extract.
		{"7/0.2", must(cable.Stranded(7, 0.2, cable.Copper)), 96},
		{"7/0.2 tinned", must(cable.Stranded(7, 0.2, cable.TinnedCopper)), 99},
		{"0.22 mm2", must(cable.OfArea(0.22, cable.Copper)), 96},
		// IEC 60228 tables 3 and A.1.
		{"16/0.2", must(cable.Stranded(16, 0.2, cable.Copper)), 39.0},
		{"24/0.2", must(cable.Stranded(24, 0.2, cable.Copper)), 26.0},
		{"0.8 mm", must(cable.Solid(0.8, cable.Copper)), 36.0},
		{"0.5 mm2", must(cable.OfArea(0.5, cable.Copper)), 39.0},
		// Not in the tables.
		{"0.6 mm", must(cable.Solid(0.6, cable.Copper)), 0},
		{"0.6 mm2", must(cable.OfArea(0.6, cable.Copper)), 0},
		{"7/0.67, class 2", must(cable.Stranded(7, 0.67, cable.Copper)), 0},
		{"0.8 mm tinned", must(cable.Solid(0.8, cable.TinnedCopper)), 0},
		{"copper-clad", must(cable.Stranded(7, 0.2, cable.CopperCladAluminium)), 0},
		{"from a data sheet", must(cable.OfResistance(0.095)), 0},
		{"22 AWG", must(cable.AWG(22, cable.Copper)), 0},
	} {
		g, ok := c.conductor.Greatest()
		if ok != (c.want > 0) {
			t.Errorf("%s: maximum known is %v", c.name, ok)
		} else if ok {
			near(t, c.name, ohmsPerKm(t, g, 20), c.want, 1e-9)
		}
	}
}

func TestAWG(t *testing.T) {
	for _, c := range []struct {
		gauge      int
		area       float64 // mm2; ASTM B258
		perKm      float64 // ohm/km; ASTM B258 and 1.7241e-8 ohm m
		perKft     float64 // ohm/1000 ft; NBS Handbook 100
		kftDecimal float64 // half of the last printed digit
	}{
		{18, 0.82305, 20.948, 6.385, 5e-4},
		{20, 0.51762, 33.308, 10.15, 5e-3},
		{22, 0.32553, 52.962, 16.14, 5e-3},
		{24, 0.20473, 84.213, 25.67, 5e-3},
		{26, 0.12876, 133.904, 40.81, 5e-3},
	} {
		conductor := must(cable.AWG(c.gauge, cable.Copper))
		near(t, "area", conductor.Area(), c.area, 5e-6)
		perKm := ohmsPerKm(t, conductor, 20)
		near(t, "ohm/km", perKm, c.perKm, fiveDigits*c.perKm+5e-4)
		near(t, "ohm/1000 ft", perKm*0.3048, c.perKft, fiveDigits*c.perKft+c.kftDecimal)
	}
	// The definition of the gauge: 36 is 0.005 in and 0000 is 0.46 in (ASTM B258).
	near(t, "36 AWG", must(cable.AWGDiameter(36)), 0.127, 1e-12)
	near(t, "4/0 AWG", must(cable.AWGDiameter(-3)), 11.684, 1e-9)
}

func TestTemperature(t *testing.T) {
	for _, c := range []struct{ celsius, want float64 }{
		{-10, 0.8821}, {0, 0.9214}, {20, 1}, {40, 1.0786}, {50, 1.1179}, {70, 1.1965}, // 1 + 0.00393 (t - 20)
	} {
		near(t, "factor", must(cable.TemperatureFactor(c.celsius, cable.CopperCoefficient)), c.want, 5.1e-5)
	}
	// IEC 60228, correction to 20 °C, 254.5/(234.5+t): 0.92714 at 40 °C.
	near(t, "IEC 60228", 1/must(cable.TemperatureFactor(40, cable.CopperCoefficient)), 0.92714, 5e-5)
	c := must(must(cable.OfArea(1, cable.Copper)).WithCoefficient(0.004))
	near(t, "another coefficient", ohmsPerKm(t, c, 70)/ohmsPerKm(t, c, 20), 1.2, 1e-12)
}

// A gauge, its section, its solid wire and its resistance are one conductor.
func TestUnitsAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		gauge := rapid.IntRange(0, 36).Draw(t, "gauge")
		m := rapid.SampledFrom([]cable.Material{cable.Copper, cable.TinnedCopper, cable.CopperCladAluminium}).Draw(t, "material")
		celsius := rapid.Float64Range(-40, 90).Draw(t, "celsius")
		awg := must(cable.AWG(gauge, m))
		want := must(awg.OhmsPerMetre(celsius))
		for _, c := range []cable.Conductor{
			must(cable.OfArea(awg.Area(), m)), must(cable.Solid(must(cable.AWGDiameter(gauge)), m)),
			must(cable.OfResistance(must(awg.OhmsPerMetre(20)))), must(cable.Stranded(4, must(cable.AWGDiameter(gauge))/2, m)),
		} {
			if got := must(c.OhmsPerMetre(celsius)); math.Abs(got-want) > 1e-12*want {
				t.Fatalf("%v has %v, want %v", c, got, want)
			}
		}
		// Twenty gauges have a hundred times the section within 2 % (rule of the trade; formula 92^(20/39) squared is 103.3).
		if gauge <= 16 {
			finer := must(must(cable.AWG(gauge+20, m)).OhmsPerMetre(celsius))
			if r := finer / want; math.Abs(r-math.Pow(92, 40.0/39)) > 1e-9*r {
				t.Fatalf("ratio %v", r)
			}
		}
		feet := rapid.Float64Range(0, 4000).Draw(t, "feet")
		metres, _ := units.Foot.In(units.Metre, feet)
		run := cable.Run{Conductor: awg, Length: metres, Cores: 1, Temperature: celsius}
		if got, perKft := must(run.Ohms()), want*304.8; math.Abs(got-2*feet/1000*perKft) > 1e-9*got {
			t.Fatalf("%v ft have %v ohm", feet, got)
		}
	})
}

func TestNotListed(t *testing.T) {
	for _, c := range []struct {
		class cable.Class
		area  float64
		m     cable.Material
		want  string
	}{
		{cable.Class5, 0.6, cable.Copper, "section of the conductor is 0.6 mm2; class 5 has 0.22, 0.5, 0.75, 1, 1.5, 2.5 mm2"},
		{cable.Class1, 0.22, cable.Copper, "section of the conductor is 0.22 mm2; class 1 has 0.5, 0.75, 1, 1.5, 2.5 mm2"},
		{cable.Class1, 0.5, cable.TinnedCopper, "class 1 of this material is in no table; write its section alone"},
		{cable.Class(2), 0.5, cable.Copper, "class 2 of this material is in no table; write its section alone"},
	} {
		_, err := cable.Listed(c.class, c.area, c.m)
		var list *cable.NotListed
		var out *units.OutOfRange
		if !errors.As(err, &list) || !errors.As(err, &out) || err.Error() != c.want {
			t.Errorf("got %v, want %s", err, c.want)
		}
	}
}
