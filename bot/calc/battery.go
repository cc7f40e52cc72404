package calc

import (
	"errors"
	"fmt"

	"ferrule/knowledge/power"
)

func batteryKind() Kind {
	return Kind{
		Name:  "battery",
		Short: "How long a battery lasts, what is needed, how full and how worn it is",
		Long: `Battery works out what the figures allow: with a capacity and a current how long it
lasts; with hours or a grade what capacity is needed; with a charger's current how
long it recharges; with a voltage at rest how full it is; with an age, or a voltage
under load, how worn it is. For the cells of a wireless device give the sleep
current, and a report's current, seconds and interval.`,
		Examples: []string{
			"7 Ah, 350 mA, grade 2, alarm 900 mA for 15 min",
			"17 Ah, 480 mA at rest, needs 24 h, charger 1.2 A",
			"12.4 V at rest, 4 years old, 11.2 V under load at 2 A load current",
			"2.4 Ah cell, 12 uA sleep, 35 mA transmitting 80 ms every 10 min",
		},
		Fields: []Field{
			{Name: "capacity", Help: "capacity on the label", Unit: "Ah"},
			{Name: "current", Help: "current of the system at rest", Unit: "A"},
			{Name: "alarm-current", Help: "current of the system in alarm", Unit: "A", Words: []string{"alarm", "in alarm", "sounding"}},
			{Name: "charger-current", Help: "current that the charger can give", Unit: "A", Words: []string{"charger", "charging", "charge"}},
			{Name: "load-current", Help: "current of a load test", Unit: "A", Words: []string{"load current", "test current"}},
			{Name: "sleep-current", Help: "current of a wireless device asleep", Unit: "uA", named: true, Words: []string{"sleep", "asleep", "sleeping", "quiescent"}},
			{Name: "send-current", Help: "current of a wireless device while it sends", Unit: "mA", named: true, Words: []string{"transmitting", "sending", "sends", "transmit"}},
			{Name: "hours", Help: "standby time that is needed", Unit: "h"},
			{Name: "alarm-time", Help: "how long the alarm lasts", Unit: "min"},
			{Name: "send-time", Help: "how long one report takes", Unit: "s"},
			{Name: "send-interval", Help: "time between two reports", Unit: "min", named: true, Words: []string{"interval"}, Before: []string{"every"}},
			{Name: "grade", Help: "security grade of the system; 1 to 4", Words: []string{"grade"}},
			{Name: "volts", Help: "voltage at rest; hours after the charger was taken off", Unit: "V"},
			{Name: "loaded-volts", Help: "voltage under a load", Unit: "V", Words: []string{"under load", "loaded"}, Before: []string{"under"}},
			{Name: "age", Help: "age of the battery in years", Words: []string{"years", "year", "yrs"}},
			{Name: "temperature", Help: "temperature of the battery", Unit: "C"},
		},
		work: workBattery,
	}
}

func workBattery(in *Input) (*Sheet, error) {
	s := &Sheet{}
	parts := []func(*Input, *Sheet) (bool, error){cellLife, autonomy, capacityFor, recharge, howFull, howWorn}
	any := false
	for _, part := range parts {
		done, err := part(in, s)
		if err != nil {
			return nil, err
		}
		any = any || done
	}
	if !any {
		return nil, &Missing{"capacity and the current, or a voltage", "7 Ah and 350 mA, or 12.4 V at rest"}
	}
	if !in.has("sleep-current") {
		s.Cautions = append(s.Cautions, "Cover the battery's terminals before you work on it; a short burns. Local codes and a licensed person have the last word on standby times.")
	}
	return s, nil
}

// derating is what is left of the label's capacity.
func derating(in *Input) (power.Derating, error) {
	d := power.CommonDerating()
	in.assume("left of the capacity at the end of its life", Show(100*d.Ageing, "%"), habit)
	celsius := in.or("temperature", "temperature of the battery", 20, "C", habit)
	factor, err := power.CapacityFactor(power.LeadAcidFactors(), celsius)
	if err != nil {
		return d, err
	}
	d.Temperature = min(1, factor)
	return d, nil
}

func autonomy(in *Input, s *Sheet) (bool, error) {
	if !in.has("capacity") || !in.has("current") || in.has("sleep-current") {
		return false, nil
	}
	d, err := derating(in)
	if err != nil {
		return false, err
	}
	alarm, minutes := in.alarm()
	capacity, current := in.numbers["capacity"], in.numbers["current"]
	old, err := power.StandbyAutonomy(capacity, current, alarm, minutes/60, d)
	if err != nil {
		return false, err
	}
	fresh := d
	fresh.Ageing = 1
	young, err := power.StandbyAutonomy(capacity, current, alarm, minutes/60, fresh)
	if err != nil {
		return false, err
	}
	s.step("capacity left when old", "label x ageing x cold", old.Available, "Ah", habit)
	if old.Reserve > 0 {
		s.step("kept for the alarm", "alarm current x alarm time", old.Reserve, "Ah", "charge is current x time")
	}
	s.step("lasts when old", "(left - kept) / current", old.Hours, "h", "charge is current x time")
	s.step("lasts when new", "", young.Hours, "h", "charge is current x time")
	if !old.AlarmCarried {
		s.say(fmt.Sprintf("%s can't even carry the alarm when the battery is old.", Show(capacity, "Ah")))
	} else {
		s.say(fmt.Sprintf("%s carry %s for %s when the battery is old, %s when it is new.", Show(capacity, "Ah"), Show(current, "A"), Show(old.Hours, "h"), Show(young.Hours, "h")))
	}
	return true, drawDischarge(s, capacity, current)
}

// alarm returns the alarm's current and its minutes.
func (in *Input) alarm() (amperes, minutes float64) {
	amperes = in.numbers["alarm-current"]
	if amperes > 0 {
		minutes = in.or("alarm-time", "how long the alarm lasts", 15, "min", habit)
	}
	return amperes, minutes
}

func capacityFor(in *Input, s *Sheet) (bool, error) {
	hours, why, err := in.standby()
	if err != nil || hours == 0 || !in.has("current") || in.has("sleep-current") {
		return false, err
	}
	d, err := derating(in)
	if err != nil {
		return false, err
	}
	alarm, minutes := in.alarm()
	needed, err := power.Capacity(power.Load{Standby: in.numbers["current"], StandbyHours: hours, Alarm: alarm, AlarmHours: minutes / 60}, d)
	if err != nil {
		return false, err
	}
	s.step("standby time", "", hours, "h", why)
	s.step("capacity needed on the label", "(current x hours + alarm current x alarm time) / (ageing x cold)", needed, "Ah", habit)
	capacity, given := in.numbers["capacity"]
	switch {
	case !given:
		s.say(fmt.Sprintf("%s over %s needs %s on the label.", Show(in.numbers["current"], "A"), Show(hours, "h"), Show(needed, "Ah")))
	case capacity < needed:
		s.say(fmt.Sprintf("Too small: %s need %s on the label, and there are %s.", Show(hours, "h"), Show(needed, "Ah"), Show(capacity, "Ah")))
	default:
		s.say(fmt.Sprintf("Large enough for %s: that needs %s.", Show(hours, "h"), Show(needed, "Ah")))
	}
	return true, nil
}

// standby is the time that is needed: as said, or by the grade.
func (in *Input) standby() (hours float64, why string, err error) {
	if h, ok := in.numbers["hours"]; ok {
		return h, "as given", nil
	}
	grade, ok := in.numbers["grade"]
	if !ok {
		return 0, "", nil
	}
	r, err := power.Find(power.StandbyTimes(), power.Query{Standard: power.EN50131, Grade: int(grade), Supply: power.TypeA})
	if err != nil {
		return 0, "", err
	}
	in.assume("type of supply", "A, a battery that the system recharges", habit)
	return r.Hours, fmt.Sprintf("%s (%s)", r.Source.Text, r.Source.Sure), nil
}

func recharge(in *Input, s *Sheet) (bool, error) {
	charger, ok := in.numbers["charger-current"]
	if !ok || !in.has("capacity") {
		return false, nil
	}
	const share = 0.8
	hours, err := power.RechargeHours(in.numbers["capacity"], share, charger, in.numbers["current"], power.ChargeEfficiency)
	if never := (*power.NeverCharges)(nil); errors.As(err, &never) {
		s.say("The battery never charges: " + never.Error() + ".")
		return true, nil
	}
	if err != nil {
		return false, err
	}
	in.assume("of the charge put in that comes out again", Show(100*power.ChargeEfficiency, "%"), habit)
	s.step("recharge to 80 %", "80 % x capacity / ((charger - load) x efficiency)", hours, "h", habit)
	s.say(fmt.Sprintf("An empty battery is at 80 %% after %s.", Show(hours, "h")))
	return true, nil
}

func howFull(in *Input, s *Sheet) (bool, error) {
	volts, ok := in.numbers["volts"]
	if !ok || in.has("sleep-current") {
		return false, nil
	}
	celsius := in.or("temperature", "temperature of the battery", 20, "C", habit)
	lead := power.HandbookOCV()
	full, err := lead.StateOfCharge(power.Reading{Volts: volts, RestHours: lead.RestHours, Temperature: celsius})
	if err != nil {
		return false, err
	}
	s.step("charge by voltage at rest", "table of "+lead.Name, 100*full.Share, "%", "table that handbooks commonly print, from memory; other tables differ by a tenth")
	s.say(fmt.Sprintf("%s at rest is about %s full.", Show(volts, "V"), Show(100*full.Share, "%")))
	if full.Beyond {
		s.say("That is beyond the table: was the charger off for some hours?")
	}
	return true, nil
}

func howWorn(in *Input, s *Sheet) (bool, error) {
	age, aged := in.numbers["age"]
	loaded, tested := in.numbers["loaded-volts"]
	current, hasCurrent := in.numbers["load-current"]
	rest, hasRest := in.numbers["volts"]
	tested = tested && hasCurrent && hasRest
	if tested {
		ohms, err := power.InternalResistance(rest, loaded, current)
		if err != nil {
			return false, err
		}
		s.step("resistance inside", "(voltage at rest - under load) / current", 1000*ohms, "mohm", ohmsLaw)
		s.say(fmt.Sprintf("Inside it has %s; compare it with a new one of the kind.", Show(1000*ohms, "mohm")))
	}
	if !aged {
		return tested, nil
	}
	const rated = 5
	in.assume("life that the battery is rated for", "5 years", habit)
	used, err := power.CommonLife(rated).Share(age, in.or("temperature", "temperature of the battery", 20, "C", habit))
	if err != nil {
		return false, err
	}
	health, err := power.CommonLimits().Judge(used, 0, 0)
	if err != nil {
		return false, err
	}
	s.step("life used", "age x 2^((temperature - 20) / 10) / rated life", 100*used, "%", habit)
	s.say(fmt.Sprintf("By its age it is %s: %s of its life is used.", health.Verdict, Show(100*used, "%")))
	return true, nil
}

func cellLife(in *Input, s *Sheet) (bool, error) {
	sleep, ok := in.numbers["sleep-current"]
	if !ok {
		return false, nil
	}
	capacity, err := in.need("capacity", "capacity of the cells", "2.4 Ah")
	if err != nil {
		return false, err
	}
	send := in.or("send-current", "current while it sends", 35, "mA", habit)
	seconds := in.or("send-time", "length of one report", 0.08, "s", habit)
	minutes := in.or("send-interval", "time between two reports", 10, "min", habit)
	const usable, selfDischarge = 0.85, 0.01
	in.assume("of the cells' charge that is usable", "85 %", habit)
	in.assume("lost by itself each year", "1 %", "common practice for lithium cells, no source")
	life, err := power.Duty{
		Sleep: sleep / 1e6, Report: power.Pulse{Current: send / 1000, Seconds: seconds}, ReportSeconds: minutes * 60,
	}.Life(power.Cell{Capacity: capacity, Usable: usable, SelfDischarge: selfDischarge})
	if err != nil {
		return false, err
	}
	s.step("mean current", "sleep + reports a day x current x time", 1e6*life.MeanCurrent, "uA", "charge is current x time")
	s.step("lasts", "usable charge / (mean current + self-discharge)", life.Years, "years", habit)
	s.step("used asleep", "", 100*life.Sleep, "%", "")
	s.step("used by reports", "", 100*life.Reports, "%", "")
	s.step("lost by itself", "", 100*life.SelfDischarge, "%", "")
	s.say(fmt.Sprintf("The cells last about %s, events and alarms not counted.", Show(life.Years, "years")))
	return true, nil
}

// drawDischarge draws how the voltage of a full new battery falls.
func drawDischarge(s *Sheet, capacity, current float64) error {
	d := power.Discharge{
		OCV: power.HandbookOCV(), Capacity: capacity, RateHours: 20, Exponent: power.SealedExponent().High,
		Resistance: 0.2 / capacity, Rise: 1, Current: current, Start: 1,
	}
	points := make([]power.CurvePoint, 60)
	if _, err := d.Curve(points); err != nil {
		return nil // a current that pulls it below its end at once leaves nothing to draw
	}
	line := Series{Name: "voltage under " + Show(current, "A")}
	for _, p := range points {
		line.X, line.Y = append(line.X, p.Hours), append(line.Y, p.Volts)
	}
	s.Chart = &Chart{
		Title: "Discharge of a new battery of " + Show(capacity, "Ah"), X: Axis{"time", "h"}, Y: Axis{"voltage", "V"},
		Series: []Series{line}, Limits: []Limit{{"deep-discharge protection", 6 * power.CutOffPerCell}},
	}
	return nil
}
