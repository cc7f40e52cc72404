package power_test

import (
	"testing"

	"ferrule/knowledge/power"
)

var (
	benchLoad = power.Load{Standby: 0.21, StandbyHours: 12, Alarm: 0.9, AlarmHours: 0.25}
	benchDuty = power.Duty{Sleep: 12e-6, Report: power.Pulse{Current: 0.03, Seconds: 0.02}, ReportSeconds: 1200, Event: power.Pulse{Current: 0.03, Seconds: 0.05},
		EventsPerDay: 60, Alarm: power.Pulse{Current: 0.03, Seconds: 0.5}, AlarmsPerDay: 1}
	benchCell = power.Cell{Capacity: 1.4, Usable: 0.9, SelfDischarge: 0.02}
)

func benchDischarge() power.Discharge {
	return power.Discharge{OCV: power.FloodedOCV(), Capacity: 7, RateHours: 20, Exponent: 1.15, Resistance: 0.04, Rise: 1, Current: 0.6, Start: 1}
}

func BenchmarkCapacity(b *testing.B) {
	d := power.CommonDerating()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := power.Capacity(benchLoad, d); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkBS5839(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if _, err := power.BS5839Battery(0.25, 24, 0.75, 12); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkStandbyAutonomy(b *testing.B) {
	d := power.CommonDerating()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := power.StandbyAutonomy(7, 0.21, 0.9, 0.25, d); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkFind(b *testing.B) {
	list := power.StandbyTimes()
	q := power.Query{Standard: power.EN50131, Grade: 3, Supply: power.TypeA, FaultReported: true}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := power.Find(list, q); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCurve(b *testing.B) {
	d := benchDischarge()
	var points [50]power.CurvePoint
	b.ReportAllocs()
	for b.Loop() {
		if _, err := d.Curve(points[:]); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCellLife(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if _, err := benchDuty.Life(benchCell); err != nil {
			b.Fatal(err)
		}
	}
}

// What the bot asks for each message takes no allocation.
func TestNoAllocation(t *testing.T) {
	d, table, factors, list := benchDischarge(), power.SealedOCV(), power.LeadAcidFactors(), power.StandbyTimes()
	var points [50]power.CurvePoint
	allocated := testing.AllocsPerRun(100, func() {
		power.Capacity(benchLoad, power.CommonDerating())
		power.StandbyAutonomy(7, 0.21, 0.9, 0.25, power.CommonDerating())
		power.BS5839Battery(0.25, 24, 0.75, 12)
		power.Find(list, power.Query{Standard: power.EN50131, Grade: 3, Supply: power.TypeA})
		power.PeukertHours(7, 20, 0.6, 1.15)
		power.RechargeHours(7, 0.8, 0.75, 0.2, power.ChargeEfficiency)
		table.StateOfCharge(power.Reading{Volts: 12.5, RestHours: 5, Temperature: 18})
		power.CapacityFactor(factors, 5)
		power.SealedFloat().At(5)
		power.CommonLimits().Judge(0.5, 0.03, 0.02)
		benchDuty.Life(benchCell)
		d.Curve(points[:])
	})
	if allocated != 0 {
		t.Errorf("%v allocations", allocated)
	}
}
