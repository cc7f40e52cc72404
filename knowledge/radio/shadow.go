package radio

import (
	"cmp"
	"math"

	"ferrule/knowledge/units"
)

func inSigma(sigma float64) error {
	return units.Within("standard deviation of the level", sigma, "dB", 0.1, 30)
}

func inShare(share float64) error { return units.Within("share of places", share, "", 1e-12, 1-1e-12) }

func inMargin(margin float64) error { return units.Within("margin", margin, "dB", -1e4, 1e4) }

// Quantile returns the one-sided z of a share: the standard normal variable lies
// below it with that probability. 0.95 gives 1.645, not the 1.96 of an interval.
//
// Errors: *units.OutOfRange for a share outside 1e-12 to 1 - 1e-12.
//
// Source: the normal distribution.
func Quantile(share float64) (float64, error) {
	if err := inShare(share); err != nil {
		return 0, err
	}
	if share > 0.5 {
		return math.Sqrt2 * math.Erfcinv(2*(1-share)), nil
	}
	return -math.Sqrt2 * math.Erfcinv(2*share), nil
}

// normal is the distribution function of the standard normal variable.
func normal(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }

// FadeMargin returns the dB by which the mean level must exceed a wanted one so
// that the share of places, at that distance, exceeds it too: z sigma.
//
// Errors: *units.OutOfRange for a share as in Quantile and a sigma outside 0.1 to
// 30 dB.
//
// Source: log-normal shadowing, one-sided.
func FadeMargin(sigma, share float64) (float64, error) {
	if err := inSigma(sigma); err != nil {
		return 0, err
	}
	z, err := Quantile(share)
	return z * sigma, err
}

// ShareAbove returns the share of places, at one distance, whose level exceeds the
// wanted one when the mean lies above that by a margin in dB.
//
// Errors: *units.OutOfRange for a margin outside -1e4 to 1e4 dB and a sigma outside
// 0.1 to 30 dB.
//
// Source: log-normal shadowing (Rappaport 4.9).
func ShareAbove(margin, sigma float64) (float64, error) {
	if err := cmp.Or(inMargin(margin), inSigma(sigma)); err != nil {
		return 0, err
	}
	return normal(margin / sigma), nil
}

// AreaCoverage returns the share of a disc's area whose level exceeds the wanted
// one, when at the disc's edge the mean lies above it by a margin in dB and the
// level falls with the exponent of distance (2 in free space).
//
// Errors: *units.OutOfRange for a margin outside -1e4 to 1e4 dB, a sigma outside
// 0.1 to 30 dB, an exponent outside 1 to 10.
//
// Source: Jakes; Rappaport 4.9.
func AreaCoverage(margin, sigma, exponent float64) (float64, error) {
	if err := cmp.Or(inMargin(margin), inSigma(sigma), units.Within("exponent of distance", exponent, "", 1, 10)); err != nil {
		return 0, err
	}
	a := -margin / (sigma * math.Sqrt2)
	b := 10 * exponent * math.Log10E / (sigma * math.Sqrt2)
	return min(1, (math.Erfc(a)+scaled(a, b))/2), nil
}

// scaled returns exp((1-2ab)/b^2) (1 - erf((1-ab)/b)). With u = 1/b - a the
// exponent is u^2 - a^2, so that neither factor need overflow.
func scaled(a, b float64) float64 {
	u := 1/b - a
	switch {
	case u < 0:
		return math.Exp((1/b-2*a)/b) * math.Erfc(u)
	case u < 20:
		return math.Exp(-a*a) * math.Exp(u*u) * math.Erfc(u)
	}
	return 0 // 1/b is below 10 in the allowed range, so a is below -10: exp(-a^2) is nothing
}
