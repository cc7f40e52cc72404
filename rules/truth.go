package rules

// Truth is the outcome of a condition in Kleene's strong logic. The codes are
// chosen so that and is &, and or is |. (The middle one is called Undecided
// because Unknown is a state of a value.)
type Truth uint8

// The outcomes.
const (
	False     Truth = 0b00
	Undecided Truth = 0b01
	True      Truth = 0b11
)

// String returns false, unknown or true, as examples in a pack write them.
func (t Truth) String() string {
	switch t {
	case False:
		return "false"
	case True:
		return "true"
	}
	return "unknown"
}

// not returns the complement: the two bits change places, inverted.
func (t Truth) not() Truth { return (^t>>1)&1 | (^t<<1)&2 }

// truthOf joins what is possible and what is certain; certain implies possible.
func truthOf(can, must bool) Truth {
	switch {
	case must:
		return True
	case can:
		return Undecided
	}
	return False
}
