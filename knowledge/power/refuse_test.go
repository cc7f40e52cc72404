package power_test

import (
	"errors"
	"math"
	"slices"
	"testing"

	"ferrule/knowledge/power"
	"ferrule/knowledge/units"
)

func TestRefused(t *testing.T) {
	for _, c := range calls {
		if err := c.call(c.good); err != nil {
			t.Errorf("%s: %v", c.name, err)
		}
		for i, q := range c.in {
			for _, bad := range q.bad {
				x := slices.Clone(c.good)
				x[i] = bad
				refused(t, c.name, c.call(x), q.name)
			}
		}
	}
}

func refused(t *testing.T, what string, err error, quantity string) {
	t.Helper()
	var out *units.OutOfRange
	if !errors.As(err, &out) || out.Quantity != quantity {
		t.Errorf("%s: got %v, want a refusal of the %s", what, err, quantity)
	}
}

func TestRefusedWords(t *testing.T) {
	_, err := power.PeukertHours(7, 20, 1, 3)
	if want := "Peukert exponent is 3; it must be 1 to 2"; err == nil || err.Error() != want {
		t.Errorf("got %v, want %s", err, want)
	}
	_, err = power.ChargeCurrent(7, 0, 24, 1)
	if want := "share of the capacity is 0; it must be more than 0 and at most 1"; err == nil || err.Error() != want {
		t.Errorf("got %v, want %s", err, want)
	}
	_, err = power.VoltageUnderLoad(12, 0.1, 200)
	if want := "current is 200 A; it must be 0 A to 120 A"; err == nil || err.Error() != want {
		t.Errorf("got %v, want %s", err, want)
	}
}

// What grows beyond all numbers is refused, not returned.
func TestOverflow(t *testing.T) {
	const most = math.MaxFloat64
	_, err := power.Load{Standby: most, StandbyHours: 2}.AmpereHours()
	refused(t, "AmpereHours", err, "charge that the load takes")
	_, err = power.Capacity(power.Load{Standby: most, StandbyHours: 1}, power.CommonDerating())
	refused(t, "Capacity", err, "capacity needed")
	_, err = power.StandbyAutonomy(1, 1e-320, 0, 0, power.CommonDerating())
	refused(t, "StandbyAutonomy", err, "autonomy")
	_, err = power.StandbyAutonomy(1, 1, 0, 0, power.Derating{Ageing: 1e-200, Temperature: 1e-200, Usable: 1})
	refused(t, "StandbyAutonomy", err, "share of the capacity that is left")
	_, err = power.BS5839Capacity(most, 2, 0)
	refused(t, "BS5839Capacity", err, "capacity needed")
	_, err = power.PeukertHours(most, 1e-3, 1e-3, 2)
	refused(t, "PeukertHours", err, "time of the discharge")
	_, err = power.RechargeHours(most, 1, 1, 0, 0.1)
	refused(t, "RechargeHours", err, "time of the recharge")
	_, err = power.InternalResistance(12, 1, 1e-320)
	refused(t, "InternalResistance", err, "internal resistance")
	_, err = power.CommonLimits().Judge(0, most, 0.5)
	refused(t, "Judge", err, "internal resistance over that when new")
}

func TestFindRefuses(t *testing.T) {
	list := power.StandbyTimes()
	query := func(grade int, supply power.SupplyType, year int) power.Query {
		return power.Query{Standard: power.EN50131, Grade: grade, Supply: supply, Year: year}
	}
	for _, grade := range []int{0, -1, 5, math.MaxInt} {
		_, err := power.Find(list, query(grade, power.TypeA, 0))
		refused(t, "grade", err, "security grade")
	}
	for _, supply := range []power.SupplyType{0, 4, 255} {
		_, err := power.Find(list, query(2, supply, 0))
		refused(t, "supply", err, "type of supply")
	}
	for _, year := range []int{2005, 1, -1} {
		_, err := power.Find(list, query(2, power.TypeA, year))
		refused(t, "year", err, "year of the installation")
	}
	const none = "number of entries for the standard, grade and type of supply"
	_, err := power.Find(nil, query(2, power.TypeA, 0))
	refused(t, "empty list", err, none)
	_, err = power.Find(power.RechargeTimes(), query(2, power.TypeB, 0)) // nothing recharges it
	refused(t, "type B", err, none)
	_, err = power.Find(list, power.Query{Grade: 2, Supply: power.TypeA})
	refused(t, "no standard", err, none)
	for _, hours := range nothing {
		_, err := power.Find([]power.Requirement{{Standard: power.EN50131, Hours: hours}}, query(2, power.TypeA, 0))
		refused(t, "entry", err, "time required")
	}
	for _, share := range noShare {
		_, err := power.Find([]power.Requirement{{Standard: power.EN50131, Hours: 1, Share: share}}, query(2, power.TypeA, 0))
		refused(t, "entry", err, "share required")
	}
}

func TestMarginRefuses(t *testing.T) {
	for _, edition := range []int{2020, 2021, 1992, 0, -1} {
		_, err := power.NFPA72Margin(power.NFPA72Margins(), edition)
		refused(t, "edition", err, "edition of NFPA 72")
	}
	_, err := power.NFPA72Margin(nil, 2022)
	refused(t, "empty list", err, "number of margins")
	for _, factor := range noFactor {
		_, err := power.NFPA72Margin([]power.Margin{{First: 2000, Factor: factor}}, 2022)
		refused(t, "entry", err, "margin")
	}
}

func TestNeverCharges(t *testing.T) {
	for _, standing := range []float64{0.5, 0.8} {
		_, err := power.RechargeHours(7, 0.8, 0.5, standing, 1)
		var never *power.NeverCharges
		if !errors.As(err, &never) || never.Charger != 0.5 || never.Load != standing {
			t.Errorf("%g A: %v", standing, err)
		}
	}
	_, err := power.RechargeHours(7, 0.8, 0.5, 0.8, 1)
	if want := "the charger gives 0.5 A and the load takes 0.8 A: the battery never charges"; err == nil || err.Error() != want {
		t.Errorf("got %v, want %s", err, want)
	}
}
