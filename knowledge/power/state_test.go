package power_test

import (
	"testing"

	"ferrule/knowledge/power"
)

// Tables are settings from weak sources: the test asks that they hold what
// check-values lists, and that interpolation works.
func TestStateOfCharge(t *testing.T) {
	rested := func(volts float64) power.Reading {
		return power.Reading{Volts: volts, RestHours: 12, Temperature: 20}
	}
	for _, c := range []struct {
		table        power.OCVTable
		volts, share float64
		source       string
	}{
		{power.FloodedOCV(), 12.6, 1, "public mailing list"}, {power.FloodedOCV(), 12.4, 0.75, "public mailing list"},
		{power.FloodedOCV(), 12.2, 0.5, "public mailing list"}, {power.FloodedOCV(), 12.0, 0.25, "public mailing list"},
		{power.FloodedOCV(), 11.6, 0, "public mailing list"}, {power.FloodedOCV(), 12.3, 0.625, "half way"}, {power.FloodedOCV(), 11.8, 0.125, "half way"},
		{power.SealedOCV(), 12.89, 1, "public page"}, {power.SealedOCV(), 11.63, 0, "public page"}, {power.SealedOCV(), 12.26, 0.5, "half way"},
		{power.HandbookOCV(), 12.7, 1, "public page"}, {power.HandbookOCV(), 12.3, 0.5, "from memory"}, {power.HandbookOCV(), 11.9, 0, "from memory"},
	} {
		s, err := c.table.StateOfCharge(rested(c.volts))
		near(t, c.table.Name+", "+c.source, s.Share, err, c.share, 1e-12)
		if s.Beyond || s.Unrested || s.OffTemperature {
			t.Errorf("%s, %g V: %+v", c.table.Name, c.volts, s)
		}
		volts, err := c.table.Volts(c.share)
		near(t, c.table.Name+" back", volts, err, c.volts, 1e-12)
	}
	for _, c := range []struct {
		reading power.Reading
		want    power.StateOfCharge
	}{
		{rested(13.2), power.StateOfCharge{Share: 1, Beyond: true}},
		{rested(9), power.StateOfCharge{Beyond: true}},
		{rested(0), power.StateOfCharge{Beyond: true}},
		{power.Reading{Volts: 12.6, RestHours: 1, Temperature: 20}, power.StateOfCharge{Share: 1, Unrested: true}},
		{power.Reading{Volts: 12.6, RestHours: 12, Temperature: -5}, power.StateOfCharge{Share: 1, OffTemperature: true}},
	} {
		if s, err := power.FloodedOCV().StateOfCharge(c.reading); err != nil || s != c.want {
			t.Errorf("%+v: %+v, %v", c.reading, s, err)
		}
	}
	if f, s, h := power.FloodedOCV().Source.Sure, power.SealedOCV().Source.Sure, power.HandbookOCV().Source.Sure; f != power.WeakPage || s != power.WeakPage || h != power.FromMemory {
		t.Error("how sure the tables are:", f, s, h)
	}
}

func TestFloatVoltage(t *testing.T) {
	f := power.SealedFloat()
	// Two public pages (weak): 13.6 V, 13.4 to 13.8 V.
	if f.Volts != 13.6 || f.Source.Sure != power.FromMemory {
		t.Errorf("%+v", f)
	}
	// Arithmetic of -18 mV/°C for 6 cells, which is from memory.
	f.Volts = 13.65
	for temperature, want := range map[float64]float64{0: 14.01, 40: 13.29, 20: 13.65} {
		got, err := f.At(temperature)
		near(t, "float voltage", got, err, want, 1e-9)
	}
}

// Common practice, no source: the list's own points, and half way.
func TestCapacityFactor(t *testing.T) {
	for temperature, want := range map[float64]float64{-20: 0.5, 0: 0.8, 5: 0.85, 20: 1, 33: 1, 40: 1} {
		got, err := power.CapacityFactor(power.LeadAcidFactors(), temperature)
		near(t, "factor", got, err, want, 1e-12)
	}
}

// Ohm's law and the halving of life, by hand.
func TestHealth(t *testing.T) {
	r, err := power.InternalResistance(12.8, 12.5, 2)
	near(t, "internal resistance", r, err, 0.15, 1e-12)
	v, err := power.VoltageUnderLoad(12.8, 0.15, 2)
	near(t, "voltage under load", v, err, 12.5, 1e-12)
	for _, c := range []struct{ years, age, temperature, want float64 }{
		{5, 2.5, 20, 0.5}, {5, 2.5, 30, 1}, {5, 2.5, 40, 2}, {5, 2.5, 0, 0.5}, {10, 4, 30, 0.8},
	} {
		got, err := power.CommonLife(c.years).Share(c.age, c.temperature)
		near(t, "share of life", got, err, c.want, 1e-12)
	}
	l := power.CommonLimits()
	for _, c := range []struct {
		life, ohms, whenNew float64
		want                power.Verdict
	}{
		{0.2, 0.02, 0.02, power.Good}, {0.74, 0, 0, power.Good}, {0.75, 0, 0, power.Ageing}, {1, 0, 0, power.Replace}, {0.2, 0.027, 0.02, power.Ageing},
		{0.2, 0.032, 0.02, power.Replace}, {0.8, 0.032, 0.02, power.Replace}, {1.2, 0.02, 0.02, power.Replace},
	} {
		h, err := l.Judge(c.life, c.ohms, c.whenNew)
		if err != nil || h.Verdict != c.want {
			t.Errorf("%+v: %+v, %v", c, h, err)
		}
	}
	if h, err := l.Judge(0.2, 0, 0); err != nil || h.ByResistance != power.Unknown || h.ByLife.String() != "good" {
		t.Errorf("no resistance: %+v, %v", h, err)
	}
}

// By hand.
func TestCell(t *testing.T) {
	// 8.766 Ah at 1 mA is 8766 h, the year of 365.25 days.
	l, err := power.Duty{Sleep: 1e-3, ReportSeconds: 3600}.Life(power.Cell{Capacity: 8.766, Usable: 1})
	near(t, "sleep alone", l.Years, err, 1, 1e-12)
	// 24 reports a day of 0.1 A for 0.9 s are 2.16 As in 86400 s, 25 uA, as
	// much as it sleeps; with a report twice as often 50 uA, and 50 of 75 uA.
	d := power.Duty{Sleep: 25e-6, Report: power.Pulse{Current: 0.1, Seconds: 0.9}, ReportSeconds: 3600}
	c := power.Cell{Capacity: 1, Usable: 1}
	change, err := d.ChangeInterval(c, 1800)
	near(t, "mean current", change.Before.MeanCurrent, err, 50e-6, 1e-15)
	near(t, "reports", change.Before.Reports, err, 0.5, 1e-12)
	near(t, "reports twice as often", change.After.Reports, err, 2.0/3, 1e-12)
	near(t, "years", change.Years, err, (1/75e-6-1/50e-6)/8766, 1e-9)
	// Self-discharge of 10 % each year alone: ten years.
	l, err = power.Duty{ReportSeconds: 60}.Life(power.Cell{Capacity: 1.4, Usable: 1, SelfDischarge: 0.1})
	near(t, "self-discharge alone", l.Years, err, 10, 1e-12)
	// 3.0 V, 10 ohm at 20 °C, 20 at 10 °C, 40 at 0 °C with growth 2; 30 mA.
	r := power.CellResistance{Ohms: 10, Reference: 20, Growth: 2}
	for _, c := range []struct {
		temperature, volts float64
		resets             bool
	}{{20, 2.7, false}, {35, 2.7, false}, {10, 2.4, false}, {0, 1.8, true}, {-30, 0, true}} {
		u, err := r.Under(3.0, 0.030, c.temperature, 2.2)
		near(t, "under the pulse", u.Volts, err, c.volts, 1e-12)
		if u.Resets != c.resets {
			t.Errorf("%g °C: %+v", c.temperature, u)
		}
	}
}

// By hand: a flooded battery of 10 Ah at its rated 0.5 A, 0.4 ohm: 0.2 V below
// the table.
func TestDischarge(t *testing.T) {
	d := power.Discharge{OCV: power.FloodedOCV(), Capacity: 10, RateHours: 20, Exponent: 1.2, Resistance: 0.4, Current: 0.5, Start: 1, CutOff: 11.8}
	end, err := d.End() // 12.0 V of the table: a quarter is left after 15 h
	near(t, "end", end.Hours, err, 15, 1e-9)
	near(t, "end share", end.Share, err, 0.25, 1e-9)
	d.CutOff = 0 // 10.5 V: empty before
	var points [5]power.CurvePoint
	end, err = d.Curve(points[:])
	if err != nil || !end.Empty {
		t.Fatalf("%+v, %v", end, err)
	}
	for i, volts := range []float64{12.4, 12.2, 12.0, 11.8, 11.4} {
		near(t, "volts", points[i].Volts, nil, volts, 1e-9)
		near(t, "hours", points[i].Hours, nil, 5*float64(i), 1e-9)
		near(t, "share", points[i].Share, nil, 1-float64(i)/4, 1e-9)
	}
	if 6*power.CutOffPerCell != 10.5 {
		t.Error("cut-off of 12 V")
	}
	// Below the rated current the label is kept: 10 Ah at 0.1 A is 100 h.
	d.Current = 0.1
	end, err = d.End()
	near(t, "small current", end.Hours, err, 100, 1e-9)
}
