package power_test

import (
	"errors"
	"math"
	"reflect"
	"testing"

	"ferrule/knowledge/power"
	"ferrule/knowledge/units"
)

// sound wants a refusal of one of the two types, or results that are numbers.
func sound(t *testing.T, result any, err error) {
	t.Helper()
	var out *units.OutOfRange
	var never *power.NeverCharges
	switch {
	case err == nil:
		numbers(t, reflect.ValueOf(result))
	case !errors.As(err, &out) && !errors.As(err, &never):
		t.Fatalf("%T: %v", err, err)
	case err.Error() == "":
		t.Fatal("a refusal without words")
	}
}

func numbers(t *testing.T, v reflect.Value) {
	t.Helper()
	switch v.Kind() {
	case reflect.Float64:
		if x := v.Float(); math.IsNaN(x) || math.IsInf(x, 0) {
			t.Fatalf("result %v", x)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			numbers(t, v.Field(i))
		}
	case reflect.Slice:
		for i := range v.Len() {
			numbers(t, v.Index(i))
		}
	}
}

// Each call of the refusal table takes raw numbers; beside them, the results
// are looked at.
func FuzzPower(f *testing.F) {
	f.Add(0.25, 24.0, 0.75, 0.5, 0.8, 0.9, 1.0, 7.0, 20.0, 3)
	f.Add(7.0, 20.0, 1.2, 0.05, 0.5, 0.4, 1.0, 10.5, 12.6, 2)
	f.Add(12.8, 0.1, 2.0, 1.5, 0.3, 5.0, 0.7, -10.0, 30.0, 4)
	f.Add(math.MaxFloat64, 5e-324, math.MaxFloat64, 1.0, 1.0, 1.0, 1.0, 2.0, 1e-300, 2022)
	f.Add(math.NaN(), math.Inf(1), math.Inf(-1), -1.0, 0.0, math.Copysign(0, -1), 1e308, -1e308, 1e-308, -1)
	f.Fuzz(func(t *testing.T, a, b, c, d, e, g, h, i, j float64, n int) {
		x := []float64{a, b, c, d, e, g, h, i, j, a, b, c, d}
		for _, call := range calls {
			y := x[:len(call.good)]
			if len(y) > 8 && call.name == "Discharge" {
				continue // makes a slice of that length
			}
			sound(t, nil, call.call(y))
		}
		fuzzStandby(t, x, n)
		fuzzState(t, x, n)
		fuzzCell(t, x)
	})
}

func fuzzStandby(t *testing.T, x []float64, n int) {
	r, err := power.Find(power.StandbyTimes(), power.Query{Standard: power.EN50131, Grade: n, Supply: power.SupplyType(n), Year: n})
	sound(t, r, err)
	m, err := power.NFPA72Margin(power.NFPA72Margins(), n)
	sound(t, m, err)
	ah, err := power.Capacity(load(x), derating(x[4:]))
	sound(t, ah, err)
	a, err := power.StandbyAutonomy(x[7], x[0], x[2], x[3], derating(x[4:]))
	sound(t, a, err)
	b, err := power.BS5839Capacity(x[0], x[1], x[2])
	sound(t, b, err)
	v, err := power.BS5839Battery(x[0], x[1], x[2], x[7])
	sound(t, v, err)
	ah, err = power.NFPA72Capacity(load(x), x[8])
	sound(t, ah, err)
	h, err := power.PeukertHours(x[0], x[1], x[3], x[2])
	sound(t, h, err)
	h, err = power.PeukertCapacity(x[0], x[1], x[3], x[2])
	sound(t, h, err)
	h, err = power.PeukertHoursAtOneAmpere(x[0], x[1], x[2])
	sound(t, h, err)
	h, err = power.PeukertExponent(x[0], x[1], x[2], x[3])
	sound(t, h, err)
	h, err = power.ChargeCurrent(x[0], x[6], x[1], x[4])
	sound(t, h, err)
	h, err = power.RechargeHours(x[0], x[6], x[1], x[3], x[4])
	sound(t, h, err)
}

func fuzzState(t *testing.T, x []float64, n int) {
	for _, table := range []power.OCVTable{power.FloodedOCV(), power.SealedOCV(),
		{Cells: n, Low: x[6], High: x[7], RestHours: x[5], Points: []power.OCVPoint{{Share: 0, Volts: x[0]}, {Share: x[1], Volts: x[2]}, {Share: 1, Volts: x[3]}}}} {
		volts, err := table.Volts(x[4])
		sound(t, volts, err)
		s, err := table.StateOfCharge(power.Reading{Volts: x[8], RestHours: x[1], Temperature: x[7]})
		sound(t, s, err)
		d := power.Discharge{OCV: table, Capacity: x[0], RateHours: x[1], Exponent: x[2], Resistance: x[3], Rise: x[4], Current: x[5], Start: x[6], CutOff: x[7]}
		var points [7]power.CurvePoint
		end, err := d.Curve(points[:])
		sound(t, end, err)
		sound(t, points[:], err)
		for i := range points[1:] {
			if err == nil && points[i+1].Volts > points[i].Volts {
				t.Fatalf("the voltage rises: %+v", points)
			}
		}
	}
	v, err := power.Float{Volts: x[0], Temperature: x[8], Cells: n, PerCell: x[4]}.At(x[7])
	sound(t, v, err)
	v, err = power.CapacityFactor(power.LeadAcidFactors(), x[7])
	sound(t, v, err)
	v, err = power.CapacityFactor([]power.FactorPoint{{Temperature: x[7], Factor: x[4]}, {Temperature: x[8], Factor: x[6]}}, x[0])
	sound(t, v, err)
	v, err = power.InternalResistance(x[0], x[1], x[2])
	sound(t, v, err)
	v, err = power.VoltageUnderLoad(x[0], x[1], x[2])
	sound(t, v, err)
	v, err = power.ServiceLife{Years: x[0], Reference: x[7], Halving: x[1]}.Share(x[2], x[8])
	sound(t, v, err)
	health, err := power.Limits{AgeingLife: x[4], ReplaceLife: x[6], AgeingResistance: x[0], ReplaceResistance: x[1]}.Judge(x[2], x[3], x[5])
	sound(t, health, err)
}

func fuzzCell(t *testing.T, x []float64) {
	c := power.Cell{Capacity: x[7], Usable: x[6], SelfDischarge: x[4]}
	l, err := duty(x).Life(c)
	sound(t, l, err)
	change, err := duty(x).ChangeInterval(c, x[1])
	sound(t, change, err)
	u, err := power.CellResistance{Ohms: x[1], Reference: x[8], Growth: x[2]}.Under(x[0], x[3], x[7], x[5])
	sound(t, u, err)
}
