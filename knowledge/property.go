package knowledge

import (
	"strconv"
	"strings"
)

func join(words []string) string { return strings.Join(words, ", ") }

// PropertyNames lists the properties that a reading can take from a model.
// The requires.* properties also need the model of the other device.
var PropertyNames = []string{
	"generation", "least_hub_generation", "onboard_link", "two_way", "connections",
	"lowest_level", "capacity", "least_address", "most_address", "bus_kind",
	"onboard_radio", "current_ma", "least_volts", "most_volts", "cell_volts", "listed_as",
	"radiated_mw", "aerial_loss", "level_at_0", "level_at_100",
	"requires.panel", "requires.hub", "requires.software", "kind",
}

// propertyUnits are the units in which models give their figures.
var propertyUnits = map[string]string{
	"lowest_level": "%", "current_ma": "mA", "least_volts": "V", "most_volts": "V", "cell_volts": "V",
	"radiated_mw": "mW", "aerial_loss": "dB", "level_at_0": "dBm", "level_at_100": "dBm",
}

// Property returns a property of a model by its written text, and false when
// the model says nothing about it. For requires.* the other model decides; an
// entry for its kind or for "any" holds where none names it.
func (p *Pack) Property(model, name, other string) (Scalar, bool) {
	e := p.equipment[model]
	if e == nil {
		return Scalar{}, false
	}
	text := func(s string) (Scalar, bool) { return Scalar{S: s, Pos: e.At}, s != "" }
	number := func(f *float64) (Scalar, bool) {
		if f == nil {
			return Scalar{}, false
		}
		return text(formatNumber(*f))
	}
	count := func(n int) (Scalar, bool) {
		if n == 0 {
			return Scalar{}, false
		}
		return text(strconv.Itoa(n))
	}
	switch name {
	case "generation":
		return count(e.Generation)
	case "least_hub_generation", "onboard_link", "two_way":
		return p.linkProperty(e, name)
	case "connections":
		return Scalar{List: e.Connections, Pos: e.At}, len(e.Connections) > 0
	case "lowest_level":
		return number(e.LowestLevel)
	case "cell_volts":
		return number(e.CellVolts)
	case "radiated_mw", "aerial_loss", "level_at_0", "level_at_100":
		return number(e.Radio.figure(name))
	case "capacity":
		return count(e.Capacity)
	case "least_address", "most_address":
		return number(bound(e.Addresses, name == "least_address"))
	case "least_volts", "most_volts":
		return number(bound(e.Volts, name == "least_volts"))
	case "bus_kind":
		return text(e.BusKind)
	case "kind":
		return text(e.Kind)
	case "listed_as":
		return text(e.ListedAs)
	case "onboard_radio":
		if e.Generic && !e.Onboard {
			return Scalar{}, false
		}
		return text(yesNo(e.Onboard))
	case "current_ma":
		if e.CurrentMA == 0 {
			return Scalar{}, false
		}
		return number(&e.CurrentMA)
	}
	if class, ok := strings.CutPrefix(name, "requires."); ok {
		return p.requirement(e, class, other)
	}
	return Scalar{}, false
}

// figure returns one of the figures, or nil where the model gives none.
func (r *Radio) figure(name string) *float64 {
	if r == nil {
		return nil
	}
	return map[string]*float64{
		"radiated_mw": &r.RadiatedMW, "aerial_loss": &r.AerialLossDB, "level_at_0": &r.LevelScale.Low, "level_at_100": &r.LevelScale.High,
	}[name]
}

func (p *Pack) linkProperty(e *Equipment, name string) (Scalar, bool) {
	if e.Link == nil {
		return Scalar{}, false
	}
	switch name {
	case "least_hub_generation":
		return Scalar{S: strconv.Itoa(max(1, e.Link.LeastHubGeneration)), Pos: e.At}, true
	case "onboard_link":
		return Scalar{S: yesNo(e.Link.OnboardRadio), Pos: e.At}, true
	}
	return Scalar{S: yesNo(e.Link.TwoWay), Pos: e.At}, true
}

func (p *Pack) requirement(e *Equipment, class, other string) (Scalar, bool) {
	for _, r := range e.Requires {
		if r.Name.S != class {
			continue
		}
		kind := ""
		if o := p.equipment[other]; o != nil {
			kind = o.Kind
		}
		for _, want := range []string{other, kind, "any"} {
			for _, m := range r.Value {
				if want != "" && m.Name.S == want {
					return Scalar{S: m.Value.S, Pos: m.Value.Pos}, true
				}
			}
		}
	}
	return Scalar{}, false
}

func bound(r *Range, low bool) *float64 {
	switch {
	case r == nil:
		return nil
	case low:
		return &r.Low
	}
	return &r.High
}

func yesNo(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

func formatNumber(f float64) string { return strconv.FormatFloat(f, 'g', -1, 64) }
