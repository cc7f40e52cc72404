package cable_test

import (
	"slices"
	"testing"

	"pgregory.net/rapid"

	"ferrule/knowledge/cable"
)

func TestPair(t *testing.T) {
	// Limits: TIA-485-A (32 unit loads, -7 to +12 V, 0.2 V), application guidance
	// (1200 m, two terminators), and from memory, as a setting, 1e8 bit/s m.
	good := cable.Pair{Length: 1000, Rate: 100000, UnitLoads: 32, Terminators: 2, Low: -7, High: 12, Bias: 0.2}
	with := func(change func(*cable.Pair)) cable.Pair {
		p := good
		change(&p)
		return p
	}
	for _, c := range []struct {
		pair cable.Pair
		want []cable.Finding
	}{
		{good, nil},
		{with(func(p *cable.Pair) { p.Length, p.Rate = 1200, 80000 }), nil},
		{with(func(p *cable.Pair) { p.Length, p.Rate = 1201, 9600 }), []cable.Finding{{cable.PairLength, 1201, 1200}}},
		{with(func(p *cable.Pair) { p.Rate = 115200 }), []cable.Finding{{cable.PairRateLength, 115200000, 1e8}}},
		{with(func(p *cable.Pair) { p.UnitLoads = 33 }), []cable.Finding{{cable.PairUnitLoads, 33, 32}}},
		{with(func(p *cable.Pair) { p.Terminators = 1 }), []cable.Finding{{cable.PairTooFewEnds, 1, 2}}},
		{with(func(p *cable.Pair) { p.Terminators = 3 }), []cable.Finding{{cable.PairTooManyEnds, 3, 2}}},
		{with(func(p *cable.Pair) { p.Low, p.High = -8, 13 }), []cable.Finding{{cable.PairCommonLow, -8, -7}, {cable.PairCommonHigh, 13, 12}}},
		{with(func(p *cable.Pair) { p.Bias = 0.19 }), []cable.Finding{{cable.PairBiasTooSmall, 0.19, 0.2}}},
	} {
		got, err := c.pair.Check(cable.TIA485())
		if err != nil || !slices.Equal(got, c.want) {
			t.Errorf("%+v: %v, %v", c.pair, got, err)
		}
	}
	if got, err := (cable.Pair{Length: 5000, Low: -50, High: 50}).Check(cable.PairLimits{}); got != nil || err != nil {
		t.Error("nothing was to be checked:", got, err)
	}
	limits := cable.TIA485()
	limits.RateLength = 2e8
	if got, err := with(func(p *cable.Pair) { p.Rate = 115200 }).Check(limits); got != nil || err != nil {
		t.Error(got, err)
	}
}

func TestBias(t *testing.T) {
	// TIA-485-A: a unit load is 12 kilohm or more; the rest is Ohm's law.
	near(t, "two of 120 ohm", must(cable.PairOhms(2, 120, 0)), 60, 1e-12)
	near(t, "32 unit loads", must(cable.PairOhms(0, 120, 32)), 375, 1e-9)
	near(t, "bias current", must(cable.BiasCurrent(0.2, 60)), 0.003333, 5e-7)
	near(t, "equal resistors", must(cable.GreatestBias(5, 0.2, 60)), 720, 1e-9)
	near(t, "with 32 unit loads", must(cable.GreatestBias(5, 0.2, must(cable.PairOhms(2, 120, 32)))), 620.7, 0.05)
	near(t, "560 and 560", must(cable.BiasVoltage(5, 560, 560, 60)), 0.2542, 5e-5) // voltage divider
	rapid.Check(t, func(t *rapid.T) {
		between, supply := rapid.Float64Range(1, 1000).Draw(t, "between"), rapid.Float64Range(3, 24).Draw(t, "supply")
		volts := rapid.Float64Range(0.1, 2).Draw(t, "volts")
		each := must(cable.GreatestBias(supply, volts, between))
		if each < 0.1 {
			return
		}
		if got := must(cable.BiasVoltage(supply, each, each, between)); got < volts*(1-1e-9) || got > volts*(1+1e-9) {
			t.Fatalf("%v leave %v, want %v", each, got, volts)
		}
	})
}

func TestReadPair(t *testing.T) {
	for _, c := range []struct {
		ohms, loop float64
		want       cable.Termination
	}{
		// Resistors of 120 ohm in parallel.
		{60, 0, cable.TwoTerminators}, {120, 0, cable.OneTerminator}, {40, 0, cable.ThreeTerminators}, {1e6, 0, cable.NoTerminator},
		// 60 ohm with 32 unit loads of 12 kilohm.
		{51.7, 0, cable.TwoTerminators},
		{2, 0, cable.PairShorted}, {12000, 0, cable.NoTerminator}, {30, 0, cable.TerminationUnclear}, {85, 0, cable.TerminationUnclear},
		// Over 60 ohm of cable: 120 with 180 in parallel are 72, with another 120 here 45.
		{72, 60, cable.TwoTerminators}, {180, 60, cable.OneAtFarEnd}, {120, 60, cable.OneTerminator}, {45, 60, cable.ThreeTerminators},
		{1e6, 2000, cable.NoTerminator}, {2120, 2000, cable.OneAtFarEnd},
	} {
		if got := must(cable.ReadPair(c.ohms, 120, c.loop)); got != c.want {
			t.Errorf("%v over %v ohm of cable: %v, want %v", c.ohms, c.loop, got, c.want)
		}
	}
}
