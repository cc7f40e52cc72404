package rules

import (
	"slices"

	"ferrule/knowledge"
)

// reading is a compiled entry of the vocabulary. Its index in the pack is its
// slot in the facts.
type reading struct {
	*knowledge.Reading
	shape
	class   int              // index in knowledge.Classes
	choices map[string]int   // choice: name -> interned number
	members map[string]uint8 // set: name -> bit
	names   []string         // set: bit -> name, empty where another set's
	all     uint64           // set: its members
	group   int              // sets that share a member share their bits
	scheme  int              // reading of the model that names the scheme, or -1

	property *propertyTable
	given    *Value // the default
	num      *num   // derived
	tri      *tri
	diff     *setx
	others   *others
	uses     []use // of the derived expression
}

// shape is what placing a value looks at, kept small and together.
type shape struct {
	kind     uint8
	computed bool // anything else than taken as given
	feeds    bool // computed, or something computed or a literal follows from it
	set      int  // slot of a set, or -1
	version  int  // slot of a version, or -1
}

// The kinds as numbers.
const (
	kindNumber uint8 = iota
	kindYesNo
	kindChoice
	kindSet
	kindVersion
	kindText
)

var kindNumbers = map[knowledge.Kind]uint8{knowledge.Number: kindNumber, knowledge.YesNo: kindYesNo, knowledge.Choice: kindChoice,
	knowledge.Set: kindSet, knowledge.Version: kindVersion, knowledge.Text: kindText}

// use is a reading in an expression, with its place.
type use struct {
	reading int
	at      knowledge.Pos
}

// others is a reading that follows from the other subjects of a class.
type others struct {
	class   int
	is      string
	where   *tri
	uses    []use
	closure []int // computed readings that where needs, in order
}

func (r *reading) derived() bool { return r.num != nil || r.tri != nil || r.diff != nil }

// askable tells whether a technician can be asked. A property may have a
// question of its own, for when the model is not known.
func (r *reading) askable() bool { return r.Reading.Askable() || r.Ask != "" }

func classIndex(c knowledge.Class) int { return slices.Index(knowledge.Classes, c) }

func (c *compiler) vocabulary() {
	p := c.program
	for i := range c.pack.Readings {
		r := reading{Reading: &c.pack.Readings[i], shape: shape{set: -1, version: -1}, scheme: -1}
		r.kind, r.class = kindNumbers[r.Kind], max(0, classIndex(r.Class))
		p.index[r.Name.S] = i
		switch r.Kind {
		case knowledge.Choice:
			r.choices = map[string]int{}
			for _, name := range c.pack.ChoiceNames(r.Reading) {
				r.choices[name] = c.intern(name)
			}
		case knowledge.Version:
			r.version = p.versions
			p.versions++
		case knowledge.Set:
			r.set = p.sets
			p.sets++
		}
		p.readings = append(p.readings, r)
	}
	p.nums = len(p.readings)
	c.members()
}

func (c *compiler) intern(name string) int {
	if id, ok := c.ids[name]; ok {
		return id
	}
	id := len(c.ids)
	c.ids[name] = id
	c.program.choices = append(c.program.choices, name)
	return id
}

// members gives each set its bits. Sets that share a member, directly or
// through others, share the numbering, so that they can be held against each
// other.
func (c *compiler) members() {
	group := map[string]int{} // member -> group
	join := func(from, to int) {
		for m, g := range group {
			if g == from {
				group[m] = to
			}
		}
	}
	for i := range c.program.readings {
		r := &c.program.readings[i]
		if r.set < 0 {
			continue
		}
		for _, m := range c.pack.ChoiceNames(r.Reading) {
			if g, ok := group[m]; ok {
				join(g, i)
			}
			group[m] = i
		}
	}
	bits := map[int]map[string]uint8{}
	for i := range c.program.readings {
		r := &c.program.readings[i]
		if r.set < 0 {
			continue
		}
		r.members, r.names = map[string]uint8{}, make([]string, 64)
		for _, m := range c.pack.ChoiceNames(r.Reading) {
			r.group = group[m]
			c.member(r, m, bits)
		}
	}
}

func (c *compiler) member(r *reading, m string, bits map[int]map[string]uint8) {
	taken := bits[r.group]
	if taken == nil {
		taken = map[string]uint8{}
		bits[r.group] = taken
	}
	bit, ok := taken[m]
	if !ok {
		if len(taken) == 64 {
			c.problems.Add(r.At, "use fewer members, or different names in sets that have nothing to do with each other",
				"the set %s shares members with others, and together they have more than 64", r.Name.S)
			return
		}
		bit = uint8(len(taken))
		taken[m] = bit
	}
	r.members[m] = bit
	r.names[bit] = m
	r.all |= 1 << bit
}
