package radio_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"ferrule/knowledge/radio"
)

func scale(t testing.TB, points ...radio.Point) *radio.Scale {
	t.Helper()
	s, err := radio.NewScale(points...)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// An invented scale: the expected values are straight lines drawn by hand.
func TestScale(t *testing.T) {
	s := scale(t, radio.Point{DBm: -104, Percent: 4}, radio.Point{DBm: -84, Percent: 44}, radio.Point{DBm: -54, Percent: 98})
	for dBm, want := range map[float64]float64{-200: 4, -104: 4, -94: 24, -84: 44, -69: 71, -54: 98, 0: 98} {
		if got, err := s.Percent(dBm); err != nil || math.Abs(got-want) > 1e-9 {
			t.Errorf("%g dBm: %v, %v, want %v", dBm, got, err, want)
		}
	}
	for percent, want := range map[float64]radio.Interval{
		4:  {Low: -104, High: -104, OrLess: true},
		24: {Low: -94, High: -94},
		71: {Low: -69, High: -69},
		98: {Low: -54, High: -54, OrMore: true},
	} {
		if got, err := s.Level(percent); err != nil || got != want {
			t.Errorf("%g %%: %+v, %v, want %+v", percent, got, err, want)
		}
	}
	for _, c := range []struct {
		low, high float64
		want      radio.Interval
	}{
		{-94, -69, radio.Interval{Low: 24, High: 71}},
		{-120, -84, radio.Interval{Low: 4, High: 44, OrLess: true}},
		{-84, -40, radio.Interval{Low: 44, High: 98, OrMore: true}},
		{-130, -20, radio.Interval{Low: 4, High: 98, OrLess: true, OrMore: true}},
		{-150, -140, radio.Interval{Low: 4, High: 4, OrLess: true}},
		{-30, -20, radio.Interval{Low: 98, High: 98, OrMore: true}},
	} {
		got, err := s.Percents(c.low, c.high)
		if err != nil || got != c.want {
			t.Errorf("%g to %g dBm: %+v, %v, want %+v", c.low, c.high, got, err, c.want)
		}
	}
}

func TestScaleGoesBack(t *testing.T) {
	s := scale(t, radio.Point{DBm: -107, Percent: 0}, radio.Point{DBm: -91, Percent: 37}, radio.Point{DBm: -60, Percent: 100})
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.Float64Range(-120, -50).Draw(t, "a"), rapid.Float64Range(-120, -50).Draw(t, "b")
		pa, pb := must[float64](t)(s.Percent(a)), must[float64](t)(s.Percent(b))
		if a < b && pa > pb {
			t.Fatalf("%v dBm shows %v, %v dBm shows %v", a, pa, b, pb)
		}
		back := must[radio.Interval](t)(s.Level(pa))
		if !(back.OrLess && a <= back.Low || back.OrMore && a >= back.High || math.Abs(back.Low-a) < 1e-9) {
			t.Fatalf("%v dBm, %v, %+v", a, pa, back)
		}
	})
}

func TestScaleRefuses(t *testing.T) {
	for _, c := range []struct {
		quantity string
		points   []radio.Point
	}{
		{"number of points of the scale", nil},
		{"number of points of the scale", []radio.Point{{-90, 5}}},
		{"level of point 1", []radio.Point{{math.NaN(), 5}, {-80, 10}}},
		{"level of point 2", []radio.Point{{-90, 5}, {101, 10}}},
		{"level of point 2", []radio.Point{{-90, 5}, {-90, 10}}},
		{"level of point 3", []radio.Point{{-90, 5}, {-80, 10}, {-85, 20}}},
		{"percent of point 1", []radio.Point{{-90, -1}, {-80, 10}}},
		{"percent of point 2", []radio.Point{{-90, 5}, {-80, 101}}},
		{"percent of point 2", []radio.Point{{-90, 5}, {-80, 5}}},
		{"percent of point 2", []radio.Point{{-90, 5}, {-80, math.Inf(1)}}},
	} {
		_, err := radio.NewScale(c.points...)
		refused(t, "points", c.quantity, err)
	}
	s := scale(t, radio.Point{DBm: -100, Percent: 10}, radio.Point{DBm: -60, Percent: 90})
	for _, x := range bad {
		_, err := s.Percent(x)
		refused(t, "Percent", "level", err)
		_, err = s.Level(x)
		refused(t, "Level", "percent", err)
	}
	_, err := s.Level(9)
	refused(t, "below the display", "percent", err)
	_, err = s.Percents(-70, -80)
	refused(t, "upside down", "upper level", err)
	_, err = (*radio.Scale)(nil).Percent(-70)
	refused(t, "nil", "number of points of the scale", err)
	_, err = (&radio.Scale{}).Level(50)
	refused(t, "zero", "number of points of the scale", err)
}

// The scale keeps its points, whatever becomes of the caller's.
func TestScaleIsItsOwn(t *testing.T) {
	points := []radio.Point{{DBm: -100, Percent: 0}, {DBm: -50, Percent: 100}}
	s := scale(t, points...)
	points[0].DBm = -60
	if got, err := s.Percent(-75); err != nil || got != 50 {
		t.Error(got, err)
	}
}
