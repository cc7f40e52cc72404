package radio

import (
	"cmp"
	"math"
	"math/cmplx"

	"ferrule/knowledge/units"
)

type layerKind uint8

const (
	solid layerKind = iota + 1
	damp
	gap
	foil
	coating
	mesh
)

// Layer is one layer of a wall, or a sheet between two. The functions that return
// one check nothing; Stack does.
type Layer struct {
	kind      layerKind
	material  Material
	thickness float64
	moisture  float64
	water     Water
	// conductivity of a foil, ohms per square of a coating, spacing of a mesh
	x      float64
	radius float64
}

// Solid is a layer of a dry material, thickness in metres.
func Solid(m Material, thickness float64) Layer {
	return Layer{kind: solid, material: m, thickness: thickness}
}

// Damp is a layer of a material whose pores hold water: moisture is the water's
// share of the volume, 0 to 0.4.
//
// Source: complex refractive index mixing, common practice in ground radar; here
// the water takes the place of air, n = n_dry + w (n_water - 1).
func Damp(m Material, thickness, moisture float64, w Water) Layer {
	return Layer{kind: damp, material: m, thickness: thickness, moisture: moisture, water: w}
}

// Gap is a layer of air, thickness in metres.
func Gap(thickness float64) Layer { return Layer{kind: gap, thickness: thickness} }

// Foil is a layer of metal by its conductivity in S/m (aluminium has about 3.5e7,
// from memory) and its thickness in metres.
func Foil(conductivity, thickness float64) Layer {
	return Layer{kind: foil, x: conductivity, thickness: thickness}
}

// Coating is a sheet without thickness by its resistance in ohms per square, such
// as the coating of glass that keeps heat in (some ohms, from memory). It stands
// across the wave as a conductance.
func Coating(ohmsPerSquare float64) Layer { return Layer{kind: coating, x: ohmsPerSquare} }

// Mesh is a grid of wires or bars by their spacing and radius in metres, with
// crossings that are joined, as in reinforced concrete. It stands across the wave
// as a reactance, j Z0 (a/lambda) ln(a/(2 pi r)).
//
// Source: MacFarlane 1946 for a grid of parallel wires much closer than a
// wavelength, the form of Marcuvitz's handbook too (from memory); a bonded square
// mesh meets each polarisation alike (from memory).
func Mesh(spacing, radius float64) Layer { return Layer{kind: mesh, x: spacing, radius: radius} }

// Reinforced is a slab of a material with a mesh in its middle.
func Reinforced(m Material, thickness, spacing, radius float64) [3]Layer {
	return [3]Layer{Solid(m, thickness/2), Mesh(spacing, radius), Solid(m, thickness/2)}
}

// Water gives the permittivity of water by one relaxation and a conductivity.
type Water struct {
	Static, Infinite float64 // permittivity far below and far above the relaxation
	RelaxationHz     float64
	Conductivity     float64 // S/m
}

// FreshWater returns water at 20 °C: 80.1, 4.9 and 17.2 GHz (Ulaby and Long 2014,
// by a public copy of the fit), with 0.05 S/m, as tap water may have (common
// practice, no source).
func FreshWater() Water {
	return Water{Static: 80.1, Infinite: 4.9, RelaxationHz: 17.2e9, Conductivity: 0.05}
}

// Permittivity returns the complex relative permittivity of the water at a
// frequency in hertz.
//
// Errors: *units.OutOfRange for a frequency outside 3 kHz to 3000 GHz, a
// permittivity outside 1 to 200 or one that rises with frequency, a relaxation
// outside 1 GHz to 1000 GHz, a conductivity outside 0 to 10 S/m.
//
// Source: Debye's form.
func (w Water) Permittivity(hz float64) (complex128, error) {
	if err := cmp.Or(
		inRadio(hz),
		units.Within("static permittivity of the water", w.Static, "", 1, 200),
		units.Within("permittivity of the water at high frequency", w.Infinite, "", 1, min(w.Static, 200)),
		units.Within("relaxation frequency of the water", w.RelaxationHz, "Hz", 1e9, 1e12),
		units.Within("conductivity of the water", w.Conductivity, "S/m", 0, 10),
	); err != nil {
		return 0, err
	}
	relaxed := complex(w.Static-w.Infinite, 0) / complex(1, hz/w.RelaxationHz)
	return relaxed + permittivity(w.Infinite, w.Conductivity, hz), nil
}

// index returns the refractive index of a layer's substance; a sheet has that of
// air.
func (l *Layer) index(hz float64) (complex128, error) {
	switch l.kind {
	case solid:
		eta, err := l.material.Permittivity(hz)
		return cmplx.Sqrt(eta), err
	case damp:
		return l.dampIndex(hz)
	case foil:
		err := units.Within("conductivity of the foil", l.x, "S/m", 1, 1e9)
		return cmplx.Sqrt(permittivity(1, l.x, hz)), err
	}
	return 1, nil
}

func (l *Layer) dampIndex(hz float64) (complex128, error) {
	if err := units.Within("share of water in the layer", l.moisture, "", 0, 0.4); err != nil {
		return 0, err
	}
	dry, err := l.material.Permittivity(hz)
	if err != nil {
		return 0, err
	}
	water, err := l.water.Permittivity(hz)
	if err != nil {
		return 0, err
	}
	return cmplx.Sqrt(dry) + complex(l.moisture, 0)*(cmplx.Sqrt(water)-1), nil
}

func (l *Layer) isSheet() bool { return l.kind == coating || l.kind == mesh }

// admittance of a sheet in units of free space; longest is the shortest wavelength
// beside it, from which on a mesh sends waves aside and is no reactance.
func (l *Layer) admittance(hz, longest float64) (complex128, error) {
	if l.kind == coating {
		err := units.Within("sheet resistance of the coating", l.x, "ohm", 1e-3, 1e6)
		return complex(impedance/l.x, 0), err
	}
	if err := cmp.Or(
		units.Within("spacing of the mesh", l.x, "m", 1e-4, longest),
		units.Within("radius of the mesh's wires", l.radius, "m", 1e-6, l.x/10),
	); err != nil {
		return 0, err
	}
	return complex(0, -1/(l.x*hz/speedOfLight*math.Log(l.x/(2*math.Pi*l.radius)))), nil
}

// impedance of free space in ohms.
const impedance = 1 / (vacuumPermittivity * speedOfLight)
