package radio

import (
	"cmp"
	"ferrule/knowledge/units"
)

const mostLayers = 32

// chain is the transfer (ABCD) matrix of a stack in units of the impedance of free
// space, with exp(jq) of every layer taken out, so that an opaque layer does not
// overflow; once holds the product of what was taken out, inverted.
type chain struct{ a, b, c, d, once complex128 }

// Stack returns what a wall of layers does to a wave at right angles to it. The
// order does not matter for the transmission, and does for the reflection: the
// wave meets the first layer first.
//
// A mesh beside which the wave is shorter than the mesh's spacing is refused: it
// no longer works as the reactance that Mesh means. In concrete a wave of 868 MHz is
// 151 mm long, so a mesh of 200 mm has no answer here.
//
// Errors: *units.OutOfRange for no layer or more than 32, and for a quantity of a
// layer outside what its function says; a foil's or solid's thickness is 1 nm to
// 10 m, a mesh's spacing 0.1 mm or more, its wire's radius 1 um to a tenth of the
// spacing, a coating 1 mohm to 1 Mohm per square.
//
// Source: transfer matrices of layers, textbook; for one layer it is Slab.
func Stack(hz float64, layers ...Layer) (Passage, error) {
	if err := cmp.Or(inRadio(hz), units.Within("number of layers", float64(len(layers)), "", 1, mostLayers)); err != nil {
		return Passage{}, err
	}
	all := chain{a: 1, d: 1, once: 1}
	for i := range layers {
		if err := all.add(hz, layers, i); err != nil {
			return Passage{}, err
		}
	}
	sum := all.a + all.b + all.c + all.d
	return passage(2*all.once/sum, (all.a+all.b-all.c-all.d)/sum), nil
}

func (m *chain) add(hz float64, layers []Layer, i int) error {
	l := &layers[i]
	if l.kind < solid || l.kind > mesh {
		return units.Within("kind of the layer", float64(l.kind), "", float64(solid), float64(mesh))
	}
	if l.isSheet() {
		short, err := shortest(hz, layers, i)
		if err != nil {
			return err
		}
		y, err := l.admittance(hz, short)
		if err != nil {
			return err
		}
		m.times(1, 0, y, 1)
		return nil
	}
	if err := inThickness(l.thickness); err != nil {
		return err
	}
	n, err := l.index(hz)
	if err != nil {
		return err
	}
	once := travel(n, hz, l.thickness)
	twice := once * once
	m.times((1+twice)/2, (1-twice)/(2*n), (1-twice)*n/2, (1+twice)/2)
	m.once *= once
	return nil
}

func (m *chain) times(a, b, c, d complex128) {
	m.a, m.b, m.c, m.d = m.a*a+m.b*c, m.a*b+m.b*d, m.c*a+m.d*c, m.c*b+m.d*d
}

// shortest returns the shorter of the wavelengths on the two sides of layer i. A
// foil beside it is no medium for waves that go aside.
func shortest(hz float64, layers []Layer, i int) (float64, error) {
	most := 1.0
	for _, j := range [...]int{i - 1, i + 1} {
		if j < 0 || j >= len(layers) || layers[j].kind == foil {
			continue
		}
		n, err := layers[j].index(hz)
		if err != nil {
			return 0, err
		}
		most = max(most, real(n))
	}
	return speedOfLight / hz / most, nil
}
