package calc

import (
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
			{Name: "current", Help: "current of the system at rest", Unit: "A", Words: []string{"rest", "resting", "at rest", "standby", "draws", "draw", "takes"}},
			{Name: "alarm-current", Help: "current of the system in alarm", Unit: "A", larger: true, Words: []string{"alarm", "in alarm", "sounding"}},
			{Name: "charger-current", Help: "current that the charger can give", Unit: "A", Leads: []string{"charger", "charging", "charge"}},
			{Name: "load-current", Help: "current of a load test", Unit: "A", Words: []string{"load current", "test current", "under load"}},
			{Name: "sleep-current", Help: "current of a wireless device asleep", Unit: "uA", flag: true},
			{Name: "send-current", Help: "current of a wireless device while it sends", Unit: "mA", flag: true},
			{Name: "hours", Help: "standby time that is needed", Unit: "h", Words: []string{"standby", "needs", "need"}},
			{Name: "rest-time", Help: "time since charger and load were taken off", Unit: "h", named: true, Before: []string{"after", "rested"}, After: []string{"ago", "after charge", "after charger", "after charging"}},
			{Name: "held", Help: "how long the battery held", Unit: "h", named: true, Words: []string{"held", "lasted", "ran", "gave"}},
			{Name: "alarm-time", Help: "how long the alarm lasts", Unit: "min", named: true, own: true, Words: []string{"alarm", "in alarm", "sounding"}, Before: []string{"for"}},
			{Name: "send-time", Help: "how long one report takes", Unit: "s", flag: true},
			{Name: "send-interval", Help: "time between two reports", Unit: "min", flag: true},
			{Name: "grade", Help: "security grade of the system; 1 to 4", whole: true, Leads: []string{"grade"}},
			{Name: "volts", Help: "voltage at rest; hours after the charger was taken off", Unit: "V", Words: []string{"rest", "at rest", "rested", "resting"}},
			{Name: "loaded-volts", Help: "voltage under a load", Unit: "V", Words: []string{"under load", "loaded"}, Before: []string{"under"}},
			{Name: "nominal", Help: "nominal voltage of the battery", Unit: "V", flag: true},
			{Name: "age", Help: "age of the battery in years", Words: []string{"years", "year", "yrs", "years old", "year old"}},
			{Name: "temperature", Help: "temperature of the battery", Unit: "C"},
			{Name: "state", Help: "state of the battery; on charge, where the charger is on", Choices: []Choice{{"on charge", []string{
				"on charge", "with charger on", "charger on", "charger connected", "with charger connected", "while charging", "being charged", "on float", "charging",
			}}}},
		},
		claim:   claimBattery,
		another: cellKind,
		idle:    []string{"battery", "batteries", "cell", "cells", "system", "old", "aged", "age", "load", "current", "time", "panel", "hours", "sealed", "lead", "acid", "measured", "volts", "voltage", "capacity", "test", "of", "security", "needed", "nominal", "type", "siren"},
		work:    workBattery,
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
	if in.has("held") && (!in.has("capacity") || !in.has("current")) {
		return nil, &Missing{"capacity and the current as well", "17 Ah, 480 mA, held 2 h"}
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
	capacity, current := in.numbers["capacity"], in.numbers["current"]
	if capacity > 0 && current*rateHours > capacity {
		left, err := power.PeukertCapacity(capacity, rateHours, current, power.SealedExponent().High)
		if err != nil {
			return d, err
		}
		d.Usable = min(1, left/capacity)
		in.assume("left of the capacity at this current", Show(100*d.Usable, "%"), peukertSource)
	}
	return d, nil
}

// The rate for which a label holds, and what is left at a higher one.
const (
	rateHours     = 20
	peukertSource = "Peukert's law, textbook form from memory; 1.15 for sealed batteries, a public page"
)

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
	s.step("capacity left when old", "label x ageing x cold x rate", old.Available, "Ah", habit)
	if old.Reserve > 0 {
		s.step("kept for the alarm", "alarm current x alarm time", old.Reserve, "Ah", "charge is current x time")
	}
	s.step("lasts when old", "(left - kept) / current", old.Hours, "h", "charge is current x time")
	if d.Usable < 1 {
		s.step("lasts when new", "(label x (label / (20 h x current))^(1.15 - 1) x cold - kept) / current", young.Hours, "h", peukertSource)
	} else {
		s.step("lasts when new", "(label x cold - kept) / current", young.Hours, "h", "charge is current x time")
	}
	if !old.AlarmCarried {
		s.say(fmt.Sprintf("%s can't even carry the alarm when the battery is old.", Show(capacity, "Ah")))
	} else {
		s.say(fmt.Sprintf("%s carry %s for %s when the battery is old, %s when it is new.", Show(capacity, "Ah"), Show(current, "A"), Show(old.Hours, "h"), Show(young.Hours, "h")))
	}
	if held, ok := in.numbers["held"]; ok {
		if held < old.Hours {
			s.say(fmt.Sprintf("It held %s of the %s that even an old one should: worn, not full, or more is drawn.", Show(held, "h"), Show(old.Hours, "h")))
		} else {
			s.say(fmt.Sprintf("It held %s: no less than an old one should.", Show(held, "h")))
		}
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
	what := fmt.Sprintf("%s over %s", Show(in.numbers["current"], "A"), Show(hours, "h"))
	verb := "needs"
	if alarm > 0 {
		what += fmt.Sprintf(" and %s of alarm over %s", Show(alarm, "A"), Show(minutes, "min"))
		verb = "need"
	}
	s.step("capacity needed on the label", "(current x hours + alarm current x alarm time) / (ageing x cold x rate)", needed, "Ah", habit)
	capacity, given := in.numbers["capacity"]
	switch {
	case !given:
		s.say(fmt.Sprintf("%s %s %s on the label.", what, verb, Show(needed, "Ah")))
	case capacity < needed:
		s.say(fmt.Sprintf("Too small: %s %s %s on the label, and there are %s.", what, verb, Show(needed, "Ah"), Show(capacity, "Ah")))
	default:
		s.say(fmt.Sprintf("Large enough: %s %s %s on the label.", what, verb, Show(needed, "Ah")))
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
