package power

import (
	"cmp"
	"math"

	"ferrule/knowledge/units"
)

const (
	qExponent = "Peukert exponent"
	qRate     = "time of the rated discharge"

	maxExponent = 2 // the largest that a public page gives for any battery
)

// ExponentRange is what a type of battery commonly has.
type ExponentRange struct {
	Low, High float64
	Source    Source
}

// FloodedExponent returns the range for flooded lead-acid batteries, 1.1 to 1.25.
//
// SOURCE: a public page; another gives 1.2 to 2.
func FloodedExponent() ExponentRange {
	return ExponentRange{1.1, 1.25, Source{"public page on Peukert's law; pages differ", WeakPage}}
}

// SealedExponent returns the range for sealed batteries with a glass mat, 1.05
// to 1.15.
//
// SOURCE: a public page; another gives 1.2 to 2 for lead-acid.
func SealedExponent() ExponentRange {
	return ExponentRange{1.05, 1.15, Source{"public page on Peukert's law; pages differ", WeakPage}}
}

// PeukertHours returns how long a battery lasts at a current in A, in hours:
// t = H (C/(I H))^k, for a capacity C in Ah that holds for a discharge in H
// hours. Below the current C/H it gives more than the label, where nothing
// supports it. A quantity out of its range (k: 1 to 2), or a result beyond all
// numbers, is a *units.OutOfRange.
//
// SOURCE: textbook form, from memory; the figures recompute.
func PeukertHours(capacity, rateHours, current, k float64) (float64, error) {
	if err := peukertCheck(capacity, rateHours, current, k); err != nil {
		return 0, err
	}
	return finite("time of the discharge", rateHours*math.Pow(capacity/(current*rateHours), k), "h")
}

// PeukertCapacity returns the charge that a battery gives at a current in A, in
// Ah: I t with t as [PeukertHours] has it, C (C/(I H))^(k-1), with the same
// limits and errors.
//
// SOURCE: textbook form, from memory; the figures recompute.
func PeukertCapacity(capacity, rateHours, current, k float64) (float64, error) {
	if err := peukertCheck(capacity, rateHours, current, k); err != nil {
		return 0, err
	}
	return finite("charge that the battery gives", capacity*math.Pow(capacity/(current*rateHours), k-1), "Ah")
}

func peukertCheck(capacity, rateHours, current, k float64) error {
	return cmp.Or(units.Above(qCapacity, capacity, "Ah", 0), units.Above(qRate, rateHours, "h", 0),
		units.Above(qCurrent, current, "A", 0), units.Within(qExponent, k, "", 1, maxExponent))
}

// PeukertHoursAtOneAmpere returns how long a battery lasts at a current in A,
// in hours, by the older form t = C_p / I^k: C_p in Ah is the capacity at 1 A,
// which is not the one on the label. Errors as in [PeukertHours].
//
// SOURCE: a public article, 100 Ah, k = 1.2, 5 A: 14.5 h.
func PeukertHoursAtOneAmpere(capacity, current, k float64) (float64, error) {
	if err := cmp.Or(units.Above("capacity at 1 A", capacity, "Ah", 0), units.Above(qCurrent, current, "A", 0),
		units.Within(qExponent, k, "", 1, maxExponent)); err != nil {
		return 0, err
	}
	return finite("time of the discharge", capacity/math.Pow(current, k), "h")
}

// PeukertExponent returns k from two discharges to the same end voltage, each
// with its current in A and its time in hours:
// k = (log t2 - log t1) / (log I1 - log I2). A quantity out of its range, equal
// currents, and an exponent outside 1 to 2 (then the discharges don't belong
// together) are a *units.OutOfRange.
//
// SOURCE: textbook, from memory; it is the law solved for k.
func PeukertExponent(current1, hours1, current2, hours2 float64) (float64, error) {
	if err := cmp.Or(units.Above("first current", current1, "A", 0), units.Above("first time", hours1, "h", 0),
		units.Above("second current", current2, "A", 0), units.Above("second time", hours2, "h", 0)); err != nil {
		return 0, err
	}
	// Which is first does not matter to the law.
	span := math.Abs(math.Log(current1) - math.Log(current2))
	if err := units.Above("ratio of the larger current to the smaller", math.Exp(span), "", 1); err != nil {
		return 0, err
	}
	k := (math.Log(hours2) - math.Log(hours1)) / (math.Log(current1) - math.Log(current2))
	// Rounding must not refuse the ends of the range.
	if bound := min(max(k, 1), maxExponent); math.Abs(k-bound) < 1e-9 {
		k = bound
	}
	if err := units.Within(qExponent, k, "", 1, maxExponent); err != nil {
		return 0, err
	}
	return k, nil
}
