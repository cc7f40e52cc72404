package loop

import (
	"math"
	"strconv"

	"ferrule/knowledge/units"
)

// Series is a series of preferred values, by the number of its members in a
// decade.
type Series uint8

// The series for tolerances from 20 % to 5 %.
const (
	E6  Series = 6
	E12 Series = 12
	E24 Series = 24
)

// The members of E24, in tenths; E12 is every second of them and E6 every
// fourth. They are a table: 10^(i/24), rounded, misses eight of them.
// Source: IEC 60063, E24 table.
var e24 = [24]uint64{10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91}

func (s Series) String() string { return "E" + strconv.Itoa(int(s)) }

func (s Series) check() error {
	if s == E6 || s == E12 || s == E24 {
		return nil
	}
	return &units.OutOfRange{Quantity: "members of the series", Value: float64(s), Low: float64(E6), High: float64(E24)}
}

// Tolerance returns the tolerance, plus and minus, in %, that belongs to the
// series: 20, 10 or 5. Another series gives a *units.OutOfRange.
//
// Source: IEC 60063 as told by public tables and from memory; the edition of
// 2015 loosened the tie: parts of 1 % are sold in the values of E24.
func (s Series) Tolerance() (float64, error) {
	switch s {
	case E6:
		return 20, nil
	case E12:
		return 10, nil
	case E24:
		return 5, nil
	}
	return 0, s.check()
}

// Neighbours are the members of a series about a resistance, in ohm. Below and
// Above are the same where the resistance is a member.
type Neighbours struct {
	Below, Above float64
	Nearest      float64 // in ohm, not by ratio; in the middle the lower one
}

// Nearest returns the members of the series about a resistance in ohm. Below
// 0.001 ohm, above 999 G, and for another series it gives a *units.OutOfRange.
//
// Source: IEC 60063, E24 table; E12 and E6 are every second and fourth member
// of it.
func (s Series) Nearest(ohms float64) (Neighbours, error) {
	if err := s.check(); err != nil {
		return Neighbours{}, err
	}
	if err := within(ohms); err != nil {
		return Neighbours{}, err
	}
	decade := int(math.Floor(math.Log10(ohms)))
	switch { // the logarithm may miss a power of ten by its last bit
	case decimalValue(1, decade) > ohms:
		decade--
	case decimalValue(1, decade+1) <= ohms:
		decade++
	}
	step := len(e24) / int(s)
	n := Neighbours{Below: decimalValue(1, decade), Above: decimalValue(1, decade+1)}
	for i := 0; i < len(e24); i += step {
		member := decimalValue(e24[i], decade-1)
		if member <= ohms {
			n.Below = member
		}
		if member >= ohms {
			n.Above = member
			break
		}
	}
	n.Nearest = n.Below
	if n.Above-ohms < ohms-n.Below {
		n.Nearest = n.Above
	}
	return n, nil
}
