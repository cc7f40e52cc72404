package loop

import "math"

// Contact is a kind of contact; the zero value is none.
type Contact uint8

// The kinds of contact, by what they are at rest.
const (
	NormallyClosed Contact = iota + 1
	NormallyOpen
)

// Place is where a branch lies; see the package comment.
type Place uint8

// The places of a branch.
const (
	InLoop Place = iota
	AcrossEnd
	AcrossDetector
)

// Branch is a contact of the detector and the resistor that goes with it: over
// the contact where the branch is in the loop, in series with it where the
// branch lies across something. A resistor of 0 ohm is none. Without a contact
// there is no branch, and the rest of it counts for nothing.
type Branch struct {
	Contact  Contact
	Place    Place
	Resistor Resistor
}

// Loop is a zone with one detector.
type Loop struct {
	// EndOfLine of 0 ohm is none: then only the branches across the end lie
	// there, and where there are none the wires are joined.
	EndOfLine Resistor
	Alarm     Branch
	Fault     Branch // fault or masking
	// Tamper says that a normally closed tamper contact lies in series. Open,
	// it is a cut.
	Tamper        bool
	Cable         float64 // ohm, both ways
	ClosedContact float64 // ohm, most that one closed contact has
}

// Single is a normally closed alarm contact in series with one resistor.
// Common practice, no source.
func Single(endOfLine Resistor) Loop {
	return Loop{EndOfLine: endOfLine, Alarm: Branch{Contact: NormallyClosed}}
}

// Double is an end-of-line resistor in series with a normally closed alarm
// contact that has a resistor over it. Common practice, no source.
func Double(endOfLine, alarm Resistor) Loop {
	return Loop{EndOfLine: endOfLine, Alarm: Branch{Contact: NormallyClosed, Resistor: alarm}}
}

// Triple is Double with a normally closed fault contact, and a resistor over
// that, in series. Common practice, no source.
func Triple(endOfLine, alarm, fault Resistor) Loop {
	l := Double(endOfLine, alarm)
	l.Fault = Branch{Contact: NormallyClosed, Resistor: fault}
	return l
}

// side is a corner of the tolerances: all low, nominal, all high.
type side int

const (
	low     side = -1
	nominal side = 0
	high    side = 1
)

func (s side) of(r Resistor) float64 { return r.Ohms * (1 + float64(s)*r.Tolerance/100) }

// closed is the resistance of a closed contact: nothing, but for the high side.
func (l *Loop) closed(s side) float64 {
	if s == high {
		return l.ClosedContact
	}
	return 0
}

// ohms solves the network; an open loop has infinite resistance, which never
// leaves the package.
func (l *Loop) ohms(alarm, fault bool, s side) float64 {
	series, inLoop := l.Cable, 0.0
	if l.Tamper {
		series += l.closed(s)
	}
	end, across := s.of(l.EndOfLine), math.Inf(1)
	if l.EndOfLine.Ohms == 0 && l.endHasBranch() {
		end = math.Inf(1)
	}
	for _, b := range [2]struct {
		*Branch
		active bool
	}{{&l.Alarm, alarm}, {&l.Fault, fault}} {
		if b.Contact == 0 {
			continue
		}
		contact := math.Inf(1)
		if (b.Contact == NormallyClosed) != b.active {
			contact = l.closed(s)
		}
		switch b.Place {
		case InLoop:
			inLoop += overContact(contact, s.of(b.Resistor))
		case AcrossEnd:
			end = parallel(end, contact+s.of(b.Resistor))
		case AcrossDetector:
			across = parallel(across, contact+s.of(b.Resistor))
		}
	}
	return series + parallel(inLoop+end, across)
}

func (l *Loop) endHasBranch() bool {
	return l.Alarm.Contact != 0 && l.Alarm.Place == AcrossEnd || l.Fault.Contact != 0 && l.Fault.Place == AcrossEnd
}

// overContact is a contact with a resistor over it; 0 ohm is no resistor.
func overContact(contact, resistor float64) float64 {
	if resistor == 0 {
		return contact
	}
	return parallel(contact, resistor)
}

// parallel also holds for no resistance and for an infinite one.
func parallel(a, b float64) float64 {
	switch {
	case math.IsInf(a, 1):
		return b
	case math.IsInf(b, 1):
		return a
	case a == 0 || b == 0:
		return 0
	}
	return a * b / (a + b)
}
