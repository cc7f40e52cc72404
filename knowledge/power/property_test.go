package power_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"ferrule/knowledge/power"
)

// slack is what rounding may do to an order.
const slack = 1 + 1e-12

func between(t *rapid.T, name string, low, high float64) float64 {
	return rapid.Float64Range(low, high).Draw(t, name)
}

// supply is a drawn case: a load, an age factor and a temperature.
type supply struct {
	load                      power.Load
	capacity, ageing, degrees float64
}

func drawSupply(t *rapid.T) supply {
	return supply{
		load: power.Load{Standby: between(t, "standby", 0.001, 5), StandbyHours: between(t, "hours", 0.1, 200),
			Alarm: between(t, "alarm", 0, 10), AlarmHours: between(t, "alarm hours", 0, 2)},
		capacity: between(t, "capacity", 0.5, 200), ageing: between(t, "ageing", 0.3, 1), degrees: between(t, "degrees", -20, 40),
	}
}

func (s supply) derating(t *rapid.T) power.Derating {
	factor, err := power.CapacityFactor(power.LeadAcidFactors(), s.degrees)
	if err != nil {
		t.Fatal(err)
	}
	return power.Derating{Ageing: s.ageing, Temperature: factor, Usable: 1}
}

func (s supply) needed(t *rapid.T) float64 {
	ah, err := power.Capacity(s.load, s.derating(t))
	if err != nil {
		t.Fatal(err)
	}
	return ah
}

func (s supply) lasts(t *rapid.T) float64 {
	a, err := power.StandbyAutonomy(s.capacity, s.load.Standby, s.load.Alarm, s.load.AlarmHours, s.derating(t))
	if err != nil {
		t.Fatal(err)
	}
	return a.Hours
}

// More load, an older or a colder battery, and a longer time never give more
// autonomy nor need less capacity; a smaller battery never lasts longer.
func TestHarderIsNeverBetter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSupply(t)
		harder := s
		more, less := between(t, "more", 1, 3), between(t, "less", 0.3, 1)
		switch rapid.SampledFrom([]string{"standby", "alarm", "time", "alarm time", "older", "colder", "smaller"}).Draw(t, "harder") {
		case "standby":
			harder.load.Standby *= more
		case "alarm":
			harder.load.Alarm *= more
		case "time":
			harder.load.StandbyHours *= more
		case "alarm time":
			harder.load.AlarmHours *= more
		case "older":
			harder.ageing *= less
		case "colder":
			harder.degrees = -20 + (s.degrees+20)*less
		case "smaller":
			harder.capacity *= less
		}
		if a, b := s.needed(t), harder.needed(t); b*slack < a {
			t.Fatalf("harder needs %g Ah instead of %g", b, a)
		}
		if a, b := s.lasts(t), harder.lasts(t); b > a*slack {
			t.Fatalf("harder lasts %g h instead of %g", b, a)
		}
	})
}

// The capacity that a load needs lasts as long as the load, and no longer.
func TestCapacityIsAutonomy(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSupply(t)
		s.capacity = s.needed(t) * slack
		a, err := power.StandbyAutonomy(s.capacity, s.load.Standby, s.load.Alarm, s.load.AlarmHours, s.derating(t))
		// The margin for rounding is a share of the whole charge.
		allow := 1e-11 * (s.load.StandbyHours + s.load.Alarm*s.load.AlarmHours/s.load.Standby)
		if err != nil || !a.AlarmCarried || math.Abs(a.Hours-s.load.StandbyHours) > allow {
			t.Fatalf("%+v instead of %g h (%v)", a, s.load.StandbyHours, err)
		}
	})
}

// A battery is enough exactly from the least capacity upwards.
func TestBS5839Least(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		standby, hours, alarm := between(t, "standby", 0.001, 3), between(t, "hours", 1, 100), between(t, "alarm", 0, 5)
		b, err := power.BS5839Capacity(standby, hours, alarm)
		if err != nil || b.LowRate > b.HighRate || b.Least < b.LowRate || b.Least > b.HighRate {
			t.Fatalf("%+v, %v", b, err)
		}
		for _, capacity := range []float64{b.Least, math.Nextafter(b.Least, 0), between(t, "capacity", 0.1, 300)} {
			v, err := power.BS5839Battery(standby, hours, alarm, capacity)
			if err != nil || v.Enough != (capacity >= b.Least) {
				t.Fatalf("%g Ah with a least of %g: %+v, %v", capacity, b.Least, v, err)
			}
		}
	})
}

func TestPeukertProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, h, i, k := between(t, "capacity", 0.5, 200), between(t, "rate", 1, 100), between(t, "current", 0.01, 50), between(t, "k", 1, 2)
		hours := must[float64](t)(power.PeukertHours(c, h, i, k))
		charge := must[float64](t)(power.PeukertCapacity(c, h, i, k))
		if math.Abs(charge-i*hours) > 1e-9*charge {
			t.Fatalf("%g Ah is not %g A for %g h", charge, i, hours)
		}
		if rated := must[float64](t)(power.PeukertHours(c, h, c/h, k)); math.Abs(rated-h) > 1e-9*h {
			t.Fatalf("at the rated current %g h instead of %g", rated, h)
		}
		more := i * between(t, "more", 1.01, 10)
		shorter := must[float64](t)(power.PeukertHours(c, h, more, k))
		if shorter > hours || must[float64](t)(power.PeukertCapacity(c, h, more, k)) > charge*slack {
			t.Fatal("more current gives more")
		}
		// The law gives its exponent back, and the two forms are one law.
		if back := must[float64](t)(power.PeukertExponent(i, hours, more, shorter)); math.Abs(back-k) > 1e-9 {
			t.Fatalf("exponent %g instead of %g", back, k)
		}
		atOne := must[float64](t)(power.PeukertCapacity(c, h, 1, k))
		if other := must[float64](t)(power.PeukertHoursAtOneAmpere(atOne, i, k)); math.Abs(other-hours) > 1e-9*hours {
			t.Fatalf("%g h by one form, %g by the other", hours, other)
		}
	})
}

// A charge current that is worked out for a time takes that time.
func TestRechargeTakesItsTime(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, share, hours, standing, efficiency := between(t, "capacity", 0.5, 200), between(t, "share", 0.1, 1), between(t, "hours", 1, 100),
			between(t, "load", 0, 0.5), between(t, "efficiency", 0.5, 1)
		current := must[float64](t)(power.ChargeCurrent(c, share, hours, efficiency))
		back := must[float64](t)(power.RechargeHours(c, share, current+standing, standing, efficiency))
		if math.Abs(back-hours) > 1e-6*hours { // the load is taken off the sum again
			t.Fatalf("%g h instead of %g", back, hours)
		}
	})
}

func drawDischarge(t *rapid.T) power.Discharge {
	tables := []power.OCVTable{power.FloodedOCV(), power.SealedOCV(), power.HandbookOCV()}
	d := power.Discharge{OCV: rapid.SampledFrom(tables).Draw(t, "table"), Capacity: between(t, "capacity", 1, 100), RateHours: between(t, "rate", 5, 100),
		Exponent: between(t, "k", 1, 1.5), Resistance: between(t, "ohms", 0, 0.1), Rise: between(t, "rise", 0, 3), Current: between(t, "current", 0.01, 5),
		Start: between(t, "start", 0.3, 1)}
	begins := must[float64](t)(d.OCV.Volts(d.Start)) - d.Current*d.Resistance*(1+d.Rise*(1-d.Start))
	d.CutOff = between(t, "cut-off", 9, min(11, begins-0.01))
	return d
}

// Along the curve the voltage and the charge never rise, the time never falls,
// and the curve stays above its end.
func TestCurveFalls(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawDischarge(t)
		points := make([]power.CurvePoint, rapid.IntRange(2, 100).Draw(t, "points"))
		end, err := d.Curve(points)
		if err != nil {
			t.Fatal(err)
		}
		for i := range points[1:] {
			if a, b := points[i], points[i+1]; b.Hours < a.Hours || b.Volts > a.Volts || b.Share > a.Share {
				t.Fatalf("%+v, then %+v", a, b)
			}
		}
		if points[0].Share != d.Start || points[0].Hours != 0 || points[len(points)-1] != end.CurvePoint {
			t.Fatalf("from %+v to %+v, end %+v", points[0], points[len(points)-1], end)
		}
		if end.Empty != (end.Share == 0 && end.Volts > d.CutOff) || !end.Empty && end.Volts != d.CutOff {
			t.Fatalf("%+v", end)
		}
		if alone := must[power.End](t)(d.End()); alone != end {
			t.Fatalf("%+v and %+v", alone, end)
		}
	})
}

func TestHarderDischargeEndsSooner(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawDischarge(t)
		harder := d
		more := between(t, "more", 1, 2)
		switch rapid.SampledFrom([]string{"current", "ohms", "rise", "capacity", "start", "cut-off"}).Draw(t, "harder") {
		case "current":
			harder.Current *= more
		case "ohms":
			harder.Resistance *= more
		case "rise":
			harder.Rise *= more
		case "capacity":
			harder.Capacity /= more
		case "start":
			harder.Start /= more
		case "cut-off":
			harder.CutOff += 0.1 * more
		}
		a, err := d.End()
		if err != nil {
			t.Fatal(err)
		}
		b, err := harder.End()
		if err == nil && b.Hours > a.Hours*(1+1e-9) {
			t.Fatalf("harder lasts %g h instead of %g", b.Hours, a.Hours)
		}
	})
}

// The table and its inverse agree.
func TestStateOfChargeGoesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		table := drawDischarge(t).OCV
		share := between(t, "share", 0, 1)
		volts := must[float64](t)(table.Volts(share))
		s := must[power.StateOfCharge](t)(table.StateOfCharge(power.Reading{Volts: volts, RestHours: 12, Temperature: 20}))
		if s.Beyond || math.Abs(s.Share-share) > 1e-12 {
			t.Fatalf("%g became %g V and then %+v", share, volts, s)
		}
		more := must[power.StateOfCharge](t)(table.StateOfCharge(power.Reading{Volts: volts + between(t, "more", 0, 1), RestHours: 12, Temperature: 20}))
		if more.Share < s.Share {
			t.Fatalf("%+v at more volts than %+v", more, s)
		}
	})
}

// Resistance and voltage under load are each other's inverse.
func TestResistanceGoesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		open, ohms, current := between(t, "open", 2, 15), between(t, "ohms", 0, 0.5), between(t, "current", 0.01, 3)
		volts := must[float64](t)(power.VoltageUnderLoad(open, ohms, current))
		if back := must[float64](t)(power.InternalResistance(open, volts, current)); math.Abs(back-ohms) > 1e-12/current*10 {
			t.Fatalf("%g ohm instead of %g", back, ohms)
		}
	})
}

func TestLifeFallsWithAgeAndWarmth(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := power.CommonLife(between(t, "rated", 1, 15))
		age, degrees := between(t, "age", 0.1, 20), between(t, "degrees", -40, 49)
		share := must[float64](t)(l.Share(age, degrees))
		if older := must[float64](t)(l.Share(age*2, degrees)); math.Abs(older-2*share) > 1e-9*older {
			t.Fatal("not twice at twice the age")
		}
		warmer := must[float64](t)(l.Share(age, degrees+10))
		if warmer < share || degrees >= 20 && math.Abs(warmer-2*share) > 1e-9*warmer {
			t.Fatalf("%g at %g °C, %g 10 °C warmer", share, degrees, warmer)
		}
	})
}

// Shares add up to 1; more work never lasts longer; a longer interval never
// costs life; the cold never raises the voltage under the pulse.
func TestCellProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pulse := func(name string) power.Pulse {
			return power.Pulse{Current: between(t, name+" current", 0, 0.2), Seconds: between(t, name+" seconds", 0, 2)}
		}
		d := power.Duty{Sleep: between(t, "sleep", 1e-6, 1e-3), Report: pulse("report"), ReportSeconds: between(t, "interval", 10, 1e5), Event: pulse("event"),
			EventsPerDay: between(t, "events", 0, 2000), Alarm: pulse("alarm"), AlarmsPerDay: between(t, "alarms", 0, 20)}
		c := power.Cell{Capacity: between(t, "capacity", 0.1, 20), Usable: between(t, "usable", 0.3, 1), SelfDischarge: between(t, "self-discharge", 0, 0.3)}
		change := must[power.IntervalChange](t)(d.ChangeInterval(c, d.ReportSeconds*between(t, "longer", 1, 10)))
		l := change.Before
		if sum := l.Sleep + l.Reports + l.Events + l.Alarms + l.SelfDischarge; math.Abs(sum-1) > 1e-9 {
			t.Fatalf("shares add up to %g", sum)
		}
		if change.Years < -1e-9 {
			t.Fatalf("a longer interval costs %g years", -change.Years)
		}
		d.Sleep *= 2
		d.EventsPerDay *= 2
		if more := must[power.CellLife](t)(d.Life(c)); more.Years > l.Years*slack {
			t.Fatalf("%g years with more work, %g with less", more.Years, l.Years)
		}
		c.Capacity /= 2
		if less := must[power.CellLife](t)(d.Life(c)); less.Years > l.Years*slack {
			t.Fatalf("%g years from half the cell, %g from the whole", less.Years, l.Years)
		}
		r := power.CellResistance{Ohms: between(t, "ohms", 0, 100), Reference: 20, Growth: between(t, "growth", 1, 3)}
		warm, cold := between(t, "warm", -30, 60), between(t, "colder", 0, 20)
		a := must[power.UnderPulse](t)(r.Under(3, 0.03, warm, 2.2))
		b := must[power.UnderPulse](t)(r.Under(3, 0.03, warm-cold, 2.2))
		if b.Volts > a.Volts || a.Resets && !b.Resets {
			t.Fatalf("%+v warm, %+v cold", a, b)
		}
	})
}
