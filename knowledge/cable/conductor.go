package cable

import (
	"math"

	"ferrule/knowledge/units"
)

// Material is what the cores of a cable are made of.
type Material uint8

// The materials. Plain copper is the zero value.
const (
	Copper Material = iota
	TinnedCopper
	CopperCladAluminium
)

const (
	// resistivity of annealed copper at 20 °C in ohm mm2/m. Source: International
	// Annealed Copper Standard, 1/58 (NBS Handbook 100, 1966).
	resistivity = 1.0 / 58

	// cladRatio is the resistance of copper-clad aluminium to that of copper of
	// the same section. Common practice, no source.
	cladRatio = 1.5

	// CopperCoefficient is the rise of the resistance of copper for each degree
	// from 20 °C. Source: NBS Handbook 100, from memory; the conversion of IEC
	// 60228, 254.5/(234.5+t), agrees with it. Tinned copper and copper-clad
	// aluminium are taken to have the same.
	CopperCoefficient = 0.00393
)

const (
	leastArea, mostArea       = 1e-4, 1000.0 // mm2
	mostStrands               = 10000
	leastPerMetre, mostMetres = 1e-6, 1000.0 // ohm/m
)

// Conductor is one core of a cable. Conductors are compared with ==; the zero
// Conductor has no resistance to tell, and every question to it fails.
type Conductor struct {
	area        float64 // mm2, 0 when only the resistance is known
	strands     int     // 1 is solid, 0 is not known
	material    Material
	ohms        float64 // ohm/m at 20 °C
	most        float64 // ohm/m at 20 °C that a standard allows, 0 when there is none
	coefficient float64 // per degree from 20 °C
}

// OfArea returns the conductor of a section in mm2 (0.0001 to 1000) whose
// build isn't known. Its resistance is that of the International Annealed
// Copper Standard, 1/58 ohm mm2/m (NBS Handbook 100), for copper-clad aluminium
// 1.5 times as much (common practice, no source). Its greatest resistance is
// the flexible conductor's, the greater of the classes. It fails with a
// *units.OutOfRange.
func OfArea(area float64, m Material) (Conductor, error) {
	c, err := ofArea(area, m)
	if err == nil {
		c.most = greatest(Class5, area, m, nearSize)
	}
	return c, err
}

func ofArea(area float64, m Material) (Conductor, error) {
	if err := units.Within("section of the conductor", area, "mm2", leastArea, mostArea); err != nil {
		return Conductor{}, err
	}
	if err := units.Within("material of the conductor", float64(m), "", 0, float64(CopperCladAluminium)); err != nil {
		return Conductor{}, err
	}
	c := Conductor{area: area, material: m, ohms: resistivity / area, coefficient: CopperCoefficient}
	if m == CopperCladAluminium {
		c.ohms *= cladRatio
	}
	return c, nil
}

// Stranded returns the conductor of a number of strands (1 to 10000) of a
// diameter in mm: 7/0.2 is Stranded(7, 0.2, Copper). One strand is a solid
// conductor. The section is the sum of the strands', without an allowance for
// their lay (geometry); for the resistance see OfArea. It fails with a
// *units.OutOfRange.
func Stranded(strands int, diameter float64, m Material) (Conductor, error) {
	if err := units.Within("number of strands", float64(strands), "", 1, mostStrands); err != nil {
		return Conductor{}, err
	}
	if err := units.Within("diameter of the strand", diameter, "mm", 0.01, 30); err != nil {
		return Conductor{}, err
	}
	c, err := ofArea(float64(strands)*math.Pi/4*diameter*diameter, m)
	if err != nil {
		return Conductor{}, err
	}
	c.strands = strands
	if strands == 1 {
		c.most = greatest(Class1, c.area, m, nearSize)
	} else if diameter <= finestWire {
		c.most = greatest(Class5, c.area, m, nearSize)
	}
	return c, nil
}

// Solid returns the conductor of one wire of a diameter in mm, as 0.5, 0.6 and
// 0.8 mm telephone cable is named. See Stranded.
func Solid(diameter float64, m Material) (Conductor, error) { return Stranded(1, diameter, m) }

// AWG returns the conductor of an American Wire Gauge number, -3 (written
// 0000 or 4/0) to 56; the section is that of a wire of AWGDiameter, which
// stranded cable of the number has too. For the resistance see OfArea; no standard's maximum is
// known. It fails with a *units.OutOfRange.
func AWG(gauge int, m Material) (Conductor, error) {
	d, err := AWGDiameter(gauge)
	if err != nil {
		return Conductor{}, err
	}
	return ofArea(math.Pi/4*d*d, m)
}

// AWGDiameter returns the diameter in mm of an American Wire Gauge number, -3
// (written 0000 or 4/0) to 56: 0.127 mm times 92^((36-n)/39), from ASTM B258.
// It fails with a *units.OutOfRange.
func AWGDiameter(gauge int) (float64, error) {
	if err := units.Within("gauge number of the conductor", float64(gauge), "", -3, 56); err != nil {
		return 0, err
	}
	return 0.127 * math.Pow(92, float64(36-gauge)/39), nil
}

// OfResistance returns the conductor of which only the resistance of one core
// at 20 °C is known, in ohm/m (1e-6 to 1000), from a data sheet or a
// measurement. It fails with a *units.OutOfRange.
func OfResistance(ohmsPerMetre float64) (Conductor, error) {
	if err := units.Within("resistance of the conductor", ohmsPerMetre, "ohm/m", leastPerMetre, mostMetres); err != nil {
		return Conductor{}, err
	}
	return Conductor{ohms: ohmsPerMetre, coefficient: CopperCoefficient}, nil
}

// Area returns the section in mm2, 0 when only the resistance is known.
func (c Conductor) Area() float64 { return c.area }

// Strands returns the number of strands: 1 for a solid conductor, 0 when it
// isn't known.
func (c Conductor) Strands() int { return c.strands }

// Material returns what the conductor is made of.
func (c Conductor) Material() Material { return c.material }

// Greatest returns the conductor of the greatest resistance that a standard
// allows for this one; false when no maximum is known. Sources: see Listed.
func (c Conductor) Greatest() (Conductor, bool) {
	if c.most == 0 {
		return Conductor{}, false
	}
	c.ohms, c.most = c.most, 0
	return c, true
}

// WithCoefficient returns the conductor with another rise of the resistance for
// each degree from 20 °C than CopperCoefficient, 0 to 0.01. It fails with a
// *units.OutOfRange.
func (c Conductor) WithCoefficient(perDegree float64) (Conductor, error) {
	if err := units.Within("temperature coefficient", perDegree, "", 0, 0.01); err != nil {
		return Conductor{}, err
	}
	c.coefficient = perDegree
	return c, nil
}

// OhmsPerMetre returns the resistance of one metre of one core in ohm/m at a
// temperature of the core in °C, -40 to 90. Sources: the constructor's, and
// TemperatureFactor. It fails with a *units.OutOfRange.
func (c Conductor) OhmsPerMetre(celsius float64) (float64, error) {
	if err := units.Above("resistance of the conductor", c.ohms, "ohm/m", 0); err != nil {
		return 0, err
	}
	factor, err := TemperatureFactor(celsius, c.coefficient)
	return c.ohms * factor, err
}

// TemperatureFactor returns the resistance at a temperature in °C, -40 to 90,
// as a multiple of that at 20 °C: 1 + coefficient (t - 20), with a coefficient of
// 0 to 0.01, of copper CopperCoefficient. Source: NBS Handbook 100, from
// memory; the range is ours. It fails with a *units.OutOfRange.
func TemperatureFactor(celsius, coefficient float64) (float64, error) {
	if err := units.Within("temperature of the cable", celsius, "C", -40, 90); err != nil {
		return 0, err
	}
	if err := units.Within("temperature coefficient", coefficient, "", 0, 0.01); err != nil {
		return 0, err
	}
	return 1 + coefficient*(celsius-20), nil
}
