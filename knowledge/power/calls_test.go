package power_test

import (
	"math"
	"slices"

	"ferrule/knowledge/power"
)

var (
	inf, nan = math.Inf(1), math.NaN()
	unreal   = []float64{nan, inf, -inf}
	negative = slices.Concat([]float64{-1, -1e-9}, unreal) // not below 0
	nothing  = slices.Concat([]float64{0, -1}, unreal)     // above 0
	noPart   = slices.Concat([]float64{0, -0.5, 1.01}, unreal)
	noShare  = slices.Concat([]float64{-0.01, 1.01}, unreal)
	noDegree = slices.Concat([]float64{-300, 300}, unreal)
	noFactor = slices.Concat([]float64{0, 0.99}, unreal) // not below 1
	noPower  = slices.Concat([]float64{0.99, 2.01}, unreal)
)

// quantity is one argument: its name in the refusal and the values that are
// refused.
type quantity struct {
	name string
	bad  []float64
}

// calls takes a good set of arguments for each function and what is wrong for
// each argument.
var calls = []struct {
	name string
	good []float64
	in   []quantity
	call func(x []float64) error
}{
	{"Capacity", []float64{0.2, 12, 1, 0.5, 0.8, 0.9, 1}, []quantity{{"standby current", negative}, {"standby time", negative}, {"alarm current", negative},
		{"alarm time", negative}, {"share left by ageing", noPart}, {"share left by temperature", noPart}, {"usable share", noPart}},
		func(x []float64) error {
			_, err := power.Capacity(load(x), derating(x[4:]))
			return err
		}},
	{"AmpereHours", []float64{0.2, 12, 1, 0.5}, []quantity{{"standby current", negative}, {"standby time", negative}, {"alarm current", negative}, {"alarm time", negative}},
		func(x []float64) error {
			_, err := load(x).AmpereHours()
			return err
		}},
	{"StandbyAutonomy", []float64{7, 0.2, 1, 0.5, 0.8, 0.9, 1}, []quantity{{"capacity of the battery", nothing}, {"standby current", nothing}, {"alarm current", negative},
		{"alarm time", negative}, {"share left by ageing", noPart}, {"share left by temperature", noPart}, {"usable share", noPart}},
		func(x []float64) error {
			_, err := power.StandbyAutonomy(x[0], x[1], x[2], x[3], derating(x[4:]))
			return err
		}},
	{"BS5839Capacity", []float64{0.2, 24, 1}, []quantity{{"standby current", negative}, {"standby time", negative}, {"alarm current", negative}},
		func(x []float64) error {
			_, err := power.BS5839Capacity(x[0], x[1], x[2])
			return err
		}},
	{"BS5839Battery", []float64{0.2, 24, 1, 7}, []quantity{{"standby current", negative}, {"standby time", negative}, {"alarm current", negative}, {"capacity of the battery", nothing}},
		func(x []float64) error {
			_, err := power.BS5839Battery(x[0], x[1], x[2], x[3])
			return err
		}},
	{"NFPA72Capacity", []float64{0.2, 24, 1, 0.1, 1.2}, []quantity{{"standby current", negative}, {"standby time", negative}, {"alarm current", negative}, {"alarm time", negative}, {"margin", noFactor}},
		func(x []float64) error {
			_, err := power.NFPA72Capacity(load(x), x[4])
			return err
		}},
	{"PeukertHours", []float64{7, 20, 1, 1.2}, []quantity{{"capacity of the battery", nothing}, {"time of the rated discharge", nothing}, {"current", nothing}, {"Peukert exponent", noPower}},
		func(x []float64) error {
			_, err := power.PeukertHours(x[0], x[1], x[2], x[3])
			return err
		}},
	{"PeukertCapacity", []float64{7, 20, 1, 1.2}, []quantity{{"capacity of the battery", nothing}, {"time of the rated discharge", nothing}, {"current", nothing}, {"Peukert exponent", noPower}},
		func(x []float64) error {
			_, err := power.PeukertCapacity(x[0], x[1], x[2], x[3])
			return err
		}},
	{"PeukertHoursAtOneAmpere", []float64{7, 1, 1.2}, []quantity{{"capacity at 1 A", nothing}, {"current", nothing}, {"Peukert exponent", noPower}},
		func(x []float64) error {
			_, err := power.PeukertHoursAtOneAmpere(x[0], x[1], x[2])
			return err
		}},
	{"PeukertExponent", []float64{5, 20, 10, 8.7}, []quantity{{"first current", nothing}, {"first time", nothing}, {"second current", nothing}, {"second time", nothing}},
		func(x []float64) error {
			_, err := power.PeukertExponent(x[0], x[1], x[2], x[3])
			return err
		}},
	{"PeukertExponent, equal currents", []float64{5, 20, 10, 8.7}, []quantity{{}, {}, {"ratio of the larger current to the smaller", []float64{5}}, {"Peukert exponent", []float64{15, 1}}},
		func(x []float64) error {
			_, err := power.PeukertExponent(x[0], x[1], x[2], x[3])
			return err
		}},
	{"ChargeCurrent", []float64{7, 0.8, 24, 0.85}, []quantity{{"capacity of the battery", nothing}, {"share of the capacity", noPart}, {"time of the recharge", nothing}, {"charge efficiency", noPart}},
		func(x []float64) error {
			_, err := power.ChargeCurrent(x[0], x[1], x[2], x[3])
			return err
		}},
	{"RechargeHours", []float64{7, 0.8, 0.7, 0.2, 0.85}, []quantity{{"capacity of the battery", nothing}, {"share of the capacity", noPart}, {"current of the charger", nothing}, {"standing load", negative}, {"charge efficiency", noPart}},
		func(x []float64) error {
			_, err := power.RechargeHours(x[0], x[1], x[2], x[3], x[4])
			return err
		}},
	{"Volts", []float64{0.5}, []quantity{{"state of charge", noShare}},
		func(x []float64) error {
			_, err := power.FloodedOCV().Volts(x[0])
			return err
		}},
	{"StateOfCharge", []float64{12.5, 4, 20}, []quantity{{"open-circuit voltage", negative}, {"rest of the battery", negative}, {"temperature of the battery", noDegree}},
		func(x []float64) error {
			_, err := power.FloodedOCV().StateOfCharge(power.Reading{Volts: x[0], RestHours: x[1], Temperature: x[2]})
			return err
		}},
	{"StateOfCharge, table", []float64{0, 12, 0.5, 13, 1, 14, 4, 15, 30, 6}, []quantity{{"first share of the table", slices.Concat([]float64{0.1}, unreal)},
		{"voltage of the table", slices.Concat(nothing, []float64{13})}, {"share of the table", slices.Concat([]float64{0, -1, 1}, unreal)}, {"voltage of the table", slices.Concat(nothing, []float64{12})},
		{"last share of the table", slices.Concat([]float64{0.9}, unreal)}, {"voltage of the table", slices.Concat(nothing, []float64{13, 1e6})}, {"rest of the table", negative},
		{"lowest temperature of the table", unreal}, {"highest temperature of the table", slices.Concat([]float64{14}, unreal)}, {"number of cells", []float64{0, -1, 1e6}}},
		func(x []float64) error {
			table := power.OCVTable{Cells: int(x[9]), RestHours: x[6], Low: x[7], High: x[8], Points: []power.OCVPoint{{Share: x[0], Volts: x[1]}, {Share: x[2], Volts: x[3]}, {Share: x[4], Volts: x[5]}}}
			_, err := table.StateOfCharge(power.Reading{Volts: 12.5, RestHours: 4, Temperature: 20})
			return err
		}},
	{"Float", []float64{13.6, 20, 6, -0.003, 5}, []quantity{{"float voltage", nothing}, {"reference temperature", noDegree}, {"number of cells", []float64{0, -6, 1e6}},
		{"compensation per cell and degree", slices.Concat([]float64{0.003, -0.02}, unreal)}, {"temperature of the battery", noDegree}},
		func(x []float64) error {
			_, err := power.Float{Volts: x[0], Temperature: x[1], Cells: int(x[2]), PerCell: x[3]}.At(x[4])
			return err
		}},
	{"Float, no voltage left", []float64{13.6}, []quantity{{"float voltage", []float64{0.1}}},
		func(x []float64) error {
			_, err := power.Float{Volts: x[0], Temperature: 20, Cells: 6, PerCell: -0.003}.At(60)
			return err
		}},
	{"CapacityFactor", []float64{5}, []quantity{{"temperature of the battery", slices.Concat([]float64{-20.1, 40.1}, unreal)}},
		func(x []float64) error {
			_, err := power.CapacityFactor(power.LeadAcidFactors(), x[0])
			return err
		}},
	{"CapacityFactor, list", []float64{-10, 0.7, 20, 0.9}, []quantity{{"temperature of the list", slices.Concat([]float64{-300, 1e4}, unreal)}, {"factor of the list", slices.Concat([]float64{0, -1, 0.95, 2}, unreal)},
		{"temperature of the list", slices.Concat([]float64{-10, -11}, unreal)}, {"factor of the list", slices.Concat([]float64{0, 0.6, 1.1}, unreal)}},
		func(x []float64) error {
			_, err := power.CapacityFactor([]power.FactorPoint{{Temperature: x[0], Factor: x[1]}, {Temperature: x[2], Factor: x[3]}}, 0)
			return err
		}},
	{"InternalResistance", []float64{12.8, 12.4, 2}, []quantity{{"voltage without load", nothing}, {"voltage under load", slices.Concat([]float64{12.9}, negative)}, {"current", nothing}},
		func(x []float64) error {
			_, err := power.InternalResistance(x[0], x[1], x[2])
			return err
		}},
	{"VoltageUnderLoad", []float64{12.8, 0.1, 2}, []quantity{{"voltage without load", nothing}, {"internal resistance", negative}, {"current", slices.Concat([]float64{129}, negative)}},
		func(x []float64) error {
			_, err := power.VoltageUnderLoad(x[0], x[1], x[2])
			return err
		}},
	{"ServiceLife", []float64{5, 20, 10, 3, 25}, []quantity{{"rated life", nothing}, {"reference temperature", noDegree}, {"warming that halves the life", slices.Concat([]float64{0.5}, nothing)},
		{"age of the battery", negative}, {"temperature of the battery", noDegree}},
		func(x []float64) error {
			_, err := power.ServiceLife{Years: x[0], Reference: x[1], Halving: x[2]}.Share(x[3], x[4])
			return err
		}},
	{"Judge", []float64{0.75, 1, 1.3, 1.5, 0.5, 0.03, 0.02}, []quantity{{"limit of life for ageing", nothing}, {"limit of life for replacing", slices.Concat([]float64{0.7}, unreal)},
		{"limit of resistance for ageing", noFactor}, {"limit of resistance for replacing", slices.Concat([]float64{1.2}, unreal)}, {"share of the rated life", negative},
		{"internal resistance", nothing}, {"internal resistance when new", nothing}},
		func(x []float64) error {
			_, err := power.Limits{AgeingLife: x[0], ReplaceLife: x[1], AgeingResistance: x[2], ReplaceResistance: x[3]}.Judge(x[4], x[5], x[6])
			return err
		}},
	{"Duty.Life", []float64{1e-5, 0.03, 0.02, 60, 0.04, 0.05, 20, 0.05, 1, 2, 1.4, 0.9, 0.02}, []quantity{{"sleep current", negative}, {"current of a report", negative},
		{"duration of a report", negative}, {"interval of the reports", nothing}, {"current of an event", negative}, {"duration of an event", negative}, {"events each day", negative},
		{"current of an alarm", negative}, {"duration of an alarm", negative}, {"alarms each day", negative}, {"capacity of the cell", nothing}, {"usable share", noPart},
		{"self-discharge each year", noShare}},
		func(x []float64) error {
			_, err := duty(x).Life(power.Cell{Capacity: x[10], Usable: x[11], SelfDischarge: x[12]})
			return err
		}},
	{"ChangeInterval", []float64{60}, []quantity{{"interval of the reports", nothing}},
		func(x []float64) error {
			_, err := power.Duty{Sleep: 1e-5, ReportSeconds: 60}.ChangeInterval(power.Cell{Capacity: 1, Usable: 1}, x[0])
			return err
		}},
	{"Duty.Life, always on air", []float64{60}, []quantity{{"time on air each day", []float64{0.01}}},
		func(x []float64) error {
			_, err := power.Duty{Report: power.Pulse{Current: 1e-3, Seconds: 0.02}, ReportSeconds: x[0]}.Life(power.Cell{Capacity: 1, Usable: 1})
			return err
		}},
	{"Duty.Life, uses nothing", []float64{1e-6}, []quantity{{"current that uses up the cell", []float64{0}}},
		func(x []float64) error {
			_, err := power.Duty{Sleep: x[0], ReportSeconds: 60}.Life(power.Cell{Capacity: 1, Usable: 1})
			return err
		}},
	{"CellResistance", []float64{10, 20, 1.5, 3, 0.03, -10, 2.2}, []quantity{{"internal resistance", negative}, {"reference temperature", noDegree}, {"growth of the resistance", slices.Concat([]float64{11}, noFactor)},
		{"open-circuit voltage", nothing}, {"current", negative}, {"temperature of the cell", noDegree}, {"least voltage of the device", negative}},
		func(x []float64) error {
			_, err := power.CellResistance{Ohms: x[0], Reference: x[1], Growth: x[2]}.Under(x[3], x[4], x[5], x[6])
			return err
		}},
	{"Discharge", []float64{7, 20, 1.2, 0.05, 0.5, 0.4, 1, 10.5, 5}, []quantity{{"capacity of the battery", nothing}, {"time of the rated discharge", nothing}, {"Peukert exponent", noPower},
		{"internal resistance", negative}, {"rise of the resistance", slices.Concat([]float64{101}, negative)}, {"current", nothing}, {"state of charge", noPart},
		{"cut-off voltage", slices.Concat([]float64{-1}, unreal)}, {"number of points", []float64{0, 1}}},
		func(x []float64) error {
			_, err := battery(x).Curve(make([]power.CurvePoint, int(x[8])))
			return err
		}},
	{"Discharge, at the end from the beginning", []float64{7, 20, 1.2, 0.05, 0.5, 0.4, 1, 10.5}, []quantity{{}, {}, {}, {"voltage at the beginning of the discharge", []float64{10}}, {}, {"voltage at the beginning of the discharge", []float64{100}}, {},
		{"voltage at the beginning of the discharge", []float64{12.6, 13}}},
		func(x []float64) error {
			_, err := battery(x).End()
			return err
		}},
}

func load(x []float64) power.Load {
	return power.Load{Standby: x[0], StandbyHours: x[1], Alarm: x[2], AlarmHours: x[3]}
}

func duty(x []float64) power.Duty {
	return power.Duty{Sleep: x[0], Report: power.Pulse{Current: x[1], Seconds: x[2]}, ReportSeconds: x[3], Event: power.Pulse{Current: x[4], Seconds: x[5]},
		EventsPerDay: x[6], Alarm: power.Pulse{Current: x[7], Seconds: x[8]}, AlarmsPerDay: x[9]}
}

func battery(x []float64) power.Discharge {
	return power.Discharge{OCV: power.FloodedOCV(), Capacity: x[0], RateHours: x[1], Exponent: x[2], Resistance: x[3], Rise: x[4], Current: x[5], Start: x[6], CutOff: x[7]}
}
