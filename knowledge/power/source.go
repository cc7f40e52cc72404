package power

import (
	"math"

	"ferrule/knowledge/units"
)

// Sureness is how well a value is founded.
type Sureness uint8

// From the weakest to the strongest.
const (
	FromMemory Sureness = iota + 1 // remembered, not looked up
	Practice                       // common practice, no source
	WeakPage                       // one public page of little weight
	Confirmed                      // a public page repeats the value
)

// String returns the words that an answer puts beside the value.
func (s Sureness) String() string {
	switch s {
	case FromMemory:
		return "from memory"
	case Practice:
		return "common practice, no source"
	case WeakPage:
		return "from a weak source"
	case Confirmed:
		return "confirmed"
	}
	return "of unknown origin"
}

// Source is where a value comes from and how sure it is.
type Source struct {
	Text string
	Sure Sureness
}

// The quantities, as a sentence names them.
const (
	qCapacity    = "capacity of the battery"
	qStandby     = "standby current"
	qAlarm       = "alarm current"
	qHours       = "standby time"
	qAlarmHours  = "alarm time"
	qCurrent     = "current"
	qShare       = "share of the capacity"
	qTemperature = "temperature of the battery"
)

var inf = math.Inf(1)

// finite passes x on, unless a result has grown beyond every number.
func finite(quantity string, x float64, unit string) (float64, error) {
	if err := units.Number(quantity, x, unit); err != nil {
		return 0, err
	}
	return x, nil
}

// within refuses an x that is not above low and at most high.
func within(quantity string, x float64, unit string, low, high float64) error {
	if x > low && x <= high {
		return nil
	}
	return &units.OutOfRange{Quantity: quantity, Value: x, Unit: unit, Low: low, High: high, Above: true}
}

// part refuses a share that is not above 0 and at most 1.
func part(quantity string, x float64) error { return within(quantity, x, "", 0, 1) }
