package cable

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"ferrule/knowledge/units"
)

// Class is the build of a conductor in the tables of maximum resistance.
type Class uint8

// The classes, by their numbers in IEC 60228.
const (
	Class1 Class = 1 // solid
	Class5 Class = 5 // flexible
)

// size is a row of the tables: maxima in ohm/km at 20 °C, 0 where the table
// used has none.
type size struct {
	area                 float64 // mm2
	solid, plain, tinned float64
}

// sizes holds IEC 60228, tables A.1 and A.2 (class 1, plain) and table 3 (class
// 5, plain and tinned), and the bunched conductor of 0.22 mm2 of the extract of
// DIN VDE 0295.
var sizes = [...]size{
	{0.22, 0, 96, 99},
	{0.5, 36.0, 39.0, 40.1},
	{0.75, 24.5, 26.0, 26.7},
	{1.0, 18.1, 19.5, 20.0},
	{1.5, 12.1, 13.3, 13.7},
	{2.5, 7.41, 7.98, 8.21},
}

const (
	// nearSize is how far the sum of the strands may be from the nominal section
	// whose maximum it keeps. 16/0.2, sold as 0.5 mm2, has 0.503. Common
	// practice, no source.
	nearSize = 0.01

	// finestWire is the thickest wire in mm of a flexible conductor up to 2.5
	// mm2; of thicker ones another class holds. Source: IEC 60228 table 3, from
	// memory.
	finestWire = 0.26
)

func (s *size) maximum(c Class, m Material) float64 {
	switch {
	case c == Class1 && m == Copper:
		return s.solid
	case c == Class5 && m == Copper:
		return s.plain
	case c == Class5 && m == TinnedCopper:
		return s.tinned
	}
	return 0
}

// greatest returns the maximum in ohm/m, 0 when the tables have none.
func greatest(c Class, area float64, m Material, near float64) float64 {
	for i := range sizes {
		if math.Abs(area-sizes[i].area) <= near*sizes[i].area {
			return sizes[i].maximum(c, m) / 1000
		}
	}
	return 0
}

// Listed returns the conductor of a class and a nominal section in mm2 from the
// tables of maximum resistance: class 1 plain and class 5 plain or tinned from
// 0.5 to 2.5 mm2, and, as class 5, the bunched conductor of 0.22 mm2. Its own
// resistance is the nominal one of OfArea, Greatest gives the maximum. Sources:
// IEC 60228 tables A.1, A.2 and 3; for 0.22 mm2 DIN VDE 0295 (extract). It fails
// with a *NotListed, in which errors.As finds a *units.OutOfRange.
func Listed(c Class, area float64, m Material) (Conductor, error) {
	most := greatest(c, area, m, 0)
	if most == 0 {
		return Conductor{}, notListed(c, area, m)
	}
	conductor, err := ofArea(area, m)
	conductor.most = most
	if c == Class1 {
		conductor.strands = 1
	}
	return conductor, err
}

// NotListed says that the tables of maximum resistance have no row for a
// conductor.
type NotListed struct {
	Class    Class
	Material Material
	Area     float64   // mm2
	Areas    []float64 // that are listed for the class and the material
}

func notListed(c Class, area float64, m Material) error {
	e := &NotListed{Class: c, Material: m, Area: area}
	for i := range sizes {
		if sizes[i].maximum(c, m) > 0 {
			e.Areas = append(e.Areas, sizes[i].area)
		}
	}
	return e
}

func (e *NotListed) Error() string {
	if len(e.Areas) == 0 {
		return fmt.Sprintf("class %d of this material is in no table; write its section alone", e.Class)
	}
	listed := make([]string, len(e.Areas))
	for i, a := range e.Areas {
		listed[i] = strconv.FormatFloat(a, 'g', 6, 64)
	}
	return fmt.Sprintf("section of the conductor is %.6g mm2; class %d has %s mm2", e.Area, e.Class, strings.Join(listed, ", "))
}

// Unwrap gives the refusal without the list.
func (e *NotListed) Unwrap() error {
	if len(e.Areas) == 0 {
		return &units.OutOfRange{Quantity: "class of the conductor", Value: float64(e.Class), Low: float64(Class1), High: float64(Class5)}
	}
	return &units.OutOfRange{Quantity: "section of the conductor", Value: e.Area, Unit: "mm2", Low: e.Areas[0], High: e.Areas[len(e.Areas)-1]}
}
