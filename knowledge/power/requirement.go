package power

import (
	"cmp"

	"ferrule/knowledge/units"
)

// SupplyType is the type of a power supply by EN 50131-6 (from memory).
type SupplyType uint8

// The types. Zero is no type; in a [Requirement] it stands for every type.
const (
	TypeA SupplyType = iota + 1 // mains, and a battery that the system recharges
	TypeB                       // mains, and a battery that the system does not recharge
	TypeC                       // battery alone
)

// The standards in the lists.
const (
	EN50131 = "EN 50131-1"
	VDE0833 = "DIN VDE 0833"
)

// Requirement is one entry of a list: so many hours of standby, or so many
// hours to recharge to a share of the capacity.
type Requirement struct {
	Standard      string
	Edition       int        // year from which it holds; 0: not known, holds in every year
	Grade         int        // 1 to 4; 0: every grade
	Supply        SupplyType // 0: every type
	FaultReported bool       // only where a mains fault is reported to a remote centre
	Hours         float64
	Share         float64 // to which the battery is recharged, 0 in a list of standby times
	Source        Source
}

// StandbyTimes returns the standby times that the package knows, in a list
// that the caller may change.
//
// SOURCE: EN 50131-1:2006, table of minimum durations, and EN 50131-6. Type A
// in grades 2 and 4 is confirmed by a study note; all else, the halving to 30 h
// and the year of the edition too, is from memory. Editions
// differ, and one guide gives 8, 12 and 24 h by grade, which is not taken: local
// codes and a licensed person have the last word.
func StandbyTimes() []Requirement {
	list := make([]Requirement, 0, 14)
	for _, row := range [...]struct {
		supply SupplyType
		hours  [4]float64
	}{
		{TypeA, [4]float64{12, 12, 60, 60}},
		{TypeB, [4]float64{24, 24, 120, 120}},
		{TypeC, [4]float64{720, 720, 720, 720}},
	} {
		for i, hours := range row.hours {
			source := Source{"EN 50131-1:2006, table of minimum durations", FromMemory}
			if row.supply == TypeA && (i == 1 || i == 3) {
				source = Source{"EN 50131-1, table of minimum durations, as repeated in a study note", Confirmed}
			}
			list = append(list, Requirement{Standard: EN50131, Edition: 2006, Grade: i + 1, Supply: row.supply, Hours: hours, Source: source})
		}
	}
	for grade := 3; grade <= 4; grade++ {
		list = append(list, Requirement{Standard: EN50131, Edition: 2006, Grade: grade, Supply: TypeA, FaultReported: true, Hours: 30,
			Source: Source{"EN 50131-1:2006, halved where a mains fault is reported to a receiving or other remote centre", FromMemory}})
	}
	return list
}

// RechargeTimes returns the recharge times that the package knows, in a list
// that the caller may change.
//
// SOURCE: EN 50131-1:2006 and EN 50131-6, to 80 % in 72 h (grades 1, 2) or 24 h
// (grades 3, 4): from memory. DIN VDE 0833, 24 h to 80 %: confirmed by a public
// page, its edition not known.
func RechargeTimes() []Requirement {
	list := make([]Requirement, 0, 5)
	for i, hours := range [...]float64{72, 72, 24, 24} {
		list = append(list, Requirement{Standard: EN50131, Edition: 2006, Grade: i + 1, Supply: TypeA, Hours: hours, Share: 0.8,
			Source: Source{"EN 50131-1:2006 and EN 50131-6, recharge to 80 %", FromMemory}})
	}
	return append(list, Requirement{Standard: VDE0833, Hours: 24, Share: 0.8, Source: Source{"DIN VDE 0833, 24 h to 80 %", Confirmed}})
}

// Query asks a list for one system.
type Query struct {
	Standard      string
	Grade         int // 1 to 4
	Supply        SupplyType
	FaultReported bool // a mains fault is reported to a remote centre
	Year          int  // of the installation; 0 takes the newest edition
}

// Find returns the entry of a list that holds for a system: the newest edition
// that was out in the year of the installation and, in it, the entry for
// reported mains faults if they are reported.
//
// It gives a *units.OutOfRange for a grade other than 1 to 4, an unknown type
// of supply, a year before every edition, a list without an entry, and an entry
// whose hours or share make no sense.
//
// SOURCE: the entry's own.
func Find(list []Requirement, q Query) (Requirement, error) {
	if err := cmp.Or(units.Within("security grade", float64(q.Grade), "", 1, 4),
		units.Within("type of supply", float64(q.Supply), "", float64(TypeA), float64(TypeC))); err != nil {
		return Requirement{}, err
	}
	entries, earliest := 0, 0
	var best *Requirement
	for i := range list {
		r := &list[i]
		if !r.covers(&q) {
			continue
		}
		if entries == 0 || r.Edition < earliest {
			earliest = r.Edition
		}
		entries++
		if q.Year != 0 && r.Edition > q.Year {
			continue
		}
		if best == nil || best.before(r) {
			best = r
		}
	}
	if best == nil {
		return Requirement{}, cmp.Or(units.Within("number of entries for the standard, grade and type of supply", float64(entries), "", 1, inf),
			units.Within("year of the installation", float64(q.Year), "", float64(earliest), inf))
	}
	if err := cmp.Or(units.Above("time required", best.Hours, "h", 0), units.Within("share required", best.Share, "", 0, 1)); err != nil {
		return Requirement{}, err
	}
	return *best, nil
}

func (r *Requirement) covers(q *Query) bool {
	return r.Standard == q.Standard && (r.Grade == 0 || r.Grade == q.Grade) && (r.Supply == 0 || r.Supply == q.Supply) &&
		(q.FaultReported || !r.FaultReported)
}

// before says whether other goes before r: a newer edition first, then the
// entry for the special case.
func (r *Requirement) before(other *Requirement) bool {
	return r.Edition < other.Edition || r.Edition == other.Edition && !r.FaultReported && other.FaultReported
}
