package plan

import (
	"fmt"
	"math"
)

var inf = math.Inf(1)

const (
	mostCauses   = 64
	mostTests    = 64
	mostOutcomes = 64
	mostSetups   = 16
	mostMinutes  = 1e9
	sumWithin    = 1e-6
)

// Invalid says what is wrong with a problem.
type Invalid struct {
	Quantity string // as said in a sentence: "probability of cause 2"
	Value    float64
	Want     string // as said after "must": "be 0 to 1"
}

func (e *Invalid) Error() string {
	return fmt.Sprintf("%s is %g; it must %s", e.Quantity, e.Value, e.Want)
}

// check returns the first thing wrong with the problem as an *Invalid.
func (p *Problem) check() error {
	if err := p.checkSizes(); err != nil {
		return err
	}
	sum := 0.0
	for i := range p.Causes {
		if err := p.checkCause(i); err != nil {
			return err
		}
		sum += p.Causes[i].P
	}
	if !(math.Abs(sum-1) <= sumWithin) {
		return &Invalid{"sum of the probabilities", sum, "be 1"}
	}
	for j := range p.Tests {
		if err := p.checkTest(j); err != nil {
			return err
		}
	}
	return nil
}

func (p *Problem) checkSizes() error {
	switch {
	case len(p.Causes) == 0 || len(p.Causes) > mostCauses:
		return &Invalid{"number of causes", float64(len(p.Causes)), "be 1 to 64"}
	case len(p.Tests) > mostTests:
		return &Invalid{"number of tests", float64(len(p.Tests)), "be 64 or less"}
	case len(p.Setups) > mostSetups:
		return &Invalid{"number of set-ups", float64(len(p.Setups)), "be 16 or less"}
	case p.Place < 0:
		return &Invalid{"place", float64(p.Place), "be 0 or more"}
	}
	if err := minutes("minutes of handing over", p.HandOver, true); err != nil {
		return err
	}
	if err := minutes("minutes of walking", p.Walk, false); err != nil {
		return err
	}
	for k, m := range p.Setups {
		if err := minutes(fmt.Sprintf("minutes of set-up %d", k), m, false); err != nil {
			return err
		}
	}
	return nil
}

func (p *Problem) checkCause(i int) error {
	c := &p.Causes[i]
	if err := chance("probability of cause", i, c.P); err != nil {
		return err
	}
	if err := chance("chance that the repair mends cause", i, c.Mends); err != nil {
		return err
	}
	if err := minutes(fmt.Sprintf("minutes of repair %d", i), c.Repair, true); err != nil {
		return err
	}
	return p.checkSpot("repair", i, c.At)
}

func (p *Problem) checkTest(j int) error {
	t := &p.Tests[j]
	if err := minutes(fmt.Sprintf("minutes of test %d", j), t.Minutes, true); err != nil {
		return err
	}
	if err := p.checkSpot("test", j, t.At); err != nil {
		return err
	}
	if len(t.Given) != len(p.Causes) {
		return &Invalid{fmt.Sprintf("number of rows of test %d", j), float64(len(t.Given)), "be that of the causes"}
	}
	for i, row := range t.Given {
		if len(row) < 2 || len(row) > mostOutcomes || len(row) != len(t.Given[0]) {
			return &Invalid{fmt.Sprintf("number of outcomes of test %d, cause %d", j, i), float64(len(row)), "be 2 to 64, the same for every cause"}
		}
		sum := 0.0
		for _, l := range row {
			if !(l >= 0 && l <= 1) {
				return &Invalid{fmt.Sprintf("chance of an outcome of test %d, cause %d", j, i), l, "be 0 to 1"}
			}
			sum += l
		}
		if !(math.Abs(sum-1) <= sumWithin) {
			return &Invalid{fmt.Sprintf("sum of the outcomes of test %d, cause %d", j, i), sum, "be 1"}
		}
	}
	return nil
}

func (p *Problem) checkSpot(what string, i int, at Spot) error {
	switch {
	case at.Place < 0:
		return &Invalid{fmt.Sprintf("place of %s %d", what, i), float64(at.Place), "be 0 or more"}
	case int(at.Setups)>>len(p.Setups) != 0:
		return &Invalid{fmt.Sprintf("set-ups of %s %d", what, i), float64(at.Setups), "be among those of the problem"}
	}
	return nil
}

func minutes(quantity string, x float64, orNever bool) error {
	switch {
	case orNever && math.IsInf(x, 1):
		return nil
	case x >= 0 && x <= mostMinutes:
		return nil
	}
	return &Invalid{quantity, x, "be 0 to 1e9"}
}

func chance(quantity string, i int, x float64) error {
	if x >= 0 && x <= 1 {
		return nil
	}
	return &Invalid{fmt.Sprintf("%s %d", quantity, i), x, "be 0 to 1"}
}
