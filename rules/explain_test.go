package rules

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ferrule/knowledge"
)

func TestNeeds(t *testing.T) {
	tests := []struct {
		when  string
		given []string
		want  []string
	}{
		{"hub.generation < device.least_hub_generation", []string{"device.model", "plain keypad"}, []string{"hub.generation"}},
		{"hub.generation < device.least_hub_generation", nil, []string{"hub.generation", "device.model"}},
		{"radio.margin < 0", nil, []string{"radio.signal"}}, // the limit has a default
		{"radio.margin < 0", []string{"radio.signal", "35..45"}, []string{"radio.signal"}},
		{"radio.poor", []string{"radio.signal", "60"}, []string{"radio.noise"}},
		{"radio.poor and device.powered", nil, []string{"radio.signal", "radio.noise", "device.powered"}},
		{"radio.signal < 40 and device.powered", []string{"radio.signal", "30"}, []string{"device.powered"}},
		{"radio.signal < 40 or device.powered", []string{"radio.signal", "50"}, []string{"device.powered"}},
		{`hub.firmware < "2.10"`, nil, []string{"hub.firmware", "hub.model"}},
		{`hub.firmware < "2.10"`, []string{"hub.firmware", "2.9"}, []string{"hub.model"}},
		{`hub.firmware < "2.10"`, []string{"hub.firmware", "2.9", "hub.model", "any hub"}, []string{"hub.model"}},
		{`hub.firmware < "2.10"`, []string{"hub.firmware", "2.1", "hub.model", "Birch"}, []string{"hub.firmware"}}, // 2.01 or 2.10
		{`hub.firmware < "2.10"`, []string{"hub.model", "Ash"}, []string{"hub.firmware"}},
		{"hub.firmware < device.least_hub_firmware", []string{"hub.firmware", "2.9", "device.model", "Thorn"}, []string{"hub.model"}},
		{"hub.firmware < device.least_hub_firmware", []string{"hub.firmware", "2.9", "device.model", "plain keypad", "hub.model", "Ash"}, []string{"device.model"}},
		{"missing(hub.needs_connections, hub.wired_to)", []string{"hub.model", "Birch", "hub.wired_to", "upper bus"}, []string{"hub.wired_to"}},
		{"missing(hub.needs_connections, hub.wired_to)", []string{"hub.wired_to", "upper bus,lower bus,spare"}, nil},
		{"any_of(hub.unwired)", []string{"hub.wired_to", "!upper bus"}, []string{"hub.model", "hub.wired_to"}},
		{"hub.other_devices_low", nil, []string{"hub.other_devices_low"}},
		{"hub.low_devices > 1", nil, nil}, // nobody can be asked for it
		{`panel.log contains "a" and supply.load ** 2 > 4`, nil, []string{"panel.log", "supply.load"}},
		{"min(supply.load, supply.volts * 0) < 3", []string{"supply.volts", "4"}, nil},
	}
	for _, test := range tests {
		p := compileRules(t, yamlQuote(test.when))
		f, v := judge(p, observed(t, p, test.given...), BindOptions{})
		if d := cmp.Diff(test.want, p.Needs(f, v, 0)); d != "" {
			t.Errorf("%s with %q:\n%s", test.when, test.given, d)
		}
	}
}

func TestUnavailableIsNotAskedAgain(t *testing.T) {
	p := compileRules(t, "hub.generation < 2 and radio.signal < 40")
	o := observed(t, p, "device.powered", "yes")
	o.Set("radio.signal", Subject{"device", 1}, Value{State: Unavailable})
	o.Set("hub.generation", Subject{"hub", 1}, Value{State: Unavailable})
	f, v := judge(p, o, BindOptions{})
	// The generation can still be had from the model.
	if d := cmp.Diff([]string{"hub.model"}, p.Needs(f, v, 0)); d != "" {
		t.Error(d)
	}
	if v, _ := p.ValueOf(f, "radio.signal"); v.State != Unavailable {
		t.Errorf("state %v", v.State)
	}
}

func TestBecause(t *testing.T) {
	tests := []struct {
		when        string
		given       []string
		short, full string
	}{
		{"hub.generation < device.least_hub_generation", []string{"hub.generation", "1", "device.model", "Thorn"},
			"hub.generation = 1", "hub.generation = 1 < 2 = device.least_hub_generation"},
		{"device.least_hub_generation > hub.generation", []string{"hub.generation", "1", "device.model", "Thorn"},
			"hub.generation = 1", "hub.generation = 1 < 2 = device.least_hub_generation"},
		{"radio.margin < -10", []string{"radio.signal", "31", "device.model", "Thorn"}, "radio.margin = -21 %", "radio.margin = -21 % < -10"},
		{"radio.signal < 40 and not device.powered", []string{"radio.signal", "30..35", "device.powered", "no"},
			"radio.signal = 30-35 %; device.powered = no", "radio.signal = 30-35 % < 40; device.powered = no"},
		{"radio.signal < 40 or device.powered", []string{"device.powered", "yes"}, "device.powered = yes", "device.powered = yes"},
		{`device.colour in ["green", "amber"]`, []string{"device.colour", "amber"}, "device.colour = amber light", "device.colour = amber light"},
		{`hub.firmware < "2.10"`, []string{"hub.firmware", "2.9", "hub.model", "Ash"}, "hub.firmware = 2.9", "hub.firmware = 2.9 < 2.10"},
		{"missing(hub.needs_connections, hub.wired_to)", []string{"hub.model", "Birch", "hub.wired_to", "upper bus,!lower bus"},
			"hub.wired_to = upper bus: yes, lower bus: no", "hub.needs_connections and not hub.wired_to: lower bus"},
		{"supply.volts - supply.load > 3", []string{"supply.volts", "12", "supply.load", "2"}, "supply.volts = 12 V; supply.load = 2", "supply.volts - supply.load = 10 > 3"},
		{"device.lowest_level > 50", []string{"device.model", "Thorn"}, "device.lowest_level = 52 %", "device.lowest_level = 52 % > 50"},
	}
	for _, test := range tests {
		p := compileRules(t, yamlQuote(test.when))
		f, v := judge(p, observed(t, p, test.given...), BindOptions{})
		if got := strings.Join(p.Because(f, v, 0), "; "); got != test.short {
			t.Errorf("%s: because %q, want %q", test.when, got, test.short)
		}
		var full []string
		for _, r := range p.Reasons(f, v, 0) {
			full = append(full, r.Full)
		}
		if got := strings.Join(full, "; "); got != test.full {
			t.Errorf("%s: in full %q, want %q", test.when, got, test.full)
		}
	}
}

func TestSays(t *testing.T) {
	pack := loadPack(t, `
rules:
  - rule: weak
    when: radio.margin < 0
    kind: note
    says: "{radio.signal} at {device.colour}: the limit is {device.lowest_level}, on {hub.model}."
    source: invented
    examples: [{readings: {radio.signal: 30}, fires: true}]
`)
	p, err := Compile(pack)
	if err != nil {
		t.Fatal(err)
	}
	f, _ := judge(p, observed(t, p, "radio.signal", "30", "device.colour", "amber"), BindOptions{})
	if got, want := p.Says(f, 0), "30 % at amber light: the limit is 40 %, on hub model."; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
}

func TestFormat(t *testing.T) {
	percent := &knowledge.Reading{Kind: knowledge.Number, Unit: "%"}
	level := &knowledge.Reading{Kind: knowledge.Number, Unit: "dBm"}
	bare := &knowledge.Reading{Kind: knowledge.Number}
	yes := &knowledge.Reading{Kind: knowledge.YesNo}
	tests := []struct {
		r    *knowledge.Reading
		v    Value
		want string
	}{
		{percent, Num(38), "38 %"},
		{percent, Between(35, 40), "35-40 %"},
		{level, Between(-80, -75), "-80 to -75 dBm"},
		{percent, Between(math.Nextafter(30, math.Inf(1)), math.Inf(1)), "> 30 %"},
		{percent, Between(30, math.Inf(1)), "30 % or more"},
		{percent, Between(math.Inf(-1), math.Nextafter(0.3, math.Inf(-1))), "< 0.3 %"},
		{percent, Between(math.Inf(-1), 30), "30 % or less"},
		{bare, Num(0.1 + 0.2), "0.3"},
		{bare, Num(1e6), "1000000"},
		{bare, Num(0), "0"},
		{yes, Yes(true), "yes"},
		{yes, Yes(false), "no"},
		{yes, Between(0, 1), "yes or no"},
		{&knowledge.Reading{Kind: knowledge.Version}, Named("3.05"), "3.05"},
		{&knowledge.Reading{Kind: knowledge.Set}, Members([]string{"keypad bus"}, []string{"expander bus"}), "keypad bus: yes, expander bus: no"},
		{percent, Value{}, "unknown"},
		{percent, Value{State: Unavailable}, "not available"},
	}
	for _, test := range tests {
		if got := Format(test.r, test.v); got != test.want {
			t.Errorf("%+v is %q, want %q", test.v, got, test.want)
		}
	}
}

func TestParseValue(t *testing.T) {
	p := compileRules(t, "device.powered")
	inf := math.Inf(1)
	tests := []struct {
		reading, text string
		want          Value
	}{
		{"radio.signal", "31", Num(31)},
		{"radio.signal", "31 %", Num(31)},
		{"radio.signal", "35..40", Between(35, 40)},
		{"radio.signal", "35..", Between(35, inf)},
		{"radio.signal", "..40", Between(-inf, 40)},
		{"radio.signal", ">30", Between(math.Nextafter(30, inf), inf)},
		{"radio.signal", "~31", Value{Low: 31, High: 31, Certainty: 0.7, State: Known}},
		{"device.powered", "yes", Yes(true)},
		{"device.colour", "amber", Named("amber")},
		{"hub.firmware", "4.10", Named("4.10")},
		{"hub.wired_to", "!spare,upper bus", Members([]string{"upper bus"}, []string{"spare"})},
	}
	for _, test := range tests {
		o := observed(t, p, test.reading, test.text)
		r := p.pack.Reading(test.reading)
		if d := cmp.Diff(test.want, o.Get(test.reading, Subject{r.Class, 1})); d != "" {
			t.Errorf("%s %q:\n%s", test.reading, test.text, d)
		}
	}
	for reading, text := range map[string]string{"radio.signal": "40..35", "device.powered": "maybe", "device.colour": "gren", "supply.load": "1e999", "supply.volts": "..", "radio.noise": "NaN"} {
		if _, err := p.ParseValue(p.pack.Reading(reading), knowledge.Scalar{S: text, Pos: knowledge.Pos{File: "a", Line: 1, Column: 2}}); err == nil || !strings.HasPrefix(err.Error(), "a:1:2: ") {
			t.Errorf("%s %q: %v", reading, text, err)
		}
	}
}

func TestValueOf(t *testing.T) {
	p := compileRules(t, "device.powered")
	o := observed(t, p, "hub.model", "Birch", "hub.generation", "1", "radio.signal", "~50", "hub.firmware", "2.5")
	f, _ := judge(p, o, BindOptions{})
	want := func(reading, text string, kind OriginKind) Origin {
		t.Helper()
		v, origin := p.ValueOf(f, reading)
		if got := Format(p.pack.Reading(reading), v); got != text || origin.Kind != kind {
			t.Errorf("%s = %s from %v, want %s from %v", reading, got, origin.Kind, text, kind)
		}
		return origin
	}
	want("hub.model", "Birch", FromGiven)
	want("hub.needs_connections", "upper bus: yes, lower bus: yes", FromProperty)
	want("device.lowest_level", "40 %", FromDefault)
	if o := want("radio.margin", "10 %", FromDerived); o.Expression != "radio.signal - device.lowest_level" {
		t.Errorf("expression %q", o.Expression)
	}
	if v, _ := p.ValueOf(f, "radio.margin"); v.Certainty != 0.7 {
		t.Errorf("certainty %v", v.Certainty)
	}
	if v, o := p.ValueOf(f, "hub.generation"); v.State != Conflicting || o.Given.Low != 1 || o.Other.Low != 2 || o.Model != "Birch" {
		t.Errorf("conflict: %+v %+v", v, o)
	}
	if d := cmp.Diff([]string{"2.05", "2.50"}, p.AmbiguousVersion(f, "hub.firmware")); d != "" {
		t.Error(d)
	}
	want("device.colour", "unknown", FromNowhere)
}

func TestFocus(t *testing.T) {
	p := compileRules(t, "radio.signal < 40")
	o := observed(t, p, "radio.signal", "80")
	setObserved(t, p, o, 2, "radio.signal", "20")
	f, v := p.NewFacts(), new(Verdict)
	for n, want := range map[int]Truth{1: False, 2: True, 3: Undecided} {
		p.Bind(f, o, Focus{knowledge.Device: n}, BindOptions{})
		p.Evaluate(f, v)
		if v.Rule(0) != want {
			t.Errorf("device %d: %v, want %v", n, v.Rule(0), want)
		}
	}
}

const evidenceYAML = `
evidence:
  - evidence: level-at-the-place
    bands: [{when: radio.margin < -10}, {when: radio.margin < 0}, rest]
    given: {place_too_weak: [0.5, 0.3, 0.2]}
    otherwise: [0.1, 0.1, 0.8]
    source: invented
    examples:
      - {readings: {radio.signal: 20}, band: 1}
      - {readings: {radio.signal: 35}, band: 2}
      - {readings: {radio.signal: 30..35}, band: 2}
      - {readings: {radio.signal: 50}, band: 1}
`

func TestEvidence(t *testing.T) {
	p, err := Compile(loadPack(t, evidenceYAML))
	if err != nil {
		t.Fatal(err)
	}
	for value, want := range map[string]uint32{"": 0b111, "20": 0b001, "35": 0b010, "50": 0b100, "25..35": 0b011, "35..": 0b110, "..39": 0b011} {
		o := &Observed{}
		if value != "" {
			o = observed(t, p, "radio.signal", value)
		}
		f, v := judge(p, o, BindOptions{})
		if got := v.Bands(0); got != want {
			t.Errorf("level %q: bands %b, want %b", value, got, want)
		}
		if needs := p.BandNeeds(f, v, 0); (len(needs) > 0) != (want&(want-1) != 0) {
			t.Errorf("level %q: needs %v", value, needs)
		}
	}
	if d := cmp.Diff([]string{"radio.signal"}, p.EvidenceReadings(0)); d != "" {
		t.Error(d)
	}
	f, _ := judge(p, observed(t, p, "radio.signal", "~20"), BindOptions{})
	if c := p.Certainty(f, 0); c != 0.7 {
		t.Errorf("certainty %v", c)
	}
	results := p.RunExamples()
	if len(results) != 4 || !results[0].Pass || !results[1].Pass || !results[2].Pass {
		t.Errorf("examples: %v", results)
	}
	if r := results[3]; r.Pass || r.String() != "more.yaml:12:10: level-at-the-place example 4: wanted band 1, got band 3" {
		t.Errorf("the fourth should fail: %v", r)
	}
}

func TestRunExamples(t *testing.T) {
	p, err := Compile(loadPack(t, `
rules:
  - rule: hub-generation-too-old
    when: hub.generation < device.least_hub_generation
    kind: blocker
    cause: place_too_weak
    says: Too old.
    source: invented
    examples:
      - {readings: {device.model: plain keypad, hub.generation: 1}, fires: true}
      - {readings: {device.model: plain keypad, hub.generation: 2}, fires: false}
      - {readings: {device.model: plain keypad}, fires: unknown, needs: [hub.generation]}
      - {readings: {device.model: plain keypad, hub.generation: ~1}, fires: unknown, needs: [hub.generation]}
      - {readings: {device.model: plain keypad}, fires: unknown, needs: [hub.model]}
`))
	if err != nil {
		t.Fatal(err)
	}
	for i, r := range p.RunExamples() {
		if r.Pass != (i < 4) {
			t.Errorf("%v", r)
		}
	}
}

// A reading that follows from others and may be given as well counts with what
// it follows from, so that no table can take it twice.
func TestReadingThatIsAskedAndDerivedCountsBoth(t *testing.T) {
	p, err := Compile(loadPack(t, `
readings:
  - {reading: way.walls, title: walls, kind: number, subject: device, ask: How many?, place: anywhere, minutes: 1, source: invented}
  - {reading: way.brick, title: brick walls, kind: number, subject: device, expression: way.walls, ask: How many of brick?, place: anywhere, minutes: 1, source: invented}
  - {reading: way.loss, title: loss, kind: number, subject: device, expression: way.brick * 7, source: invented}
causes:
  - {cause: far, title: far, symptoms: {weak_signal: 0.4}, fix: {steps: [move it], minutes: 5}, success: ok, source: invented}
evidence:
  - {evidence: e, bands: [{when: way.loss > 10}, rest], given: {far: [0.9, 0.1]}, otherwise: [0.1, 0.9], source: invented}
`))
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff([]string{"way.brick", "way.walls"}, p.EvidenceReadings(0)); d != "" {
		t.Error(d)
	}
}
