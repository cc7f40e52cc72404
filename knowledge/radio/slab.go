package radio

import (
	"math"
	"math/cmplx"

	"ferrule/knowledge/units"
)

// OpaqueLoss is the loss in dB at which a wall counts as opaque: 1e-20 of the
// power. No radio of the trade hears what comes through; what arrives behind such
// a wall came another way. Our setting, no source.
const OpaqueLoss = 200

// Passage is what a wall does to a wave that meets it at right angles.
type Passage struct {
	Transmission float64 // dB lost on the way through, at most OpaqueLoss
	Reflection   float64 // dB by which the reflected wave is weaker, at most OpaqueLoss
	Opaque       bool    // Transmission is OpaqueLoss or more
}

func passage(t, r complex128) Passage {
	p := Passage{Transmission: weaker(t), Reflection: weaker(r)}
	p.Opaque = p.Transmission >= OpaqueLoss
	return p
}

// weaker returns the dB of a coefficient of fields, between 0 and OpaqueLoss. It
// rises above 1 by rounding alone.
func weaker(x complex128) float64 {
	size := cmplx.Abs(x)
	if !(size > 1e-10) {
		return OpaqueLoss
	}
	return max(0, -20*math.Log10(size))
}

func inThickness(metres float64) error {
	return units.Within("thickness of the layer", metres, "m", 1e-9, 10)
}

// Slab returns what a plain slab of a material, thickness in metres, does to a wave
// at right angles; there both polarisations are alike. Thin slabs ripple: a thicker
// one may let more through.
//
// Errors: *units.OutOfRange for a thickness outside 1 nm to 10 m, and as
// Material.Permittivity has.
//
// Source: ITU-R P.2040-3, the equations for a single slab (43a for the reflection).
func Slab(m Material, hz, thickness float64) (Passage, error) {
	if err := inThickness(thickness); err != nil {
		return Passage{}, err
	}
	eta, err := m.Permittivity(hz)
	if err != nil {
		return Passage{}, err
	}
	n := cmplx.Sqrt(eta)
	face := (1 - n) / (1 + n)
	once := travel(n, hz, thickness)
	twice := once * once
	echo := 1 - face*face*twice
	return passage((1-face*face)*once/echo, face*(1-twice)/echo), nil
}

// travel returns exp(-jq), the change of a wave that goes once through a layer of
// index n: never above 1 in size, so a thick metal ends at 0 and not at infinity.
func travel(n complex128, hz, thickness float64) complex128 {
	q := complex(2*math.Pi*hz/speedOfLight*thickness, 0) * n
	return cmplx.Exp(complex(imag(q), -real(q)))
}
