package learn

import (
	"cmp"
	"slices"
	"strconv"
)

// Aside is something that cases say and no number took in.
type Aside struct {
	Kind  string // symptom, equipment, cause, evidence, band, reading; or not in force
	Name  string
	Cases int
}

// Aside returns the names that the pack does not have, with the number of cases
// in which they stand: causes that were renamed or taken out, tables with fewer
// bands ("band", named as "level 4"). Cases of an unknown equipment still count
// for their symptom. "not in force" are tables within another that was in
// another band; their numbers are not stated for that.
func (n *Numbers) Aside() []Aside {
	var out []Aside
	for k, cases := range n.learned.names {
		if !n.has(k) {
			out = append(out, Aside{k.kind, k.name, cases})
		}
	}
	bands := map[string]int{}
	for k, c := range n.learned.bands {
		if t := n.tables[k.evidence]; t != nil && k.band > len(t.of.Otherwise) {
			bands[k.evidence+" "+strconv.Itoa(k.band)] += c.number()
		}
	}
	for name, cases := range bands {
		out = append(out, Aside{"band", name, cases})
	}
	slices.SortFunc(out, func(a, b Aside) int { return cmp.Or(cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Name, b.Name)) })
	return out
}

func (n *Numbers) has(k nameKey) bool {
	switch k.kind {
	case symptomName:
		return n.symptoms[k.name] != nil
	case equipmentName:
		return n.equipment[k.name] != nil
	case causeName:
		return k.name == SomethingElse || n.hasCause(k.name)
	case evidenceName:
		return n.tables[k.name] != nil
	case readingName:
		_, ok := n.steps[k.name]
		return ok
	}
	return false
}
