package radio_test

import (
	"errors"
	"math"
	"testing"

	"ferrule/knowledge/radio"
	"ferrule/knowledge/units"
)

// FuzzExpect: whatever is put in, the answer is finite or a refusal, and Reach ends.
func FuzzExpect(f *testing.F) {
	f.Add(868e6, 20.0, 3.4, 6.9, 1, 18.3, 10.0, 3.0, 0.0, 5.0, 0.0, 0.0, -90.0, 10.0)
	f.Add(868e6, 400.0, 0.0, 0.0, 0, 0.0, 14.0, 0.0, 2.15, 0.0, 3.0, 1.5, -100.0, 0.0)
	f.Add(3e3, 1e9, 1000.0, 1000.0, 100, 1000.0, 300.0, 1000.0, -100.0, 30.0, 1e4, 1e4, 300.0, 1000.0)
	f.Add(3e12, 1e-4, 0.0, 0.0, 0, 0.0, 0.0, 0.0, 0.0, 0.1, 0.01, 0.01, -300.0, -1000.0)
	f.Add(math.NaN(), math.Inf(1), -1.0, math.NaN(), -1, math.Copysign(0, -1), 1e308, -1e308, 5e-324, -1.0, 0.0, 1e-300, 1e308, math.Inf(-1))
	s, err := radio.NewScale(radio.Point{DBm: -105, Percent: 2}, radio.Point{DBm: -80, Percent: 51}, radio.Point{DBm: -50, Percent: 100})
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, hz, metres, loss1, loss2 float64, floors int, floorLoss, erp, losses, gain, sigma, ht, hr, measured, margin float64) {
		p := radio.Path{
			Hz: hz, Metres: metres, SendHeight: ht, ReceiveHeight: hr, Floors: floors, FloorLoss: floorLoss,
			Obstacles: []radio.Obstacle{{Name: "a", Loss: loss1}, {Name: "b", Loss: loss2}},
			ERP:       erp, Losses: losses, Gain: gain, Sigma: sigma, Scale: s,
		}
		e, err := radio.Expect(p)
		finite(t, err, e.Loss, e.Level, e.Low, e.High, e.Sigma, e.Percent, e.Display.Low, e.Display.High)
		if err == nil && !(e.Low < e.Level && e.Level < e.High && e.Display.Low <= e.Percent && e.Percent <= e.Display.High) {
			t.Errorf("%+v", e)
		}
		u, err := e.Surprise(measured)
		finite(t, err, u.Z, u.OrLower, u.OrHigher)
		c, err := radio.WithoutObstacle(p, 1)
		finite(t, err, c.Gain)
		if err == nil && c.Gain < -1e-9 {
			t.Errorf("the path got worse by %v dB without an obstacle", c.Gain)
		}
		d, err := radio.Reach(p, measured, margin)
		finite(t, err, d)
		x, err := radio.TwoRay(hz, metres, ht, hr, gain)
		finite(t, err, x)
		z, err := radio.FirstZone(hz, metres, loss1, ht, hr, loss2)
		finite(t, err, z.Radius, z.Over, z.Share)
		x, err = radio.AreaCoverage(margin, sigma, gain)
		finite(t, err, x)
		if err == nil && (x < 0 || x > 1) {
			t.Errorf("area %v", x)
		}
		m := radio.Material{A: losses, B: gain, C: loss1, D: sigma, LowHz: 1e6, HighHz: 1e12}
		w, err := radio.Stack(hz, radio.Damp(m, metres, loss2, radio.FreshWater()), radio.Mesh(ht, hr), radio.Solid(m, metres), radio.Coating(floorLoss), radio.Foil(erp, metres))
		finite(t, err, w.Transmission, w.Reflection)
	})
}

func finite(t *testing.T, err error, xs ...float64) {
	t.Helper()
	var out *units.OutOfRange
	if err != nil {
		if !errors.As(err, &out) || out.Quantity == "" {
			t.Errorf("untyped refusal: %v", err)
		}
		return
	}
	for _, x := range xs {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			t.Errorf("%v among %v", x, xs)
		}
	}
}
