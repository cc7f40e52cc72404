package rules

import (
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestConditions(t *testing.T) {
	tests := []struct {
		when  string
		given []string
		want  Truth
	}{
		{"radio.signal < 40", nil, Undecided},
		{"radio.signal < 40", []string{"radio.signal", "31"}, True},
		{"40 > radio.signal", []string{"radio.signal", "31"}, True},
		{"radio.signal < 40", []string{"radio.signal", "35..45"}, Undecided},
		{"radio.signal < 40", []string{"radio.signal", ">40"}, False},
		{"radio.signal <= 40", []string{"radio.signal", ">40"}, False},
		{"radio.signal < 40 and device.powered", []string{"radio.signal", "50"}, False},
		{"radio.signal < 40 or device.powered", []string{"radio.signal", "30"}, True},
		{"not (radio.signal < 40 or device.powered)", []string{"radio.signal", "50"}, Undecided},
		{"not (radio.signal < 40 or device.powered)", []string{"radio.signal", "50", "device.powered", "no"}, True},
		{"not device.powered", []string{"device.powered", "no"}, True},
		{"device.powered == no", []string{"device.powered", "no"}, True},
		{"device.powered != device.sealed", []string{"device.powered", "no", "device.sealed", "yes"}, True},
		{`device.colour == "green"`, []string{"device.colour", "amber"}, False},
		{`device.colour != "green"`, []string{"device.colour", "amber"}, True},
		{`device.colour == hub.colour`, []string{"device.colour", "green", "hub.colour", "green"}, True},
		{`device.colour in ["green", "amber"]`, []string{"device.colour", "amber"}, True},
		{`device.colour not in ["green", "amber"]`, []string{"device.colour", "amber"}, False},
		{`"spare" in hub.wired_to`, []string{"hub.wired_to", "upper bus"}, Undecided},
		{`"spare" in hub.wired_to`, []string{"hub.wired_to", "!spare"}, False},
		{`"spare" not in hub.wired_to`, []string{"hub.wired_to", "!spare"}, True},
		{`missing(hub.needs_connections, hub.wired_to)`, []string{"hub.model", "Ash", "hub.wired_to", "upper bus"}, False},
		{`missing(hub.needs_connections, hub.wired_to)`, []string{"hub.model", "Birch", "hub.wired_to", "upper bus"}, Undecided},
		{`missing(hub.needs_connections, hub.wired_to)`, []string{"hub.model", "Birch", "hub.wired_to", "upper bus,!lower bus"}, True},
		{`not missing(hub.needs_connections, hub.wired_to)`, []string{"hub.model", "Birch", "hub.wired_to", "upper bus,lower bus"}, True},
		{`any_of(hub.unwired)`, []string{"hub.model", "Birch", "hub.wired_to", "!lower bus"}, True},
		{`any_of(without(hub.needs_connections, hub.wired_to))`, []string{"hub.model", "Birch", "hub.wired_to", "upper bus,lower bus"}, False},
		{`hub.firmware < "2.10"`, []string{"hub.firmware", "2.9"}, Undecided},
		{`hub.firmware < "2.10"`, []string{"hub.firmware", "2.9", "hub.model", "Ash"}, True},
		{`hub.firmware < "2.10"`, []string{"hub.firmware", "2.9", "hub.model", "any hub"}, Undecided},
		{`hub.firmware < "2.10"`, []string{"hub.firmware", "2.9", "hub.model", "Birch"}, Undecided},
		{`hub.firmware < "3.10"`, []string{"hub.firmware", "2.9", "hub.model", "Birch"}, True},
		{`hub.firmware < device.least_hub_firmware`, []string{"hub.firmware", "2.3", "hub.model", "Ash", "device.model", "Thorn"}, True},
		{`hub.firmware < device.least_hub_firmware`, []string{"hub.firmware", "1.31", "hub.model", "Birch", "device.model", "Thorn"}, False},
		{`hub.firmware < "2.0.0"`, []string{"hub.firmware", "2.0.0-rc.1", "hub.model", "Cedar"}, True},
		{`hub.firmware >= "2.0.0"`, []string{"hub.firmware", "2.0.0-rc.1", "hub.model", "Cedar"}, False},
		{`radio.signal - radio.noise < 10`, []string{"radio.signal", "40", "radio.noise", "25..35"}, Undecided},
		{`radio.signal - radio.noise < 20`, []string{"radio.signal", "40", "radio.noise", "25..35"}, True},
		{`supply.volts * supply.load / 2 > 10`, []string{"supply.volts", "12", "supply.load", "0..1"}, False},
		{`supply.volts / supply.load > 10`, []string{"supply.volts", "12", "supply.load", "0..1"}, Undecided},
		{`min(supply.load, 3) < 4`, nil, True},
		{`max(supply.load, 3) >= 3`, nil, True},
		{`abs(supply.load) >= 0`, nil, True},
		{`round(supply.load) == 3`, []string{"supply.load", "2.6..3.4"}, True},
		{`supply.load ** 2 > 8`, []string{"supply.load", "3"}, True},
		{`supply.load ** 2 > 8`, []string{"supply.load", "3..4"}, Undecided},
		{`floor(supply.load) == 3`, []string{"supply.load", "3.7"}, True},
		{`lower(panel.log) contains "tamper"`, []string{"panel.log", "Tamper 3"}, True},
		{`not (panel.log contains "tamper")`, []string{"panel.log", "fault"}, True},
		{`panel.log not contains "tamper"`, []string{"panel.log", "fault"}, True},
		{`panel.log matches "^E[0-9]+$"`, []string{"panel.log", "E17"}, True},
		{`len(panel.log) > 3`, []string{"panel.log", "E17"}, False},
		{`radio.poor`, []string{"radio.signal", "30"}, True}, // by the default limit
		{`radio.poor`, []string{"radio.signal", "45"}, Undecided},
		{`radio.poor`, []string{"radio.signal", "45", "device.model", "Thorn"}, True},
		{`radio.margin < 0 and not radio.poor`, []string{"radio.signal", "90", "radio.noise", "10"}, False},
		{`hub.generation < device.least_hub_generation`, []string{"hub.generation", "1", "device.model", "plain keypad"}, True},
		{`hub.generation < device.least_hub_generation`, []string{"hub.model", "Cedar", "device.model", "plain keypad"}, False},
		{`hub.generation < 2`, []string{"hub.model", "Cedar", "hub.generation", "1"}, Undecided}, // a contradiction
		{`cable_drop(100, 0.22, supply.load) > 4`, []string{"supply.load", "0.3"}, True},
		{`cable_drop(100, 0.22, supply.load) > 4`, []string{"supply.load", "0.2..0.3"}, Undecided},
		{`cable_drop(100, 0.22, supply.load) > 4`, []string{"supply.load", ">0.3"}, True},
		{`cable_drop(100, 0.22, supply.load) > 4`, nil, Undecided},
		{`supply.volts - cable_drop(100, 0.22, supply.load) < 10`, []string{"supply.load", "0.3", "supply.volts", "13.8"}, True},
		{`floor(cable_drop(100, 0.22, supply.load)) == 4`, []string{"supply.load", "0.3"}, True},
		{`radio.margin * one_if(device.powered) == 0`, []string{"device.powered", "no"}, True},
		{`radio.margin * one_if(device.powered) == 0`, []string{"device.powered", "yes"}, Undecided},
		{`recharge_hours(7, 0.5, supply.load) > 1000`, []string{"supply.load", "0.6"}, True}, // it never charges
		{`greatest_length(supply.volts, 10.5, 0.22, 0.1) == 0`, []string{"supply.volts", "9"}, True},
		{`1 < supply.load < 3`, []string{"supply.load", "2"}, True},
		{`supply.load in [1, 2]`, []string{"supply.load", "2"}, True},
	}
	for _, test := range tests {
		p := compileRules(t, yamlQuote(test.when))
		_, v := judge(p, observed(t, p, test.given...), BindOptions{})
		if got := v.Rule(0); got != test.want {
			t.Errorf("%s with %q is %v, want %v", test.when, test.given, got, test.want)
		}
		if len(v.Problems()) > 0 {
			t.Errorf("%s with %q: %v", test.when, test.given, v.Problems())
		}
	}
}

// yamlQuote puts a condition into single quotes.
func yamlQuote(s string) string { return "'" + s + "'" }

func TestOthers(t *testing.T) {
	p := compileRules(t, "hub.other_devices_low", "hub.low_devices >= 2", "hub.all_devices_low")
	o := observed(t, p, "radio.signal", "10")
	want := func(step string, truths ...Truth) {
		t.Helper()
		_, v := judge(p, o, BindOptions{})
		for i, truth := range truths {
			if got := v.Rule(i); got != truth {
				t.Errorf("%s: rule %d is %v, want %v", step, i, got, truth)
			}
		}
	}
	want("no other device", Undecided, Undecided, Undecided)
	setObserved(t, p, o, 2, "radio.signal", "50")
	want("one other, well", False, False, False)
	setObserved(t, p, o, 3, "device.powered", "yes")
	want("a third of unknown level", Undecided, False, False)
	setObserved(t, p, o, 3, "radio.signal", "20")
	setObserved(t, p, o, 2, "radio.signal", "21")
	want("both low", True, True, True)
	o.Set("hub.other_devices_low", Subject{"hub", 1}, Yes(false))
	want("given by hand", False, True, True)
}

func TestSureLeavesHedgedValuesOut(t *testing.T) {
	p := compileRules(t, "hub.generation < 2")
	o := observed(t, p, "hub.generation", "~1")
	if _, v := judge(p, o, BindOptions{}); v.Rule(0) != True {
		t.Errorf("unsure: %v", v.Rule(0))
	}
	f, v := judge(p, o, BindOptions{Sure: true})
	if v.Rule(0) != Undecided {
		t.Errorf("sure: %v", v.Rule(0))
	}
	if d := cmp.Diff([]string{"hub.generation"}, p.Needs(f, v, 0)); d != "" {
		t.Error(d)
	}
	o = observed(t, p, "hub.model", "~Ash")
	if _, v = judge(p, o, BindOptions{Sure: true}); v.Rule(0) != Undecided {
		t.Errorf("property of a hedged model: %v", v.Rule(0))
	}
}
