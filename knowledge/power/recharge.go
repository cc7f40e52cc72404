package power

import (
	"cmp"
	"fmt"

	"ferrule/knowledge/units"
)

const (
	qEfficiency = "charge efficiency"
	qRecharge   = "time of the recharge"
)

// ChargeEfficiency is the share of the charge put in that can be taken out
// again, as a setting to start from.
//
// SOURCE: common practice, no source.
const ChargeEfficiency = 0.85

// NeverCharges says that a charger has nothing left for the battery: the
// standing load takes all that it gives.
type NeverCharges struct {
	Charger, Load float64 // A
}

func (e *NeverCharges) Error() string {
	return fmt.Sprintf("the charger gives %.6g A and the load takes %.6g A: the battery never charges", e.Charger, e.Load)
}

// ChargeCurrent returns the current in A that puts a share of a capacity in Ah
// back in so many hours: share C / (T efficiency). It comes on top of the
// standing load. A quantity out of its range (share, efficiency: above 0 and at
// most 1), or a result beyond all numbers, is a *units.OutOfRange.
//
// SOURCE: product of current and time.
func ChargeCurrent(capacity, share, hours, efficiency float64) (float64, error) {
	if err := cmp.Or(units.Above(qCapacity, capacity, "Ah", 0), part(qShare, share), units.Above(qRecharge, hours, "h", 0),
		part(qEfficiency, efficiency)); err != nil {
		return 0, err
	}
	return finite("charge current", share*capacity/efficiency/hours, "A")
}

// RechargeHours returns how many hours a charger of a current in A takes to put
// a share of a capacity in Ah back while it feeds a standing load in A:
// share C / ((charger - load) efficiency). The current is taken as constant,
// which holds up to some 80 %. A charger that does not give more than the load
// takes is a *[NeverCharges]; a quantity out of its range (share, efficiency:
// above 0 and at most 1), or a result beyond all numbers, is a
// *units.OutOfRange.
//
// SOURCE: common practice, no source.
func RechargeHours(capacity, share, charger, load, efficiency float64) (float64, error) {
	if err := cmp.Or(units.Above(qCapacity, capacity, "Ah", 0), part(qShare, share), units.Above("current of the charger", charger, "A", 0),
		units.Within("standing load", load, "A", 0, inf), part(qEfficiency, efficiency)); err != nil {
		return 0, err
	}
	if load >= charger {
		return 0, &NeverCharges{Charger: charger, Load: load}
	}
	return finite(qRecharge, share*capacity/efficiency/(charger-load), "h")
}
