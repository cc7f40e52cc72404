package radio_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"ferrule/knowledge/radio"
	"ferrule/knowledge/units"
)

func must[T any](t *rapid.T) func(T, error) T {
	return func(x T, err error) T {
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
}

func anyPath(t *rapid.T) radio.Path {
	p := radio.Path{
		Hz: rapid.Float64Range(300e6, 3e9).Draw(t, "hz"), Metres: rapid.Float64Range(0.5, 2000).Draw(t, "metres"),
		Floors: rapid.IntRange(0, 5).Draw(t, "floors"), ERP: rapid.Float64Range(-10, 27).Draw(t, "erp"),
		Losses: rapid.Float64Range(0, 20).Draw(t, "losses"), Sigma: rapid.Float64Range(1, 10).Draw(t, "sigma"),
	}
	for _, loss := range rapid.SliceOfN(rapid.Float64Range(0, 30), 0, 5).Draw(t, "obstacles") {
		p.Obstacles = append(p.Obstacles, radio.Obstacle{Name: "wall", Loss: loss})
	}
	if rapid.Bool().Draw(t, "outdoors") {
		p.SendHeight, p.ReceiveHeight = rapid.Float64Range(0.3, 10).Draw(t, "ht"), rapid.Float64Range(0.3, 10).Draw(t, "hr")
	}
	return p
}

// More distance, wall, floor, loss or less power never improves the level.
func TestNothingHelpsByStandingInTheWay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyPath(t)
		was := must[radio.Expected](t)(radio.Expect(p))
		for name, alter := range map[string]func(*radio.Path){
			"distance": func(p *radio.Path) { p.Metres *= 1.3 },
			"wall": func(p *radio.Path) {
				p.Obstacles = append(p.Obstacles[:len(p.Obstacles):len(p.Obstacles)], radio.Obstacle{Loss: 3})
			},
			"floor":  func(p *radio.Path) { p.Floors++ },
			"losses": func(p *radio.Path) { p.Losses += 2 },
			"power":  func(p *radio.Path) { p.ERP -= 3 },
		} {
			worse := p
			alter(&worse)
			is := must[radio.Expected](t)(radio.Expect(worse))
			if is.Level >= was.Level {
				t.Fatalf("%s: %v dBm, then %v dBm", name, was.Level, is.Level)
			}
			if before, err := radio.Reach(p, -95, 0); err == nil && name != "distance" {
				if after, err := radio.Reach(worse, -95, 0); err == nil && after > before {
					t.Fatalf("%s: reach %v m, then %v m", name, before, after)
				}
			}
		}
	})
}

// A tenfold distance is 20 dB in free space, two and a half times the height of one
// aerial 7.96 dB over plane earth.
func TestSlopes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		hz, d := anyHz(t), rapid.Float64Range(0.5, 1e4).Draw(t, "metres")
		near := must[float64](t)(radio.FreeSpace(hz, d))
		agree(t, "decade", must[float64](t)(radio.FreeSpace(hz, 10*d)), near+20, 1e-9)
		agree(t, "octave of frequency", must[float64](t)(radio.FreeSpace(2*hz, d)), near+20*math.Log10(2), 1e-9)
		plane := must[float64](t)(radio.PlaneEarth(d, 2, 2))
		agree(t, "decade over ground", must[float64](t)(radio.PlaneEarth(10*d, 2, 2)), plane+40, 1e-9)
		agree(t, "height", must[float64](t)(radio.PlaneEarth(d, 5, 2)), plane-20*math.Log10(2.5), 1e-9)
	})
}

// Feet and metres agree: every length may be told in either.
func TestFeetAndMetres(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		hz, feet := anyHz(t), rapid.Float64Range(3, 5000).Draw(t, "feet")
		metres, ok := units.Foot.In(units.Metre, feet)
		if !ok {
			t.Fatal("no conversion")
		}
		// In feet and MHz the constant of free space is 20 log10(4 pi 0.3048e6/c).
		want := 20*math.Log10(feet) + 20*math.Log10(hz/1e6) + 20*math.Log10(4*math.Pi*0.3048e6/299792458)
		agree(t, "free space", must[float64](t)(radio.FreeSpace(hz, metres)), want, 1e-9)
		h, _ := units.Foot.In(units.Metre, 10)
		agree(t, "plane earth", must[float64](t)(radio.PlaneEarth(metres, h, h)), 40*math.Log10(feet)-40, 1e-9)
	})
}

// Two rays lie near plane earth far beyond the crossover, and at most 6.02 dB above
// free space anywhere; without reflection they are free space.
func TestTwoRayLimits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		hz := anyHz(t)
		ht, hr := rapid.Float64Range(0.3, 10).Draw(t, "ht"), rapid.Float64Range(0.3, 10).Draw(t, "hr")
		edge := must[float64](t)(radio.Crossover(hz, ht, hr))
		far := 100 * (edge + ht + hr)
		agree(t, "far off", must[float64](t)(radio.TwoRay(hz, far, ht, hr, -1)), must[float64](t)(radio.PlaneEarth(far, ht, hr)), 0.01)
		d := rapid.Float64Range(1, 1000).Draw(t, "metres")
		line := math.Hypot(d, ht-hr)
		free := must[float64](t)(radio.FreeSpace(hz, line))
		agree(t, "no reflection", must[float64](t)(radio.TwoRay(hz, d, ht, hr, 0)), free, 1e-9)
		g := rapid.Float64Range(-1, 1).Draw(t, "reflection")
		if got := must[float64](t)(radio.TwoRay(hz, d, ht, hr, g)); got < free-6.0206 {
			t.Fatalf("%v dB, free space %v dB", got, free)
		}
		// Against the two phasors, added as they are.
		k, r2 := 2*math.Pi*hz/299792458, math.Hypot(d, ht+hr)
		re := math.Cos(k*line)/line + g*math.Cos(k*r2)/r2
		im := math.Sin(k*line)/line + g*math.Sin(k*r2)/r2
		size := math.Hypot(re, im)
		if size*line < 1e-4 {
			return // a null: the plain sum has no digits left
		}
		agree(t, "phasors", must[float64](t)(radio.TwoRay(hz, d, ht, hr, g)), -20*math.Log10(size/(2*k)), 1e-5)
	})
}

func TestReach(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyPath(t)
		lowest, margin := rapid.Float64Range(-110, -70).Draw(t, "lowest"), rapid.Float64Range(0, 20).Draw(t, "margin")
		d, err := radio.Reach(p, lowest, margin)
		if err != nil {
			return // even close by it is too weak
		}
		p.Metres = d
		agree(t, "level there", must[radio.Expected](t)(radio.Expect(p)).Level, lowest+margin, 1e-6)
		p.Metres = d * 1.001
		if e := must[radio.Expected](t)(radio.Expect(p)); e.Level >= lowest+margin {
			t.Fatalf("%v m and further", d)
		}
		if p.SendHeight == 0 { // free space solved for the distance
			p.Metres = 1
			at1 := must[radio.Expected](t)(radio.Expect(p))
			agree(t, "closed form", d, math.Pow(10, (at1.Level-lowest-margin)/20), d*1e-9)
		}
	})
}

func TestShares(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		sigma, p := rapid.Float64Range(1, 12).Draw(t, "sigma"), rapid.Float64Range(0.001, 0.999).Draw(t, "share")
		margin := must[float64](t)(radio.FadeMargin(sigma, p))
		agree(t, "there and back", must[float64](t)(radio.ShareAbove(margin, sigma)), p, 1e-9)
	})
}

func TestAreaCoverage(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		margin, sigma := rapid.Float64Range(-40, 40).Draw(t, "margin"), rapid.Float64Range(2, 12).Draw(t, "sigma")
		n := rapid.Float64Range(1.5, 5).Draw(t, "exponent")
		area := must[float64](t)(radio.AreaCoverage(margin, sigma, n))
		if edge := must[float64](t)(radio.ShareAbove(margin, sigma)); area < edge-1e-12 || area > 1 {
			t.Fatalf("%v of the area, %v of the edge", area, edge)
		}
		// The mean over the disc by the midpoint rule: 2 r dr of the share at r.
		const steps = 2000
		sum := 0.0
		for i := range steps {
			r := (float64(i) + 0.5) / steps
			sum += 2 * r / steps * must[float64](t)(radio.ShareAbove(margin-10*n*math.Log10(r), sigma))
		}
		agree(t, "integral", area, sum, 1e-5)
	})
}

// At the corners of its range the share stays one.
func TestAreaCoverageCorners(t *testing.T) {
	for _, margin := range []float64{-1e4, -300, -1, 0, 1, 300, 1e4} {
		for _, sigma := range []float64{0.1, 30} {
			for _, n := range []float64{1, 10} {
				got, err := radio.AreaCoverage(margin, sigma, n)
				if err != nil || !(got >= 0 && got <= 1) || margin <= -1e4 && got > 1e-9 || margin >= 300 && got < 1-1e-9 {
					t.Errorf("%g dB, sigma %g dB, n %g: %v, %v", margin, sigma, n, got, err)
				}
			}
		}
	}
}
