package radio

import (
	"cmp"
	"math"
	"strings"

	"ferrule/knowledge/units"
)

// Substance is a building material that ITU-R P.2040 knows.
type Substance uint8

// The substances. The two high ones are rows of their own at 220 to 450 GHz.
const (
	Concrete Substance = iota + 1
	Brick
	Plasterboard
	Wood
	Glass
	GlassHigh
	CeilingBoard
	CeilingBoardHigh
	Chipboard
	Plywood
	Marble
	Floorboard
	Metal
)

var substances = [...]string{
	Concrete: "concrete", Brick: "brick", Plasterboard: "plasterboard", Wood: "wood", Glass: "glass", GlassHigh: "glass (high)",
	CeilingBoard: "ceiling board", CeilingBoardHigh: "ceiling board (high)", Chipboard: "chipboard", Plywood: "plywood",
	Marble: "marble", Floorboard: "floorboard", Metal: "metal",
}

func (s Substance) String() string {
	if s == 0 || int(s) >= len(substances) {
		return "unknown substance"
	}
	return substances[s]
}

// SubstanceByName returns a substance by its English name, in any case.
func SubstanceByName(name string) (Substance, bool) {
	for s := Concrete; s <= Metal; s++ {
		if strings.EqualFold(name, substances[s]) {
			return s, true
		}
	}
	return 0, false
}

// Material gives a substance's permittivity over frequency: the real part is
// A f^B, the conductivity C f^D in S/m, f in GHz. Own fits may be made.
type Material struct {
	A, B, C, D    float64
	LowHz, HighHz float64 // the range for which the fit is stated
	Strict        bool    // of no use outside that range
}

const ghz = 1e9

var rev1 = [...]Material{
	Concrete:     {5.31, 0, 0.0326, 0.8095, 1 * ghz, 100 * ghz, false},
	Brick:        {3.75, 0, 0.038, 0, 1 * ghz, 10 * ghz, false},
	Plasterboard: {2.94, 0, 0.0116, 0.7076, 1 * ghz, 100 * ghz, false},
	Wood:         {1.99, 0, 0.0047, 1.0718, 0.001 * ghz, 100 * ghz, false},
	Glass:        {6.27, 0, 0.0043, 1.1925, 0.1 * ghz, 100 * ghz, false},
	CeilingBoard: {1.50, 0, 0.0005, 1.1634, 1 * ghz, 100 * ghz, false},
	Chipboard:    {2.58, 0, 0.0217, 0.78, 1 * ghz, 100 * ghz, false},
	Floorboard:   {3.66, 0, 0.0044, 1.3515, 50 * ghz, 100 * ghz, true},
	Metal:        {1, 0, 1e7, 0, 1 * ghz, 100 * ghz, false},
}

var rev3 = [...]Material{
	Concrete:         {5.24, 0, 0.0462, 0.7822, 1 * ghz, 100 * ghz, false},
	Brick:            {3.91, 0, 0.0238, 0.16, 1 * ghz, 40 * ghz, false},
	Plasterboard:     {2.73, 0, 0.0085, 0.9395, 1 * ghz, 100 * ghz, false},
	Wood:             {1.99, 0, 0.0047, 1.0718, 0.001 * ghz, 100 * ghz, false},
	Glass:            {6.31, 0, 0.0036, 1.3394, 0.1 * ghz, 100 * ghz, false},
	GlassHigh:        {5.79, 0, 0.0004, 1.658, 220 * ghz, 450 * ghz, true},
	CeilingBoard:     {1.48, 0, 0.0011, 1.0750, 1 * ghz, 100 * ghz, false},
	CeilingBoardHigh: {1.52, 0, 0.0029, 1.029, 220 * ghz, 450 * ghz, true},
	Chipboard:        {2.58, 0, 0.0217, 0.78, 1 * ghz, 100 * ghz, false},
	Plywood:          {2.71, 0, 0.33, 0, 1 * ghz, 40 * ghz, false},
	Marble:           {7.074, 0, 0.0055, 0.9262, 1 * ghz, 60 * ghz, false},
	Floorboard:       {3.66, 0, 0.0044, 1.3515, 50 * ghz, 100 * ghz, true},
	Metal:            {1, 0, 1e7, 0, 1 * ghz, 100 * ghz, false},
}

// P2040Rev3 returns a substance's fit in ITU-R P.2040-3 (-2 has the same). At
// 868 MHz 100 mm of brick has 1.3 dB less by it than by P.2040-1, 200 mm of concrete
// 1.7 dB more.
//
// Errors: *units.OutOfRange for a substance that is not in the table.
//
// Source: ITU-R P.2040-3, table 3, by public copies of it.
func P2040Rev3(s Substance) (Material, error) { return row(rev3[:], s) }

// P2040Rev1 returns a substance's fit in ITU-R P.2040-1, which has no plywood, no
// marble and no high rows.
//
// Errors: *units.OutOfRange for a substance that is not in the table.
//
// Source: ITU-R P.2040-1 (07/2015), table 3; the digits from memory, its results at
// 9 GHz by a public page.
func P2040Rev1(s Substance) (Material, error) { return row(rev1[:], s) }

func row(table []Material, s Substance) (Material, error) {
	if s == 0 || int(s) >= len(table) || table[s].A == 0 {
		return Material{}, &units.OutOfRange{Quantity: "place of the substance in the table", Value: float64(s), Low: float64(Concrete), High: float64(Metal)}
	}
	return table[s], nil
}

// beyond is how far outside its stated range a fit is still used: down to a quarter
// of the lower limit and up to four times the upper one. Our setting, no source; it
// lets concrete answer at 433 and 868 MHz.
const beyond = 4

// Extrapolated says whether a frequency in hertz lies outside the range for which
// the fit is stated. At 868 MHz that is so for concrete, brick, plasterboard,
// ceiling board, chipboard and metal, not for wood and glass.
func (m Material) Extrapolated(hz float64) bool { return !(hz >= m.LowHz && hz <= m.HighHz) }

// Permittivity returns the complex relative permittivity at a frequency in hertz,
// its imaginary part 0 or negative: A f^B - j C f^D / (2 pi f eps0).
//
// Errors: *units.OutOfRange for a frequency more than a factor of 4 outside the
// stated range, or outside it at all where the fit is strict (floorboard is for 50
// to 100 GHz only); and for a fit whose real part falls outside 1 to 1e4 or whose
// conductivity falls outside 0 to 1e9 S/m.
//
// Source: ITU-R P.2040, equations of table 3.
func (m Material) Permittivity(hz float64) (complex128, error) {
	low, high := m.LowHz/beyond, m.HighHz*beyond
	if m.Strict {
		low, high = m.LowHz, m.HighHz
	}
	if err := cmp.Or(inRadio(hz), units.Within("frequency for this material", hz, "Hz", low, high)); err != nil {
		return 0, err
	}
	re, sigma := power(m.A, m.B, hz), power(m.C, m.D, hz)
	if err := cmp.Or(
		units.Within("permittivity of the material", re, "", 1, 1e4),
		units.Within("conductivity of the material", sigma, "S/m", 0, 1e9),
	); err != nil {
		return 0, err
	}
	return permittivity(re, sigma, hz), nil
}

func permittivity(re, conductivity, hz float64) complex128 {
	return complex(re, -conductivity/(2*math.Pi*hz*vacuumPermittivity))
}

func power(a, b, hz float64) float64 {
	if b == 0 {
		return a
	}
	return a * math.Pow(hz/ghz, b)
}
