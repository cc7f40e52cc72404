package units_test

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"ferrule/knowledge/units"
)

// Source: NIST SP 811 (2008), appendix B.8 (foot, inch, yard exactly; the inch
// as 25.4 mm), B.9 and table 8 for the degree Fahrenheit; the rest are SI
// prefixes.
func TestConversions(t *testing.T) {
	for _, c := range []struct {
		x    float64
		from units.Unit
		want float64
		to   units.Unit
	}{
		{1, units.Foot, 0.3048, units.Metre}, {1, units.Inch, 25.4, units.Millimetre}, {1, units.Inch, 0.0254, units.Metre},
		{1, units.Yard, 0.9144, units.Metre}, {100, units.Foot, 30.48, units.Metre}, {4000, units.Foot, 1219.2, units.Metre},
		{212, units.Fahrenheit, 100, units.Celsius}, {32, units.Fahrenheit, 0, units.Celsius}, {-40, units.Fahrenheit, -40, units.Celsius},
		{100, units.Celsius, 212, units.Fahrenheit}, {72, units.Millivolt, 0.072, units.Volt}, {0.3, units.Ampere, 300, units.Milliampere},
		{4.7, units.Kiloohm, 4700, units.Ohm}, {36, units.Hour, 1.5, units.Day}, {2300, units.MilliampereHour, 2.3, units.AmpereHour},
		{868, units.Megahertz, 868e6, units.Hertz}, {25, units.Milliwatt, 0.025, units.Watt}, {1, units.MegabitPerSecond, 1000, units.KilobitPerSecond},
	} {
		if got, ok := c.from.In(c.to, c.x); !ok || got != c.want {
			t.Errorf("%g: got %v %v, want %v", c.x, got, ok, c.want)
		}
	}
	if _, ok := units.Volt.In(units.Ampere, 1); ok {
		t.Error("volts became amperes")
	}
	if _, ok := units.Decibel.In(units.DecibelMilliwatt, 1); ok {
		t.Error("a difference became a level")
	}
}

func TestConversionsGoBack(t *testing.T) {
	symbols := units.Symbols()
	rapid.Check(t, func(t *rapid.T) {
		a, okA := units.BySymbol(rapid.SampledFrom(symbols).Draw(t, "a"))
		b, okB := units.BySymbol(rapid.SampledFrom(symbols).Draw(t, "b"))
		if !okA || !okB {
			t.Fatal("a symbol is missing")
		}
		x := rapid.Float64Range(-1e6, 1e6).Draw(t, "x")
		there, ok := a.In(b, x)
		if ok != (a.Dimension() == b.Dimension()) {
			t.Fatalf("%v and %v: %v", a, b, ok)
		}
		if !ok {
			return
		}
		if back, _ := b.In(a, there); math.Abs(back-x) > 1e-9*math.Max(1, math.Abs(x)) {
			t.Fatalf("%g became %g and then %g", x, there, back)
		}
	})
}

func TestOutOfRange(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	for _, c := range []struct {
		err  error
		want string
	}{
		{units.Within("number of cores", 0, "", 1, 50), "number of cores is 0; it must be 1 to 50"},
		{units.Within("length of the cable", -3, "m", 0, inf), "length of the cable is -3 m; it must be 0 m or more"},
		{units.Within("temperature of the cable", 300, "C", -40, 90), "temperature of the cable is 300 °C; it must be -40 °C to 90 °C"},
		{units.Within("share", 101, "%", math.Inf(-1), 100), "share is 101 %; it must be 100 % or less"},
		{units.Above("frequency", 0, "Hz", 0), "frequency is 0 Hz; it must be more than 0 Hz"},
		{units.Above("frequency", inf, "Hz", 0), "frequency is +Inf Hz; it must be more than 0 Hz"},
		{units.Number("level", nan, "dBm"), "level is NaN dBm; it must be a number"},
		{units.Number("level", -inf, "dBm"), "level is -Inf dBm; it must be a number"},
		{units.Within("share", nan, "%", 0, 100), "share is NaN %; it must be 0 % to 100 %"},
	} {
		var out *units.OutOfRange
		if !errors.As(c.err, &out) || c.err.Error() != c.want {
			t.Errorf("got %v, want %s", c.err, c.want)
		}
	}
	for _, err := range []error{units.Within("share", 100, "%", 0, 100), units.Above("frequency", 1, "Hz", 0), units.Number("level", -90, "dBm")} {
		if err != nil {
			t.Error(err)
		}
	}
}

func BenchmarkIn(b *testing.B) {
	b.ReportAllocs()
	x := 0.0
	for b.Loop() {
		x, _ = units.Foot.In(units.Metre, x+1)
	}
}
