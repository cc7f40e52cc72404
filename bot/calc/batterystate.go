package calc

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"ferrule/knowledge/power"
	"ferrule/knowledge/units"
)

func recharge(in *Input, s *Sheet) (bool, error) {
	charger, ok := in.numbers["charger-current"]
	if !ok || !in.has("capacity") {
		return false, nil
	}
	const share = 0.8
	hours, err := power.RechargeHours(in.numbers["capacity"], share, charger, in.numbers["current"], power.ChargeEfficiency)
	if never := (*power.NeverCharges)(nil); errors.As(err, &never) {
		s.say(fmt.Sprintf("The battery never charges: the charger gives %s, and the system takes %s.", Show(never.Charger, "A"), Show(never.Load, "A")))
		return true, nil
	}
	if err != nil {
		return false, err
	}
	in.assume("of the charge put in that comes out again", Show(100*power.ChargeEfficiency, "%"), habit)
	s.step("recharge to 80 %", "80 % x capacity / ((charger - load) x efficiency)", hours, "h", habit)
	text := fmt.Sprintf("An empty battery is at 80 %% after %s", Show(hours, "h"))
	if load := in.numbers["current"]; load > 0 {
		text += fmt.Sprintf("; the %s of the system are taken off the charger's %s", Show(load, "A"), Show(charger, "A"))
	} else {
		in.assume("current of the system while it charges", Show(0, "A"), "none was given")
	}
	s.say(text + ".")
	grade, ok := in.numbers["grade"]
	if !ok {
		return true, nil
	}
	r, err := power.Find(power.RechargeTimes(), power.Query{Standard: power.EN50131, Grade: int(grade), Supply: power.TypeA})
	if err != nil {
		return false, err
	}
	s.step("recharge time allowed", "", r.Hours, "h", fmt.Sprintf("%s (%s)", r.Source.Text, r.Source.Sure))
	how := "within"
	if hours > r.Hours {
		how = "longer than"
	}
	s.say(fmt.Sprintf("That is %s the %s that grade %s asks for (%s).", how, Show(r.Hours, "h"), Show(grade, ""), r.Source.Sure))
	return true, nil
}

func howFull(in *Input, s *Sheet) (bool, error) {
	volts, ok := in.numbers["volts"]
	if !ok || in.has("sleep-current") {
		return false, nil
	}
	blocks, err := in.blocks(volts)
	if err != nil {
		return false, err
	}
	if in.choices["state"] == "on charge" {
		for i := range in.given {
			if in.given[i].Name == "voltage at rest" {
				in.given[i].Name = "voltage while it is charged"
			}
		}
		s.say(fmt.Sprintf("%s while it is charged is the charger's voltage and says nothing of the charge: measure some hours after the charger was taken off.", Show(volts, "V")))
		return true, nil
	}
	celsius := in.or("temperature", "temperature of the battery", 20, "C", habit)
	lead := power.HandbookOCV()
	rested, said := in.numbers["rest-time"]
	if !said {
		rested = lead.RestHours
	}
	full, err := lead.StateOfCharge(power.Reading{Volts: volts / blocks, RestHours: rested, Temperature: celsius})
	if err != nil {
		return false, err
	}
	if blocks > 1 {
		in.assume("battery of 24 V", "two of 12 V in series, each with half the voltage", habit)
	}
	s.step("charge by voltage at rest", "table of "+lead.Name, 100*full.Share, "%", "table that handbooks commonly print, from memory; other tables differ by a tenth")
	s.say(fmt.Sprintf("%s at rest is about %s full.", Show(volts, "V"), Show(100*full.Share, "%")))
	switch {
	case full.Beyond && full.Share > 0.5:
		s.say("That is more than the table has for a full one: was the charger off for some hours?")
	case full.Beyond:
		s.say("That is less than the table has for an empty one: charge it and test it, or replace it.")
	}
	if full.Unrested {
		s.say(fmt.Sprintf("After %s it has not rested long enough: the table wants %s without charger and load.", Show(rested, "h"), Show(lead.RestHours, "h")))
	}
	return true, nil
}

func howWorn(in *Input, s *Sheet) (bool, error) {
	age, aged := in.numbers["age"]
	loaded, tested := in.numbers["loaded-volts"]
	current, hasCurrent := in.numbers["load-current"]
	rest, hasRest := in.numbers["volts"]
	if (tested || hasCurrent) && !(tested && hasCurrent && hasRest) {
		return false, &Missing{"voltage at rest, the voltage under load and the current of the load test", "12.4 V at rest, 11.2 V under load, 2 A load current"}
	}
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
	verdict := "it is good"
	switch health.Verdict {
	case power.Ageing:
		verdict = "it is ageing, look again at the next visit"
	case power.Replace:
		verdict = "it is due to be replaced"
	}
	s.say(fmt.Sprintf("By its age %s: %s of its life is used.", verdict, Show(100*used, "%")))
	return true, nil
}

// blocks is how many batteries of 12 V a voltage is of: two from 20 V on. Where
// no lead-acid battery is, it is refused.
func (in *Input) blocks(volts float64) (float64, error) {
	if in.numbers["nominal"] == 24 || !in.has("nominal") && volts >= 20 {
		return 2, units.Within("voltage of the battery", volts, "V", 16, 30)
	}
	return 1, units.Within("voltage of the battery", volts, "V", 8, 15)
}

// claimBattery takes several batteries together, and 12 V beside a capacity for
// what is printed on the label.
func claimBattery(in *Input, w *words) error {
	in.quiet = !slices.ContainsFunc(*w, func(b bit) bool { return b.Text == "alarm" || b.Text == "sounding" })
	for i := range *w {
		p := &(*w)[i]
		if !p.Number || !slices.Contains(p.Units, units.AmpereHour) && !slices.Contains(p.Units, units.MilliampereHour) {
			continue
		}
		for _, beside := range []int{w.number(i, -1), w.number(i, 1)} {
			if err := in.claimNominal(*w, beside); err != nil {
				return err
			}
		}
		if n := w.batteries(i); n > 1 && !slices.ContainsFunc(*w, func(b bit) bool { return b.Text == "series" }) {
			p.Low, p.High = p.Low*n, p.High*n
			in.assume("capacities of the batteries", "added up, as side by side", habit)
		}
	}
	return nil
}

// number is the place of the next number in a direction; -1 for none.
func (w words) number(i, step int) int {
	for i += step; i >= 0 && i < len(w); i += step {
		if w[i].Number {
			return i
		}
	}
	return -1
}

// claimNominal takes a number for the nominal voltage, unless it is written with
// a point, or its own words say that it was measured.
func (in *Input) claimNominal(w words, i int) error {
	if i < 0 || w[i].used || in.has("nominal") || !slices.Contains(w[i].Units, units.Volt) || w[i].Low != 12 && w[i].Low != 24 || len(w[i].Units) != 1 {
		return nil
	}
	for _, c := range w[i].written {
		if c == '.' || c == ',' {
			return nil
		}
	}
	for n := i + 1; n < len(w) && !w[n].Apart && !w[n].Number; n++ {
		if slices.Contains([]string{"rest", "resting", "rested", "under", "loaded", "charge", "charger", "charging", "measured"}, w[n].Text) {
			return nil
		}
	}
	w[i].used = true
	k := slices.IndexFunc(in.kind.Fields, func(f Field) bool { return f.Name == "nominal" })
	return in.put(&in.kind.Fields[k], w[i].Low)
}

// batteries is how many there are of a capacity: two 17 Ah, 2 x 7 Ah, two
// batteries of 17 Ah; 1 where it was not said.
func (w words) batteries(i int) float64 {
	at := i - 1
	for at >= 0 && slices.Contains([]string{"x", "of", "batteries", "each", "times"}, w[at].Text) {
		at--
	}
	if at >= 0 && w[at].Number && w[at].used && len(w[at].Units) > 0 {
		at-- // two 12 V 17 Ah
	}
	if at < 0 || w[at+1].Apart || !w[at].Number || w[at].used || len(w[at].Units) > 0 || w.text(at-1) == "grade" {
		return 1
	}
	n := w[at].Low
	if n != math.Trunc(n) || n < 2 || n > 12 || w[at].High != n {
		return 1
	}
	w.use(at, i)
	return n
}
