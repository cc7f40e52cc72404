package rules

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"ferrule/knowledge"
)

// State tells how far a value may be relied on.
type State uint8

// The states of a value. Only a Known value is used by rules.
const (
	Unknown     State = iota // nobody has given it
	Known                    // given, plausible and undisputed
	Questioned               // implausible: to be confirmed, never used
	Conflicting              // given twice, differently
	Unavailable              // can't be had here, or not known: not asked again
)

// Value is what is known of a reading of one subject. What is filled in
// depends on the reading's kind: Low and High for numbers (closed interval)
// and yes/no (0 and 1), Text for choices, versions (as typed) and texts, Has
// and HasNot for sets, in which each member is known by itself.
type Value struct {
	Low, High   float64
	Text        string
	Has, HasNot []string
	Certainty   float64 // 1 sure; 0.7 "I think"
	State       State
}

// Num returns a sure number.
func Num(x float64) Value { return Value{Low: x, High: x, Certainty: 1, State: Known} }

// Between returns a sure range; use math.Inf for an open end.
func Between(low, high float64) Value {
	return Value{Low: low, High: high, Certainty: 1, State: Known}
}

// Yes returns a sure yes or no.
func Yes(b bool) Value {
	if b {
		return Num(1)
	}
	return Num(0)
}

// Named returns a sure choice, version or text.
func Named(s string) Value { return Value{Text: s, Certainty: 1, State: Known} }

// Members returns a set of which some members are known to be in or out.
func Members(has, hasNot []string) Value {
	return Value{Has: has, HasNot: hasNot, Certainty: 1, State: Known}
}

// Subject is one thing that readings are about: device 2, hub 1, the site.
// N counts from 1; it is 1 where there is only one, such as the site.
type Subject struct {
	Class knowledge.Class
	N     int
}

// String returns "device 2", and "site" or "panel" alone for what is there once.
func (s Subject) String() string {
	if s.Class == knowledge.Site || s.Class == knowledge.Panel {
		return string(s.Class)
	}
	return string(s.Class) + " " + strconv.Itoa(s.N)
}

// ParseSubject reads what String writes.
func ParseSubject(s string) (Subject, error) {
	class, n, numbered := strings.Cut(s, " ")
	for _, c := range knowledge.Classes {
		if string(c) != class {
			continue
		}
		if !numbered {
			return Subject{c, 1}, nil
		}
		if i, err := strconv.Atoi(n); err == nil && i > 0 {
			return Subject{c, i}, nil
		}
	}
	return Subject{}, fmt.Errorf("%q is not a subject such as device 2", s)
}

// Focus is the subject in focus of each class; a missing class means its
// first subject.
type Focus map[knowledge.Class]int

// Observed is what is known in a case: the values of readings by subject.
type Observed struct {
	values map[observedKey]Value
}

type observedKey struct {
	reading string
	subject Subject
}

// Set stores a value.
func (o *Observed) Set(reading string, s Subject, v Value) {
	if o.values == nil {
		o.values = map[observedKey]Value{}
	}
	o.values[observedKey{reading, s}] = v
}

// Get returns a value; its State is Unknown where there is none.
func (o *Observed) Get(reading string, s Subject) Value {
	return o.values[observedKey{reading, s}]
}

// WriteKey writes what is the same for equal values, whatever the order in
// which they were set.
func (o *Observed) WriteKey(b *strings.Builder) {
	keys := make([]observedKey, 0, len(o.values))
	for k := range o.values {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(x, y observedKey) int {
		return cmp.Or(cmp.Compare(x.reading, y.reading), cmp.Compare(x.subject.Class, y.subject.Class), cmp.Compare(x.subject.N, y.subject.N))
	})
	for _, k := range keys {
		v := o.values[k]
		fmt.Fprintf(b, "%s %s %x %x %q %q %q %x %d\n", k.reading, k.subject, v.Low, v.High, v.Text, v.Has, v.HasNot, v.Certainty, v.State)
	}
}

// Len returns how many values are stored.
func (o *Observed) Len() int { return len(o.values) }

// Subjects returns the subjects of a class that have a value, in order.
func (o *Observed) Subjects(class knowledge.Class) []Subject {
	most := 0
	seen := map[int]bool{}
	for k := range o.values {
		if k.subject.Class == class {
			seen[k.subject.N] = true
			most = max(most, k.subject.N)
		}
	}
	var out []Subject
	for n := 1; n <= most; n++ {
		if seen[n] {
			out = append(out, Subject{class, n})
		}
	}
	return out
}
