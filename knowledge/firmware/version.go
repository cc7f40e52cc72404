package firmware

import (
	"cmp"
	"strconv"
)

// decimalPlaces is how many digits a decimal minor keeps.
const decimalPlaces = 4

// Version is a version of one scheme. The zero Version is none. Two versions
// of one scheme are equal with == exactly when Compare says 0.
type Version struct {
	scheme Scheme
	letter byte // 1 for a to 26 for z, 0 for none
	date   buildDate
	parts  [maxParts]uint64 // a decimal minor is held in ten-thousandths
	pre    string           // semver prerelease
}

// Scheme returns the scheme that the version was parsed in.
func (v Version) Scheme() Scheme { return v.scheme }

// IsZero says whether there is no version.
func (v Version) IsZero() bool { return v == Version{} }

// Dated says whether the version has a build date.
func (v Version) Dated() bool { return v.date != 0 }

// Undated returns the version without its build date.
func (v Version) Undated() Version {
	v.date = 0
	return v
}

// Compare returns -1, 0 or 1. It fails with a *MismatchError when the schemes
// differ or a version is zero.
func (v Version) Compare(w Version) (int, error) {
	if v.scheme != w.scheme || v.scheme.id == none {
		return 0, &MismatchError{Left: v.scheme.Name(), Right: w.scheme.Name()}
	}
	return v.order(&w), nil
}

func (v *Version) order(w *Version) int {
	for i := range v.parts {
		if v.parts[i] != w.parts[i] {
			return cmp.Compare(v.parts[i], w.parts[i])
		}
	}
	if v.pre != w.pre {
		return comparePrereleases(v.pre, w.pre)
	}
	if v.letter != w.letter {
		return cmp.Compare(v.letter, w.letter)
	}
	return cmp.Compare(v.date, w.date)
}

// String returns the canonical form, which parses to the same version. It is
// empty for the zero Version.
func (v Version) String() string {
	if v.scheme.id == none {
		return ""
	}
	return string(v.append(make([]byte, 0, 32)))
}

func (v Version) append(b []byte) []byte {
	b = strconv.AppendUint(b, v.parts[0], 10)
	for i := 1; i < v.written(); i++ {
		b = append(b, '.')
		if i == 1 {
			b = v.appendMinor(b)
			continue
		}
		b = strconv.AppendUint(b, v.parts[i], 10)
	}
	if v.pre != "" {
		b = append(append(b, '-'), v.pre...)
	}
	if v.letter != 0 {
		b = append(b, 'a'+v.letter-1)
	}
	if v.date != 0 {
		b = v.date.append(append(b, ' '))
	}
	return b
}

// written is how many parts are shown: zeros at the end are left out.
func (v Version) written() int {
	n := maxParts
	for n > v.scheme.spec().written && v.parts[n-1] == 0 {
		n--
	}
	return n
}

func (v Version) appendMinor(b []byte) []byte {
	minor := v.parts[1]
	switch v.scheme.id {
	case twoDigit, shortMinor:
		return append(b, '0'+byte(minor/10), '0'+byte(minor%10))
	case decimal:
		return appendFraction(b, minor)
	}
	return strconv.AppendUint(b, minor, 10)
}

// appendFraction writes ten-thousandths with two digits at least: 3.5 is
// written 3.50, so that nobody reads it as 3.05.
func appendFraction(b []byte, minor uint64) []byte {
	for place, unit := 1, uint64(1000); place <= decimalPlaces; place, unit = place+1, unit/10 {
		if place > 2 && minor == 0 {
			break
		}
		b = append(b, '0'+byte(minor/unit))
		minor %= unit
	}
	return b
}
