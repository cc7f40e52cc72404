package power

import (
	"cmp"

	"ferrule/knowledge/units"
)

// Load is what the battery carries while the mains is off: the standby current
// and then, at the end, the alarm.
type Load struct {
	Standby      float64 // A
	StandbyHours float64
	Alarm        float64 // A
	AlarmHours   float64
}

// AmpereHours returns the charge that the load takes, in Ah, before any margin:
// I_standby T + I_alarm t_alarm. A negative or unreal quantity, and a charge
// beyond all numbers, is a *units.OutOfRange.
//
// SOURCE: product of current and time.
func (l Load) AmpereHours() (float64, error) {
	if err := cmp.Or(units.Within(qStandby, l.Standby, "A", 0, inf), units.Within(qHours, l.StandbyHours, "h", 0, inf),
		units.Within(qAlarm, l.Alarm, "A", 0, inf), units.Within(qAlarmHours, l.AlarmHours, "h", 0, inf)); err != nil {
		return 0, err
	}
	return finite("charge that the load takes", l.Standby*l.StandbyHours+l.Alarm*l.AlarmHours, "Ah")
}

// Derating is what remains of the capacity on the label, in shares above 0 and
// at most 1.
type Derating struct {
	Ageing      float64 // of the capacity when new
	Temperature float64 // by the cold, as from [CapacityFactor]
	Usable      float64 // before the deep-discharge protection disconnects, or the state of charge
}

// CommonDerating returns a battery at the end of its life, at room temperature,
// used up to its rated end voltage: 0.8, 1, 1.
//
// SOURCE: common practice, no source: a standby battery is replaced at 80 % of
// its capacity.
func CommonDerating() Derating { return Derating{Ageing: 0.8, Temperature: 1, Usable: 1} }

func (d Derating) share() (float64, error) {
	if err := cmp.Or(part("share left by ageing", d.Ageing), part("share left by temperature", d.Temperature), part("usable share", d.Usable)); err != nil {
		return 0, err
	}
	share := d.Ageing * d.Temperature * d.Usable
	return share, units.Above("share of the capacity that is left", share, "", 0)
}

// Capacity returns the capacity that a load needs on the label, in Ah:
// (I_standby T + I_alarm t_alarm) / (ageing temperature usable). A quantity out
// of its range, or a result beyond all numbers, is a *units.OutOfRange.
//
// SOURCE: common practice, no source.
func Capacity(l Load, d Derating) (float64, error) {
	charge, err := l.AmpereHours()
	if err != nil {
		return 0, err
	}
	share, err := d.share()
	if err != nil {
		return 0, err
	}
	return finite("capacity needed", charge/share, "Ah")
}

// Autonomy is how long a battery lasts.
type Autonomy struct {
	Hours        float64 // of standby, before the alarm
	Available    float64 // Ah left after derating
	Reserve      float64 // Ah kept for the alarm
	AlarmCarried bool    // false: the battery can't even carry the alarm, and Hours is 0
}

// StandbyAutonomy returns how long a battery of a capacity in Ah feeds a
// measured standby current in A, with enough left for an alarm current in A
// over so many hours: (capacity ageing temperature usable - I_alarm t_alarm) /
// I_standby. A quantity out of its range, a current of 0 among them, or a
// result beyond all numbers, is a *units.OutOfRange.
//
// SOURCE: common practice, no source; it is [Capacity] solved for the time.
func StandbyAutonomy(capacity, standby, alarm, alarmHours float64, d Derating) (Autonomy, error) {
	if err := cmp.Or(units.Above(qCapacity, capacity, "Ah", 0), units.Above(qStandby, standby, "A", 0),
		units.Within(qAlarm, alarm, "A", 0, inf), units.Within(qAlarmHours, alarmHours, "h", 0, inf)); err != nil {
		return Autonomy{}, err
	}
	share, err := d.share()
	if err != nil {
		return Autonomy{}, err
	}
	a := Autonomy{Available: capacity * share}
	if a.Reserve, err = finite("charge that the alarm takes", alarm*alarmHours, "Ah"); err != nil {
		return Autonomy{}, err
	}
	if a.AlarmCarried = a.Reserve <= a.Available; !a.AlarmCarried {
		return a, nil
	}
	if a.Hours, err = finite("autonomy", (a.Available-a.Reserve)/standby, "h"); err != nil {
		return Autonomy{}, err
	}
	return a, nil
}
