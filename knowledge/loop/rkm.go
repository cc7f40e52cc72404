package loop

import (
	"math"
	"strconv"
	"strings"

	"ferrule/knowledge/units"
)

// Resistor is a resistor as sold: its nominal value in ohm and its tolerance,
// plus and minus, in % of it; 0 where none is said.
type Resistor struct {
	Ohms      float64
	Tolerance float64
}

const (
	leastOhms, mostOhms = 1e-3, 999e9 // what the letters L to G write
	mostTolerance       = 50          // %
)

// Parse reads a resistance as printed on a resistor or as a technician writes
// it: R47, 4R7, 4K7, 4K7K (the last letter is the tolerance), 2k2, 4700, 4.7k,
// 4,7k, 10 kohm, 4.7 MΩ, and any of them followed by a tolerance in %.
//
// Upper case counts: M is a million and K, small too, a thousand. A small m is
// refused with an *AmbiguousError (million or thousandth), and so is 4,700 or
// 4.700 without a letter (4.7 or 4700). What can't be read gives a
// *SyntaxError; a value outside 0.001 ohm to 999 G, zero too, and a tolerance
// above 50 % a *units.OutOfRange. The code of three digits on small parts (472
// for 4700) can't be told from a plain number and is read as the number.
//
// Source: IEC 60062:2016/A1:2019 for the code; multiplier letters and the
// tolerance letters F and K by public descriptions of the standard, the other
// tolerance letters (B, C, D, G, J, M) from memory and by public tables that
// agree with it. Small k, points, commas and units: common practice, no source.
func Parse(code string) (Resistor, error) {
	if len(code) > maxText {
		return Resistor{}, &SyntaxError{code, wantCode}
	}
	s := scanner{rest: strings.TrimSpace(code)}
	if want := s.scan(); want != "" {
		return Resistor{}, &SyntaxError{code, want}
	}
	if s.small || s.thousands() {
		return Resistor{}, s.ambiguous(code)
	}
	r := Resistor{s.ohms(s.exponent), s.tolerance}
	if err := within(r.Ohms); err != nil {
		return Resistor{}, err
	}
	if err := units.Within("tolerance of the resistor", r.Tolerance, "%", 0, mostTolerance); err != nil {
		return Resistor{}, err
	}
	return r, nil
}

func within(ohms float64) error {
	return units.Within("resistance of the resistor", ohms, "ohm", leastOhms, mostOhms)
}

// Format writes a resistance in ohm as a code with upper-case letters and at
// least two digits: R47, 1K0, 4K7, 100K. It keeps up to 15 digits, so that
// Parse gives the same value back for any value that was written with no more.
// Below 0.001 ohm and above 999 G it gives a *units.OutOfRange.
//
// Source: IEC 60062:2016/A1:2019; that whole numbers below ten get a zero (1K0,
// R10) by the published examples.
func Format(ohms float64) (string, error) {
	if err := within(ohms); err != nil {
		return "", err
	}
	var buf, out [40]byte
	digits, exponent := decimal(buf[:0], ohms)
	letter, point := byte('L'), exponent+4
	switch {
	case exponent >= 9:
		letter, point = 'G', exponent-8
	case exponent >= 6:
		letter, point = 'M', exponent-5
	case exponent >= 3:
		letter, point = 'K', exponent-2
	case exponent >= -1: // 0.1 is R10, and not 100L
		letter, point = 'R', exponent+1
	}
	for len(digits) < max(2, point) {
		digits = append(digits, '0')
	}
	code := append(out[:0], digits[:point]...)
	code = append(code, letter)
	return string(append(code, digits[point:]...)), nil
}

// decimal returns the fewest digits that give x back, at most 15, without a
// point, and the power of ten of the first of them.
func decimal(buf []byte, x float64) (digits []byte, exponent int) {
	text := strconv.AppendFloat(buf, x, 'e', -1, 64)
	if len(text) > len("d.e+xx")+maxDigits-1 {
		text = strconv.AppendFloat(buf, x, 'e', maxDigits-1, 64)
	}
	mantissa := text[:len(text)-len("e+xx")]
	exponent = int(text[len(text)-2]-'0')*10 + int(text[len(text)-1]-'0')
	if text[len(text)-3] == '-' {
		exponent = -exponent
	}
	if len(mantissa) > 1 {
		copy(mantissa[1:], mantissa[2:])
		mantissa = mantissa[:len(mantissa)-1]
	}
	for len(mantissa) > 1 && mantissa[len(mantissa)-1] == '0' {
		mantissa = mantissa[:len(mantissa)-1]
	}
	return mantissa, exponent
}

// decimalValue is digits times a power of ten, rounded once: up to 15 digits
// and powers up to 22 are exact in a float64.
func decimalValue(digits uint64, exponent int) float64 {
	if exponent < 0 {
		return float64(digits) / math.Pow10(-exponent)
	}
	return float64(digits) * math.Pow10(exponent)
}
