package rules

import (
	"fmt"
	"strings"
	"testing"
	"testing/fstest"

	"ferrule/knowledge"
)

// vocabularyYAML is a small invented vocabulary with one reading of each sort.
const vocabularyYAML = `
hazards:
  - {hazard: none_here, full: Take care., short: Care., source: invented}
symptoms:
  - {symptom: weak_signal, title: weak signal, subject: device, source: invented}
causes:
  - cause: place_too_weak
    title: the place is too weak
    symptoms: {weak_signal: 0.3}
    fix: {steps: [Move it.], minutes: 20}
    success: The level rises.
    source: invented
equipment:
  - {model: any hub, class: hub, generic: yes, source: invented}
  - {model: young hub, class: hub, generic: yes, generation: 2, source: invented}
  - {model: Ash, class: hub, kind: any hub, generation: 1, scheme: dotted, connections: [upper bus], source: invented}
  - {model: Birch, class: hub, kind: young hub, generation: 2, scheme: two-digit, connections: [upper bus, lower bus], source: invented}
  - {model: Cedar, class: hub, kind: young hub, generation: 3, scheme: semver, source: invented}
  - {model: plain keypad, class: device, generic: yes, link: {least_hub_generation: 2}, source: invented}
  - model: Thorn
    class: device
    kind: plain keypad
    link: {least_hub_generation: 2, two_way: yes}
    lowest_level: 52
    requires:
      hub: {Ash: "2.4", Birch: "1.30"}
    source: invented
readings:
  - {reading: hub.model, title: hub model, kind: choice, subject: hub, ask: Which hub?, place: hub, minutes: 1, source: invented}
  - {reading: device.model, title: device model, kind: choice, subject: device, ask: Which device?, place: device, minutes: 1, source: invented}
  - {reading: hub.generation, title: hub generation, kind: number, subject: hub, property: {name: generation, of: hub.model}, ask: Which generation?, place: hub, minutes: 1, source: invented}
  - {reading: device.least_hub_generation, title: least hub generation, kind: number, subject: device, property: {name: least_hub_generation, of: device.model}, source: invented}
  - {reading: hub.firmware, title: hub firmware, kind: version, subject: hub, scheme_from: hub.model, ask: Which firmware?, place: panel, minutes: 2, source: invented}
  - {reading: device.least_hub_firmware, title: least hub firmware, kind: version, subject: device, property: {name: requires.hub, of: device.model, for: hub.model}, source: invented}
  - {reading: device.lowest_level, title: mounting limit, kind: number, subject: device, unit: "%", property: {name: lowest_level, of: device.model}, default: 40, source: invented}
  - {reading: radio.signal, title: signal level, kind: number, subject: device, unit: "%", ask: Which level?, place: panel, minutes: 3, source: invented}
  - {reading: radio.noise, title: noise level, kind: number, subject: hub, unit: "%", ask: Which noise?, place: panel, minutes: 3, source: invented}
  - {reading: supply.volts, title: supply voltage, kind: number, subject: panel, unit: V, ask: Which voltage?, place: panel, minutes: 3, source: invented}
  - {reading: supply.load, title: load, kind: number, subject: panel, ask: Which load?, place: panel, minutes: 3, source: invented}
  - {reading: radio.margin, title: margin, kind: number, subject: device, unit: "%", expression: radio.signal - device.lowest_level, source: invented}
  - {reading: radio.poor, title: poor radio, kind: yes/no, subject: device, expression: radio.margin < 0 or radio.noise > 60, source: invented}
  - {reading: device.powered, title: powered, kind: yes/no, subject: device, ask: Is it powered?, place: device, minutes: 1, source: invented}
  - {reading: device.sealed, title: sealed, kind: yes/no, subject: device, ask: Is it sealed?, place: device, minutes: 1, source: invented}
  - reading: device.colour
    title: colour of the lamp
    kind: choice
    subject: device
    choices: [{choice: green}, {choice: amber, title: amber light}, {choice: dark}]
    ask: Which colour?
    place: device
    minutes: 1
    source: invented
  - reading: hub.colour
    title: colour of the hub's lamp
    kind: choice
    subject: hub
    choices: [{choice: green}, {choice: violet}]
    ask: Which colour?
    place: hub
    minutes: 1
    source: invented
  - reading: hub.needs_connections
    title: connections that the hub needs
    kind: set
    subject: hub
    property: {name: connections, of: hub.model}
    choices: [{choice: upper bus}, {choice: lower bus}]
    source: invented
  - reading: hub.wired_to
    title: what the hub is wired to
    kind: set
    subject: hub
    choices: [{choice: upper bus}, {choice: lower bus}, {choice: spare}]
    ask: What is it wired to?
    place: hub
    minutes: 2
    source: invented
  - reading: hub.unwired
    title: what is not wired
    kind: set
    subject: hub
    choices: [{choice: upper bus}, {choice: lower bus}]
    expression: without(hub.needs_connections, hub.wired_to)
    source: invented
  - {reading: panel.log, title: panel log, kind: text, subject: panel, ask: What does the log say?, place: panel, minutes: 2, source: invented}
  - reading: hub.other_devices_low
    title: other devices low
    kind: yes/no
    subject: hub
    others: {over: device, where: radio.margin < 0, is: any}
    ask: Are other devices low as well?
    place: panel
    minutes: 3
    source: invented
  - {reading: hub.low_devices, title: low devices, kind: number, subject: hub, others: {over: device, where: radio.signal < 30, is: count}, source: invented}
  - {reading: hub.all_devices_low, title: all devices low, kind: yes/no, subject: hub, others: {over: device, where: radio.signal < 30, is: all}, source: invented}
`

// loadPack loads the vocabulary and more YAML beside it.
func loadPack(t testing.TB, more string) *knowledge.Pack {
	t.Helper()
	files := fstest.MapFS{"vocabulary.yaml": {Data: []byte(vocabularyYAML)}}
	if more != "" {
		files["more.yaml"] = &fstest.MapFile{Data: []byte(more)}
	}
	p, err := knowledge.Load(files)
	if err != nil {
		t.Fatalf("loading the pack: %v", err)
	}
	return p
}

// rulesYAML writes one rule for each condition.
func rulesYAML(conditions ...string) string {
	var b strings.Builder
	b.WriteString("rules:\n")
	for i, when := range conditions {
		fmt.Fprintf(&b, "  - rule: r%d\n    when: %s\n    kind: note\n    says: Rule %d.\n    source: invented\n    examples: [{readings: {}, fires: unknown}]\n", i, when, i)
	}
	return b.String()
}

// compileRules compiles the vocabulary with one rule for each condition.
func compileRules(t testing.TB, conditions ...string) *Program {
	t.Helper()
	p, err := Compile(loadPack(t, rulesYAML(conditions...)))
	if err != nil {
		t.Fatalf("compiling: %v", err)
	}
	return p
}

// observed sets values of first subjects as a pack writes them.
func observed(t testing.TB, p *Program, pairs ...string) *Observed {
	t.Helper()
	o := &Observed{}
	for i := 0; i < len(pairs); i += 2 {
		setObserved(t, p, o, 1, pairs[i], pairs[i+1])
	}
	return o
}

func setObserved(t testing.TB, p *Program, o *Observed, n int, name, text string) {
	t.Helper()
	r := p.pack.Reading(name)
	if r == nil {
		t.Fatalf("no reading %s", name)
	}
	s := knowledge.Scalar{S: text}
	if r.Kind == knowledge.Set {
		s = knowledge.Scalar{List: []knowledge.Str{}}
		for _, m := range strings.Split(text, ",") {
			if m != "" {
				s.List = append(s.List, knowledge.Str{S: m})
			}
		}
	}
	v, err := p.ParseValue(r, s)
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	o.Set(name, Subject{r.Class, n}, v)
}

// judge binds and evaluates.
func judge(p *Program, o *Observed, opts BindOptions) (*Facts, *Verdict) {
	f, v := p.NewFacts(), new(Verdict)
	p.Bind(f, o, nil, opts)
	p.Evaluate(f, v)
	return f, v
}
