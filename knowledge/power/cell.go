package power

import (
	"cmp"
	"math"

	"ferrule/knowledge/units"
)

const (
	daySeconds = 86400
	yearHours  = 365.25 * 24
)

// Pulse is one transmission.
type Pulse struct {
	Current float64 // A on top of the sleep current
	Seconds float64
}

// Duty is what a wireless device does all day.
type Duty struct {
	Sleep         float64 // A, always
	Report        Pulse   // the sign of life for the supervision
	ReportSeconds float64 // between two of them, above 0; for none, leave Report empty
	Event         Pulse   // every other transmission, such as a door that opens
	EventsPerDay  float64
	Alarm         Pulse // with its repetitions
	AlarmsPerDay  float64
}

// Cell is what feeds the device.
type Cell struct {
	Capacity      float64 // Ah on the label
	Usable        float64 // share before the device stops working
	SelfDischarge float64 // share of the label lost each year
}

// CellLife is how long a cell lasts, and what uses it up: the shares of all
// that is used, which add up to 1.
type CellLife struct {
	Years         float64 // of 365.25 days
	MeanCurrent   float64 // A of the device, self-discharge apart
	Sleep         float64
	Reports       float64
	Events        float64
	Alarms        float64
	SelfDischarge float64
}

// Life returns how many years a cell feeds a device. Self-discharge is taken as
// a constant loss, the same each year. A quantity out of its range (usable
// share: above 0 and at most 1; self-discharge: 0 to 1), more time on air than
// the day has, a device that uses nothing, or a result beyond all numbers, is a
// *units.OutOfRange.
//
// SOURCE: sum of currents and times; the constant self-discharge is common
// practice, no source.
func (d Duty) Life(c Cell) (CellLife, error) {
	if err := cmp.Or(d.check(), c.check()); err != nil {
		return CellLife{}, err
	}
	reports := daySeconds / d.ReportSeconds
	if err := units.Within("time on air each day", reports*d.Report.Seconds+d.EventsPerDay*d.Event.Seconds+d.AlarmsPerDay*d.Alarm.Seconds, "s", 0, daySeconds); err != nil {
		return CellLife{}, err
	}
	l := CellLife{Sleep: d.Sleep, Reports: d.Report.mean(reports), Events: d.Event.mean(d.EventsPerDay), Alarms: d.Alarm.mean(d.AlarmsPerDay),
		SelfDischarge: c.Capacity * c.SelfDischarge / yearHours}
	l.MeanCurrent = l.Sleep + l.Reports + l.Events + l.Alarms
	total := l.MeanCurrent + l.SelfDischarge
	if err := units.Above("current that uses up the cell", total, "A", 0); err != nil {
		return CellLife{}, err
	}
	var err error
	if l.Years, err = finite("life of the cell", c.Usable*c.Capacity/total/yearHours, "years"); err != nil {
		return CellLife{}, err
	}
	l.Sleep /= total
	l.Reports /= total
	l.Events /= total
	l.Alarms /= total
	l.SelfDischarge /= total
	return l, nil
}

// mean returns the current of so many pulses a day, spread over the day.
func (p Pulse) mean(perDay float64) float64 { return p.Current * (p.Seconds * perDay / daySeconds) }

func (d *Duty) check() error {
	return cmp.Or(units.Within("sleep current", d.Sleep, "A", 0, inf),
		units.Within("current of a report", d.Report.Current, "A", 0, inf), units.Within("duration of a report", d.Report.Seconds, "s", 0, inf),
		units.Above("interval of the reports", d.ReportSeconds, "s", 0),
		units.Within("current of an event", d.Event.Current, "A", 0, inf), units.Within("duration of an event", d.Event.Seconds, "s", 0, inf),
		units.Within("events each day", d.EventsPerDay, "", 0, inf),
		units.Within("current of an alarm", d.Alarm.Current, "A", 0, inf), units.Within("duration of an alarm", d.Alarm.Seconds, "s", 0, inf),
		units.Within("alarms each day", d.AlarmsPerDay, "", 0, inf))
}

func (c *Cell) check() error {
	return cmp.Or(units.Above("capacity of the cell", c.Capacity, "Ah", 0), part("usable share", c.Usable),
		units.Within("self-discharge each year", c.SelfDischarge, "", 0, 1))
}

// IntervalChange is what another reporting interval does to a cell.
type IntervalChange struct {
	Before, After CellLife
	Years         float64 // gained, or lost if negative
}

// ChangeInterval returns the life of a cell now and with reports every so many
// seconds; errors as in [Duty.Life].
//
// SOURCE: as [Duty.Life].
func (d Duty) ChangeInterval(c Cell, seconds float64) (IntervalChange, error) {
	before, err := d.Life(c)
	if err != nil {
		return IntervalChange{}, err
	}
	d.ReportSeconds = seconds
	after, err := d.Life(c)
	if err != nil {
		return IntervalChange{}, err
	}
	return IntervalChange{Before: before, After: after, Years: after.Years - before.Years}, nil
}

// CellResistance is the internal resistance of a cell and how the cold raises
// it.
type CellResistance struct {
	Ohms      float64
	Reference float64 // °C at which it holds
	Growth    float64 // factor for each 10 °C below; 1: none
}

// CellGrowth is the factor by which the internal resistance of a cell grows for
// each 10 °C colder, as a setting to start from.
//
// SOURCE: common practice, no source; cells differ widely.
const CellGrowth = 1.5

// UnderPulse is what a device sees of its cell while it transmits.
type UnderPulse struct {
	Volts  float64 // 0 where the cell can't give the current at all
	Ohms   float64 // at the temperature
	Resets bool    // below the least voltage of the device
}

// Under returns the voltage in V that is left of an open-circuit voltage in V
// while a device takes a current in A at a temperature in °C, and whether it
// falls below the least voltage in V at which the device works: why a cell
// reads good on the bench and the device resets when it transmits. The
// resistance is R growth^((T0 - T)/10) below the reference and R above it. A
// quantity out of its range (temperatures: -55 to 85 °C, growth: 1 to 10), or a
// resistance beyond all numbers, is a *units.OutOfRange.
//
// SOURCE: Ohm's law; the growth is common practice, no source.
func (r CellResistance) Under(open, current, temperature, least float64) (UnderPulse, error) {
	if err := cmp.Or(units.Within(qResistance, r.Ohms, "ohm", 0, inf), units.Within("reference temperature", r.Reference, "C", -55, 85),
		units.Within("growth of the resistance", r.Growth, "", 1, 10), units.Above("open-circuit voltage", open, "V", 0),
		units.Within(qCurrent, current, "A", 0, inf), units.Within("temperature of the cell", temperature, "C", -55, 85),
		units.Within("least voltage of the device", least, "V", 0, inf)); err != nil {
		return UnderPulse{}, err
	}
	ohms, err := finite(qResistance, r.Ohms*math.Pow(r.Growth, max(0, r.Reference-temperature)/10), "ohm")
	if err != nil {
		return UnderPulse{}, err
	}
	volts := max(0, open-current*ohms)
	return UnderPulse{Volts: volts, Ohms: ohms, Resets: volts < least}, nil
}
