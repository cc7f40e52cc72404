package store

import "slices"

// The states of a reading.
const (
	StateKnown       = "known"
	StateQuestioned  = "questioned"
	StateConflicting = "conflicting"
	StateUnavailable = "unavailable"
)

// value is a reading with the actor who gave it.
type value struct {
	Reading
	actor string
}

// inForce returns which of the values of one name and subject hold, in the
// order in which they were given:
//
//   - A later value of the same actor replaces the earlier one.
//   - Values of two actors both stay; where they differ they are conflicting.
//   - Different values within one message stay and are conflicting.
//   - A conflict ends when one of its actors gives a value in a later message.
//   - A questioned value is never used, so it stands beside the others
//     without touching them until its actor gives another one.
//   - "Unavailable" is no value: it takes back what its actor gave, and
//     stands only while nobody gives a value.
//   - Sets are known member by member, so that a later set of the same actor
//     adds to the earlier and overrides it only where both name a member.
//
// rivals tells that other values were given and taken back. A mark
// "conflicting" that is left alone after that has lost its reason.
func inForce(values []value, rivals bool) []Reading {
	var held, questioned []value
	for _, v := range values {
		questioned = slices.DeleteFunc(questioned, func(q value) bool {
			return q.actor == v.actor && !sameMessage(q, v)
		})
		switch v.State {
		case StateQuestioned:
			questioned = append(questioned, v)
		case StateUnavailable:
			held = withdraw(held, v)
		default:
			held = give(held, v)
		}
	}
	all := make([]Reading, 0, len(held)+len(questioned))
	clash := clashing(held)
	for _, v := range held {
		switch {
		case clash:
			v.State = StateConflicting
		case v.State == StateConflicting && (rivals || len(values) > 1):
			v.State = StateKnown
		}
		all = append(all, v.Reading)
	}
	for _, v := range questioned {
		all = append(all, v.Reading)
	}
	return all
}

// give adds a value to those held.
func give(held []value, v value) []value {
	held = slices.DeleteFunc(held, func(h value) bool { return h.State == StateUnavailable })
	if i := slices.IndexFunc(held, func(h value) bool { return sameMessage(h, v) }); i >= 0 {
		return giveAgain(held, v)
	}
	mine := slices.IndexFunc(held, func(h value) bool { return h.actor == v.actor })
	if mine < 0 {
		return append(held, v)
	}
	earlier := held[mine]
	if clashing(held) {
		held = held[:0] // settled: the newer look at the thing decides
	} else {
		held = slices.DeleteFunc(held, func(h value) bool { return h.actor == v.actor })
	}
	if v.isSet() && earlier.isSet() {
		v.Reading = mergedSet(earlier.Reading, v.Reading)
	}
	return append(held, v)
}

// giveAgain adds a second value out of one message: a repetition changes
// nothing, sets that agree are joined, anything else is a contradiction.
func giveAgain(held []value, v value) []value {
	for i, h := range held {
		if !sameMessage(h, v) || !agree(h.Reading, v.Reading) {
			continue
		}
		if v.isSet() && h.isSet() {
			held[i].Reading = mergedSet(h.Reading, v.Reading)
		} else {
			held[i].Reading = v.Reading
		}
		return held
	}
	return append(held, v)
}

// withdraw handles "can't be measured": the actor's own values go, and it
// stands itself when no value is left.
func withdraw(held []value, v value) []value {
	held = slices.DeleteFunc(held, func(h value) bool {
		return h.actor == v.actor || h.State == StateUnavailable
	})
	if len(held) > 0 {
		return held
	}
	return append(held, v)
}

// clashing tells whether any two of the values contradict each other.
func clashing(held []value) bool {
	for i := range held {
		for j := range i {
			if !agree(held[i].Reading, held[j].Reading) {
				return true
			}
		}
	}
	return false
}

func sameMessage(a, b value) bool {
	return a.Message != "" && a.Message == b.Message && a.actor == b.actor
}

func (v *value) isSet() bool { return len(v.Has)+len(v.HasNot) > 0 }

// agree tells whether two values can both be true: numbers and words must be
// equal, and of sets no member may be in the one and out of the other.
func agree(a, b Reading) bool {
	if a.Low != b.Low || a.High != b.High || a.Text != b.Text {
		return false
	}
	return !overlap(a.Has, b.HasNot) && !overlap(a.HasNot, b.Has)
}

func overlap(a, b []string) bool {
	return slices.ContainsFunc(a, func(member string) bool { return slices.Contains(b, member) })
}

// mergedSet is the later set with those members of the earlier one that the
// later does not mention.
func mergedSet(earlier, later Reading) Reading {
	has := slices.Clone(later.Has)
	hasNot := slices.Clone(later.HasNot)
	mentioned := func(member string) bool {
		return slices.Contains(has, member) || slices.Contains(hasNot, member)
	}
	for _, member := range earlier.Has {
		if !mentioned(member) {
			has = append(has, member)
		}
	}
	for _, member := range earlier.HasNot {
		if !mentioned(member) {
			hasNot = append(hasNot, member)
		}
	}
	later.Has, later.HasNot = has, hasNot
	return later
}
