package knowledge

import "fmt"

func (v validator) model(e *Equipment) {
	v.named(e.Model, e.At, "model")
	v.class(e.Class, e.At)
	v.words(e.Words, e.At)
	v.source(e.Source, e.At)
	if e.Kind != "" && v.Model(e.Kind) == nil {
		v.problems.Add(e.At, nearestOrAll(e.Kind, sortedKeys(v.Pack.equipment)), "unknown kind %q: it is the name of a generic entry", e.Kind)
	}
	v.radio(e)
	v.figures(e)
	for _, r := range e.Requires {
		v.oneOf(r.Name.S, []string{"panel", "hub", "software"}, r.Name.Pos, "class")
		for _, m := range r.Value {
			if m.Name.S != "any" && v.Model(m.Name.S) == nil {
				v.problems.Add(m.Name.Pos, nearestOrAll(m.Name.S, sortedKeys(v.Pack.equipment)), "unknown model %q", m.Name.S)
			}
		}
	}
}

// figures holds what a model draws and needs to what can be.
func (v validator) figures(e *Equipment) {
	within := func(key string, x *float64, low, high float64, unit string) {
		if x != nil && (*x < low || *x > high) {
			v.problems.Add(e.At, "mind the unit", "%s is %g; it must be %g to %g %s", key, *x, low, high, unit)
		}
	}
	rises := func(key string, r *Range, low, high float64, unit string) {
		if r != nil && (r.Low < low || r.Low > r.High || r.High > high) {
			v.problems.Add(e.At, fmt.Sprintf("write %s: {low: ..., high: ...} in %s", key, unit), "%s runs from %g to %g; it must not fall, between %g and %g %s", key, r.Low, r.High, low, high, unit)
		}
	}
	within("current_ma", &e.CurrentMA, 0, 10000, "mA")
	within("lowest_level", e.LowestLevel, 0, 100, "%")
	within("cell_volts", e.CellVolts, 0, 12, "V")
	rises("volts", e.Volts, 0, 60, "V")
	rises("addresses", e.Addresses, 0, 65535, "numbers")
	if e.BusKind != "" {
		v.oneOf(e.BusKind, []string{"rs-485", "other"}, e.At, "kind of bus")
	}
}

// radio holds the figures of a model to what can be: a level that is calculated
// from a slip would look like a measurement.
func (v validator) radio(e *Equipment) {
	r := e.Radio
	if r == nil {
		return
	}
	if r.RadiatedMW <= 0 || r.RadiatedMW > 500 {
		v.problems.Add(e.At, "ERC/REC 70-03 allows 500 mW at the most around 868 MHz", "radiated_mw is %g; it must be more than 0 and at most 500", r.RadiatedMW)
	}
	if r.AerialLossDB < 0 || r.AerialLossDB > 60 {
		v.problems.Add(e.At, "write what the aerials inside both housings lose together, such as 5", "aerial_loss_db is %g; it must be 0 to 60", r.AerialLossDB)
	}
	if s := r.LevelScale; s.Low < -150 || s.Low >= s.High || s.High > 20 {
		v.problems.Add(e.At, "write level_scale: {low: -100, high: -40}, in dBm", "level_scale runs from %g to %g dBm; it must rise, between -150 and 20", s.Low, s.High)
	}
}
