package radio_test

import (
	"math"
	"testing"

	"ferrule/knowledge/radio"
)

// house is a path whose loss is published: 868 MHz, 20 m, two light walls and a heavy
// one, 70.9388 dB, and 89.2388 dB with a floor (COST 231 final report, 4.7).
func house() radio.Path {
	return radio.Path{
		Hz: 868e6, Metres: 20, ERP: 10,
		Obstacles: []radio.Obstacle{{Name: "light wall", Loss: 3.4}, {Name: "light wall", Loss: 3.4}, {Name: "heavy wall", Loss: 6.9}},
	}
}

func nearTo(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: got %v, want %v", what, got, want)
	}
}

func TestExpect(t *testing.T) {
	e, err := radio.Expect(house())
	if err != nil {
		t.Fatal(err)
	}
	nearTo(t, "loss, "+cost, e.Loss, 70.9388, 5e-5)
	nearTo(t, "level: 10 dBm e.r.p. and 2.15 dB", e.Level, 12.15-70.9388, 5e-5)
	nearTo(t, "interval of 95 %: 1.96 of 5 dB (normal distribution)", e.High-e.Level, 9.80, 5e-3)
	nearTo(t, "interval below", e.Level-e.Low, 9.80, 5e-3)
	if e.HasScale {
		t.Error("a scale from nowhere")
	}
	p := house()
	p.Floors, p.Losses, p.Gain = 1, 4, -3
	if e, err = radio.Expect(p); err != nil {
		t.Fatal(err)
	}
	nearTo(t, "loss with a floor, "+cost, e.Loss, 89.2388, 5e-5)
	nearTo(t, "level with losses", e.Level, 12.15-4-3-89.2388, 5e-5)

	// Outdoors the larger of free space and plane earth counts.
	for metres, want := range map[float64]float64{100: 71.2182, 400: 91.018} {
		e, err := radio.Expect(radio.Path{Hz: 868e6, Metres: metres, SendHeight: 3, ReceiveHeight: 1.5})
		if err != nil {
			t.Fatal(err)
		}
		nearTo(t, tworay+"open area", e.Loss, want, 5e-4)
	}
}

func TestExpectOnDisplay(t *testing.T) {
	p := house()
	// Invented; 2 % a dB. Expected -58.79 dBm, interval -68.59 to -48.99 dBm.
	p.Scale = scale(t, radio.Point{DBm: -100, Percent: 0}, radio.Point{DBm: -50, Percent: 100})
	e, err := radio.Expect(p)
	if err != nil {
		t.Fatal(err)
	}
	nearTo(t, "percent", e.Percent, 82.42, 5e-3)
	nearTo(t, "lower end", e.Display.Low, 62.82, 0.01)
	nearTo(t, "upper end", e.Display.High, 100, 0)
	if !e.HasScale || e.Display.OrLess || !e.Display.OrMore {
		t.Errorf("%+v", e)
	}
}

// Source: normal distribution; z of 5 % and 95 % one-sided is 1.644854.
func TestSurprise(t *testing.T) {
	e, err := radio.Expect(house())
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ off, z, lower, higher float64 }{
		{0, 0, 0.5, 0.5}, {-5 * 1.644854, -1.644854, 0.05, 0.95}, {5 * 2.326348, 2.326348, 0.99, 0.01}, {-5 * 3.090232, -3.090232, 0.001, 0.999},
	} {
		s, err := e.Surprise(e.Level + c.off)
		if err != nil {
			t.Fatal(err)
		}
		nearTo(t, "z", s.Z, c.z, 1e-9)
		nearTo(t, "or lower", s.OrLower, c.lower, 1e-7)
		nearTo(t, "or higher", s.OrHigher, c.higher, 1e-7)
	}
}

func TestChanges(t *testing.T) {
	p := house()
	for i, want := range []float64{3.4, 3.4, 6.9} {
		c, err := radio.WithoutObstacle(p, i)
		if err != nil {
			t.Fatal(err)
		}
		nearTo(t, "without "+p.Obstacles[i].Name, c.Gain, want, 1e-9)
		nearTo(t, "after", c.After.Level-c.Before.Level, want, 1e-9)
	}
	if len(p.Obstacles) != 3 || p.Obstacles[2].Loss != 6.9 {
		t.Error("the path has changed")
	}
	c, err := radio.AtDistance(p, 10)
	if err != nil {
		t.Fatal(err)
	}
	nearTo(t, "half the way: 6.02 dB in free space", c.Gain, 6.02, 5e-3)
	p.Floors = 2
	if c, err = radio.WithFloors(p, 1); err != nil {
		t.Fatal(err)
	}
	nearTo(t, "one floor less, "+cost, c.Gain, 33.5236-18.3, 5e-5)
}

// Free space at 400 m and 868 MHz is 83.2594 dB (ITU-R P.525): with 10 dBm e.r.p. the
// level there is 12.15 - 83.2594 dBm. Plane earth at 800 m is 103.059 dB (Rappaport 4.6).
func TestReachKnown(t *testing.T) {
	d, err := radio.Reach(radio.Path{Hz: 868e6, ERP: 10}, 12.15-83.2594, 0)
	if err != nil {
		t.Fatal(err)
	}
	nearTo(t, "reach in metres", d, 400, 5e-3)
	if d, err = radio.Reach(radio.Path{Hz: 868e6, ERP: 10}, 12.15-83.2594-10.252, 10.252); err != nil {
		t.Fatal(err)
	}
	nearTo(t, "reach with margin", d, 400, 5e-3)
	if d, err = radio.Reach(radio.Path{Hz: 868e6, ERP: 10, SendHeight: 3, ReceiveHeight: 1.5}, 12.15-103.059, 0); err != nil {
		t.Fatal(err)
	}
	nearTo(t, "reach over ground", d, 800, 0.05)

	p := house()
	p.Obstacles[0].Loss = 300
	_, err = radio.Reach(p, -100, 0)
	refused(t, "behind an opaque wall", "level close by the sender", err)
	if d, err = radio.Reach(radio.Path{Hz: 868e6, ERP: 10}, -300, 0); err != nil || d != 1e9 {
		t.Errorf("the end of the world: %v, %v", d, err)
	}
}
