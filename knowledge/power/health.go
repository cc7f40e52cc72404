package power

import (
	"cmp"
	"math"

	"ferrule/knowledge/units"
)

const qResistance = "internal resistance"

// InternalResistance returns the resistance inside a battery or cell in ohm,
// from its voltages in V without load and at a current in A: (E - V) / I. A
// voltage under load above the one without, a current of 0, and a result beyond
// all numbers are a *units.OutOfRange.
//
// SOURCE: Ohm's law.
func InternalResistance(noLoad, loaded, current float64) (float64, error) {
	if err := cmp.Or(units.Above("voltage without load", noLoad, "V", 0), units.Within("voltage under load", loaded, "V", 0, noLoad),
		units.Above(qCurrent, current, "A", 0)); err != nil {
		return 0, err
	}
	return finite(qResistance, (noLoad-loaded)/current, "ohm")
}

// VoltageUnderLoad returns the voltage in V at the terminals, from the one
// without load, the internal resistance in ohm and the current in A: E - I R. A
// current larger than a short circuit takes, E / R, is a *units.OutOfRange.
//
// SOURCE: Ohm's law.
func VoltageUnderLoad(noLoad, resistance, current float64) (float64, error) {
	if err := cmp.Or(units.Above("voltage without load", noLoad, "V", 0), units.Within(qResistance, resistance, "ohm", 0, inf),
		units.Within(qCurrent, current, "A", 0, inf)); err != nil {
		return 0, err
	}
	volts := noLoad - current*resistance
	if volts < 0 {
		return 0, units.Within(qCurrent, current, "A", 0, noLoad/resistance)
	}
	return volts, nil
}

// ServiceLife is the life that a battery is rated for and what warmth takes of
// it.
type ServiceLife struct {
	Years     float64 // rated
	Reference float64 // °C for which it is rated
	Halving   float64 // °C above it that halve the life
}

// CommonLife returns the life of a battery rated for so many years: at 20 °C,
// halved by each 10 °C above.
//
// SOURCE: common practice, no source; ratings are given for 20 or 25 °C.
func CommonLife(years float64) ServiceLife {
	return ServiceLife{Years: years, Reference: 20, Halving: 10}
}

// Share returns how much of its rated life a battery has used at an age in
// years, kept at a temperature in °C: age 2^((T - T0)/halving) / rated. Cold
// adds nothing. Above 1 the battery is overdue. A quantity out of its range
// (temperatures: -40 to 60 °C, halving: 1 °C or more), or a result beyond all
// numbers, is a *units.OutOfRange.
//
// SOURCE: common practice, no source.
func (l ServiceLife) Share(age, temperature float64) (float64, error) {
	if err := cmp.Or(units.Above("rated life", l.Years, "years", 0), units.Within("reference temperature", l.Reference, "C", coldest, hottest),
		units.Within("warming that halves the life", l.Halving, "C", 1, inf), units.Within("age of the battery", age, "years", 0, inf),
		units.Within(qTemperature, temperature, "C", coldest, hottest)); err != nil {
		return 0, err
	}
	return finite("share of the rated life", age/l.Years*math.Exp2(max(0, temperature-l.Reference)/l.Halving), "")
}

// Verdict is what to do with a battery.
type Verdict uint8

// From the best to the worst.
const (
	Unknown Verdict = iota // nothing was measured
	Good
	Ageing  // look again at the next visit
	Replace // now
)

// String returns the verdict in a word.
func (v Verdict) String() string {
	switch v {
	case Good:
		return "good"
	case Ageing:
		return "ageing"
	case Replace:
		return "replace"
	}
	return "unknown"
}

// Limits are where the verdict changes.
type Limits struct {
	AgeingLife, ReplaceLife             float64 // share of the rated life
	AgeingResistance, ReplaceResistance float64 // internal resistance over that when new
}

// CommonLimits returns 0.75 and 1 of the rated life, 1.3 and 1.5 times the
// resistance when new.
//
// SOURCE: common practice, no source.
func CommonLimits() Limits {
	return Limits{AgeingLife: 0.75, ReplaceLife: 1, AgeingResistance: 1.3, ReplaceResistance: 1.5}
}

// Health is the verdict and what it rests on.
type Health struct {
	Verdict         Verdict // the worse of the two
	ByLife          Verdict
	ByResistance    Verdict
	ResistanceRatio float64 // 0: not known
}

// Judge weighs the share of the rated life, as from [ServiceLife.Share], and
// the internal resistance in ohm now and when new; with both resistances 0 they
// are not known and don't count. A quantity out of its range, one resistance
// without the other, or limits that don't rise, is a *units.OutOfRange.
//
// SOURCE: common practice, no source.
func (l Limits) Judge(lifeShare, resistance, whenNew float64) (Health, error) {
	if err := cmp.Or(units.Above("limit of life for ageing", l.AgeingLife, "", 0), units.Within("limit of life for replacing", l.ReplaceLife, "", l.AgeingLife, inf),
		units.Within("limit of resistance for ageing", l.AgeingResistance, "", 1, inf),
		units.Within("limit of resistance for replacing", l.ReplaceResistance, "", l.AgeingResistance, inf),
		units.Within("share of the rated life", lifeShare, "", 0, inf)); err != nil {
		return Health{}, err
	}
	h := Health{ByLife: verdict(lifeShare, l.AgeingLife, l.ReplaceLife)}
	if resistance != 0 || whenNew != 0 {
		if err := cmp.Or(units.Above(qResistance, resistance, "ohm", 0), units.Above("internal resistance when new", whenNew, "ohm", 0)); err != nil {
			return Health{}, err
		}
		ratio, err := finite("internal resistance over that when new", resistance/whenNew, "")
		if err != nil {
			return Health{}, err
		}
		h.ResistanceRatio, h.ByResistance = ratio, verdict(ratio, l.AgeingResistance, l.ReplaceResistance)
	}
	h.Verdict = max(h.ByLife, h.ByResistance)
	return h, nil
}

func verdict(x, ageing, replace float64) Verdict {
	switch {
	case x >= replace:
		return Replace
	case x >= ageing:
		return Ageing
	}
	return Good
}
