package radio_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"ferrule/knowledge/radio"
)

// usable are the substances that have a fit near 868 MHz.
var usable = []radio.Substance{
	radio.Concrete, radio.Brick, radio.Plasterboard, radio.Wood, radio.Glass, radio.CeilingBoard, radio.Chipboard, radio.Plywood, radio.Marble,
}

func anyMaterial(t *rapid.T) radio.Material {
	m, err := radio.P2040Rev3(rapid.SampledFrom(usable).Draw(t, "substance"))
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func anyHz(t *rapid.T) float64 { return rapid.Float64Range(300e6, 6e9).Draw(t, "hz") }

// anyLayer draws no mesh: whether one is refused depends on what stands beside it.
func anyLayer(t *rapid.T) radio.Layer {
	m, d := anyMaterial(t), rapid.Float64Range(1e-4, 0.4).Draw(t, "thickness")
	switch rapid.IntRange(0, 5).Draw(t, "kind") {
	case 0, 1:
		return radio.Solid(m, d)
	case 2:
		return radio.Damp(m, d, rapid.Float64Range(0, 0.4).Draw(t, "moisture"), radio.FreshWater())
	case 3:
		return radio.Gap(d)
	case 4:
		return radio.Foil(rapid.Float64Range(1, 1e8).Draw(t, "conductivity"), rapid.Float64Range(1e-9, 1e-4).Draw(t, "foil"))
	}
	return radio.Coating(rapid.Float64Range(0.01, 1e5).Draw(t, "ohms"))
}

func stackOf(t *rapid.T, hz float64, layers ...radio.Layer) radio.Passage {
	p, err := radio.Stack(hz, layers...)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func share(dB float64) float64 { return math.Pow(10, -dB/10) }

func agree(t *rapid.T, what string, a, b, within float64) {
	if !(math.Abs(a-b) <= within) {
		t.Fatalf("%s: %v and %v", what, a, b)
	}
}

// One layer is the slab, however it is cut.
func TestStackOfOneIsSlab(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, hz, d := anyMaterial(t), anyHz(t), rapid.Float64Range(1e-3, 1).Draw(t, "thickness")
		cut := rapid.Float64Range(0.01, 0.99).Draw(t, "cut") * d
		slab, err := radio.Slab(m, hz, d)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range []radio.Passage{stackOf(t, hz, radio.Solid(m, d)), stackOf(t, hz, radio.Solid(m, cut), radio.Solid(m, d-cut))} {
			agree(t, "transmitted", share(p.Transmission), share(slab.Transmission), 1e-12)
			agree(t, "transmission", p.Transmission, slab.Transmission, 1e-8)
			agree(t, "reflected", share(p.Reflection), share(slab.Reflection), 1e-12)
		}
	})
}

// A wall lets through the same from both sides, and never gives more than it got.
func TestStackIsReciprocalAndPassive(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		hz := anyHz(t)
		layers := rapid.SliceOfN(rapid.Custom(anyLayer), 1, 6).Draw(t, "layers")
		back := make([]radio.Layer, len(layers))
		for i, l := range layers {
			back[len(layers)-1-i] = l
		}
		p, q := stackOf(t, hz, layers...), stackOf(t, hz, back...)
		agree(t, "the two ways", p.Transmission, q.Transmission, 1e-7)
		for _, x := range []radio.Passage{p, q} {
			if sum := share(x.Transmission) + share(x.Reflection); sum > 1+1e-9 {
				t.Fatalf("%+v: %v of the power", x, sum)
			}
			if x.Opaque != (x.Transmission >= radio.OpaqueLoss) {
				t.Fatalf("%+v", x)
			}
		}
	})
}

// What no layer takes is let through or thrown back.
func TestLosslessKeepsPower(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		hz := rapid.Float64Range(500e6, 2e9).Draw(t, "hz")
		a := rapid.Float64Range(1, 12).Draw(t, "permittivity")
		m := radio.Material{A: a, LowHz: 1e8, HighHz: 1e10}
		d := rapid.Float64Range(1e-3, 0.5).Draw(t, "thickness")
		spacing := rapid.Float64Range(1e-3, 0.04).Draw(t, "spacing")
		r := radio.Reinforced(m, d, spacing, spacing/rapid.Float64Range(12, 100).Draw(t, "thinness"))
		p := stackOf(t, hz, r[:]...)
		agree(t, "power", share(p.Transmission)+share(p.Reflection), 1, 1e-9)
	})
}

// What is taken away leaves no trace: no water, no conductance, a mesh of the finest
// wire, a gap between nothing.
func TestLimits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, hz, d := anyMaterial(t), anyHz(t), rapid.Float64Range(1e-3, 0.4).Draw(t, "thickness")
		dry := stackOf(t, hz, radio.Solid(m, d))
		agree(t, "no water", stackOf(t, hz, radio.Damp(m, d, 0, radio.FreshWater())).Transmission, dry.Transmission, 1e-9)
		agree(t, "no coating", stackOf(t, hz, radio.Solid(m, d), radio.Coating(1e6)).Transmission, dry.Transmission, 4e-3)
		agree(t, "air around", stackOf(t, hz, radio.Gap(0.3), radio.Solid(m, d), radio.Gap(1)).Transmission, dry.Transmission, 1e-8)
		agree(t, "air", stackOf(t, hz, radio.Gap(d)).Transmission, 0, 1e-9)
		agree(t, "air reflects", stackOf(t, hz, radio.Gap(d)).Reflection, radio.OpaqueLoss, 0)
	})
}

// A foil far thinner than its skin depth is a coating of 1/(sigma t), and what such
// a sheet keeps off is 20 log10(1 + Z0 sigma t/2), as textbooks on screening have it.
func TestThinFoil(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		hz := rapid.Float64Range(300e6, 3e9).Draw(t, "hz")
		sigma := rapid.Float64Range(1e5, 1e7).Draw(t, "conductivity")
		skin := math.Sqrt(1 / (math.Pi * hz * 4e-7 * math.Pi * sigma))
		thin := skin / 100
		p := stackOf(t, hz, radio.Foil(sigma, thin))
		agree(t, "coating", p.Transmission, stackOf(t, hz, radio.Coating(1/(sigma*thin))).Transmission, 1e-3)
		agree(t, "textbook", p.Transmission, 20*math.Log10(1+376.73*sigma*thin/2), 1e-3)
	})
}

// A grid alone in the air: |T|^2 = 4 X^2/(1 + 4 X^2) with X in units of free space,
// from MacFarlane's reflection coefficient -1/(1 + 2jX) (1946).
func TestMeshAlone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		hz, spacing := anyHz(t), rapid.Float64Range(3e-3, 0.045).Draw(t, "spacing")
		radius := spacing / rapid.Float64Range(10, 1000).Draw(t, "thinness")
		x := spacing * hz / 299792458 * math.Log(spacing/(2*math.Pi*radius))
		p := stackOf(t, hz, radio.Mesh(spacing, radius))
		agree(t, "reflected", share(p.Reflection), 1/(1+4*x*x), 1e-9)
		agree(t, "transmitted", share(p.Transmission), 4*x*x/(1+4*x*x), 1e-9)
		closer := stackOf(t, hz, radio.Mesh(spacing/2, radius/2))
		if closer.Transmission < p.Transmission {
			t.Fatalf("a closer mesh lets more through: %v, %v", closer, p)
		}
	})
}

// Thin slabs ripple; past several wavelengths of a lossy material and at steps of
// half a wave in it, more of it is never better.
func TestThickerLossySlab(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, hz := anyMaterial(t), anyHz(t)
		eta, err := m.Permittivity(hz)
		if err != nil {
			t.Fatal(err)
		}
		if -imag(eta) < 0.05*real(eta) {
			t.Skip("hardly any loss: the ripple wins")
		}
		half := 299792458 / hz / math.Sqrt(real(eta)) / 2
		n := float64(rapid.IntRange(4, 12).Draw(t, "halves"))
		thin, errThin := radio.Slab(m, hz, n*half)
		thick, errThick := radio.Slab(m, hz, (n+1)*half)
		if errThin != nil || errThick != nil {
			t.Skip("too thick")
		}
		if thick.Transmission <= thin.Transmission && !thin.Opaque {
			t.Fatalf("%+v, thicker %+v", thin, thick)
		}
	})
}

// Water, foil and bars each tell a wall from a plain one. The figures that this is
// about are those of reference.csv; here only that each is worse.
func TestWallsAreToldApart(t *testing.T) {
	brick, concrete, board := rev3(t, radio.Brick), rev3(t, radio.Concrete), rev3(t, radio.Plasterboard)
	loss := func(layers ...radio.Layer) float64 {
		p, err := radio.Stack(868e6, layers...)
		if err != nil {
			t.Fatal(err)
		}
		return p.Transmission
	}
	if dry, wet := loss(radio.Solid(brick, 0.1)), loss(radio.Damp(brick, 0.1, 0.1, radio.FreshWater())); wet < dry+1 {
		t.Errorf("wet %v dB, dry %v dB", wet, dry)
	}
	if plain, backed := loss(radio.Solid(board, 0.0125)), loss(radio.Solid(board, 0.0125), radio.Foil(3.5e7, 9e-6)); backed < plain+60 {
		t.Errorf("foil-backed %v dB, plain %v dB", backed, plain)
	}
	bars := radio.Reinforced(concrete, 0.2, 0.05, 0.003)
	if plain, reinforced := loss(radio.Solid(concrete, 0.2)), loss(bars[:]...); reinforced < plain+1 {
		t.Errorf("reinforced %v dB, plain %v dB", reinforced, plain)
	}
}
