package power

import (
	"cmp"

	"ferrule/knowledge/units"
)

// The factors of BS 5839-1:2002.
const (
	bsMargin   = 1.25
	bsHighRate = 1.75 // D, for an alarm load above C/20
	bsRate     = 20   // hours: the rate up to which D is 1
	bsAlarm    = 0.5  // hours of alarm
)

// The times of NFPA 72, 10.6.7, confirmed by public pages: standby, alarm, and
// alarm by voice.
const (
	NFPA72StandbyHours = 24.0
	NFPA72AlarmHours   = 5.0 / 60
	NFPA72VoiceHours   = 15.0 / 60
)

// BS5839 is the least capacity by BS 5839-1, in Ah.
type BS5839 struct {
	LowRate  float64 // with D = 1, for a battery of at least 20 h times the alarm current
	HighRate float64 // with D = 1.75, for a smaller one
	Least    float64 // the smallest battery that meets its own D
}

// BS5839Capacity returns Cmin = 1.25 (T1 I1 + D I2/2) in Ah for a standby
// current I1 in A over T1 hours and an alarm current I2 in A over half an hour.
// D depends on the battery that is yet to be chosen, so both values are given,
// and the smallest capacity that is enough with the D that goes with it. A
// negative or unreal quantity, or a result beyond all numbers, is a
// *units.OutOfRange.
//
// SOURCE: BS 5839-1:2002, annex D (annex E in the 2025 edition), as repeated on
// a public forum. A widely copied sheet counts a full hour of alarm: not this
// formula.
func BS5839Capacity(standby, hours, alarm float64) (BS5839, error) {
	if err := cmp.Or(units.Within(qStandby, standby, "A", 0, inf), units.Within(qHours, hours, "h", 0, inf), units.Within(qAlarm, alarm, "A", 0, inf)); err != nil {
		return BS5839{}, err
	}
	b := BS5839{LowRate: bsCapacity(standby, hours, alarm, 1), HighRate: bsCapacity(standby, hours, alarm, bsHighRate)}
	// From 20 h times the alarm current upwards D is 1; a battery that meets
	// D = 1.75 is enough either way.
	b.Least = min(b.HighRate, max(b.LowRate, bsRate*alarm))
	if err := units.Number("capacity needed", b.HighRate, "Ah"); err != nil {
		return BS5839{}, err
	}
	return b, nil
}

func bsCapacity(standby, hours, alarm, d float64) float64 {
	return bsMargin * (hours*standby + d*alarm*bsAlarm)
}

// BS5839Verdict is whether one battery is enough.
type BS5839Verdict struct {
	D      float64
	Needed float64 // Ah
	Enough bool
}

// BS5839Battery chooses D for a battery of a capacity in Ah (1 if I2 <= C/20,
// 1.75 otherwise) and says whether it is enough; the rest is as in
// [BS5839Capacity].
//
// SOURCE: BS 5839-1:2002, annex D, as repeated on a public forum.
func BS5839Battery(standby, hours, alarm, capacity float64) (BS5839Verdict, error) {
	b, err := BS5839Capacity(standby, hours, alarm)
	if err != nil {
		return BS5839Verdict{}, err
	}
	if err := units.Above(qCapacity, capacity, "Ah", 0); err != nil {
		return BS5839Verdict{}, err
	}
	v := BS5839Verdict{D: bsHighRate, Needed: b.HighRate}
	if bsRate*alarm <= capacity {
		v = BS5839Verdict{D: 1, Needed: b.LowRate}
	}
	v.Enough = v.Needed <= capacity
	return v, nil
}

// Margin is the factor of an edition of NFPA 72.
type Margin struct {
	First, Last int // years of the editions in which it holds; Last 0: still does
	Factor      float64
	Source      Source
}

// NFPA72Margins returns the margins that the package knows, in a list that the
// caller may change: 1.20 up to the 2019 edition, 1.25 from 2022.
//
// SOURCE: a public calculation guide for 1.20; a study guide for 1.25 (2022,
// 10.6.10.1). 1993 as the first edition is from memory, and whether the early
// ones had a margin was not looked up.
func NFPA72Margins() []Margin {
	return []Margin{
		{First: 1993, Last: 2019, Factor: 1.20, Source: Source{"NFPA 72 up to 2019, as repeated in a calculation guide", Confirmed}},
		{First: 2022, Factor: 1.25, Source: Source{"NFPA 72:2022, 10.6.10.1, as repeated in a study guide", WeakPage}},
	}
}

// NFPA72Margin returns the margin of an edition, given by its year. A year in
// which none of the list holds (2020 and 2021 had no edition) is a
// *units.OutOfRange, as are an empty list and a
// factor below 1.
//
// SOURCE: the entry's own.
func NFPA72Margin(list []Margin, edition int) (Margin, error) {
	near := -1 // the entry whose years the refusal names
	for i, m := range list {
		if edition >= m.First && (m.Last == 0 || edition <= m.Last) {
			if err := units.Within("margin", m.Factor, "", 1, inf); err != nil {
				return Margin{}, err
			}
			return m, nil
		}
		if near < 0 || m.First <= edition && m.First > list[near].First {
			near = i
		}
	}
	if near < 0 {
		return Margin{}, units.Within("number of margins", 0, "", 1, inf)
	}
	m := list[near]
	if m.Last == 0 {
		return Margin{}, units.Within("edition of NFPA 72", float64(edition), "", float64(m.First), inf)
	}
	return Margin{}, units.Within("edition of NFPA 72", float64(edition), "", float64(m.First), float64(m.Last))
}

// NFPA72Capacity returns the charge that a load takes times the margin of the
// edition, in Ah. A quantity out of its range, a margin below 1 among them, or
// a result beyond all numbers, is a *units.OutOfRange.
//
// SOURCE: NFPA 72, 10.6.7, as worked in a public calculation guide.
func NFPA72Capacity(l Load, margin float64) (float64, error) {
	charge, err := l.AmpereHours()
	if err != nil {
		return 0, err
	}
	if err := units.Within("margin", margin, "", 1, inf); err != nil {
		return 0, err
	}
	return finite("capacity needed", charge*margin, "Ah")
}
