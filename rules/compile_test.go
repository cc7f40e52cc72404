package rules

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"ferrule/knowledge"
)

func TestCompileProblems(t *testing.T) {
	tests := []struct {
		name, when string
		at         string // the text at which the fault stands
		wrong      string
		advice     string
	}{
		{"misspelt reading", "device.powered and radio.signl < 40", "radio.signl", `unknown reading "radio.signl"`, "did you mean radio.signal?"},
		{"misspelt choice", `device.colour == "gren"`, `"gren"`, `"gren" is no choice of device.colour`, "did you mean green?"},
		{"misspelt choice in a list", `device.colour in ["green", "ambre"]`, `"ambre"`, `"ambre" is no choice`, "did you mean amber?"},
		{"misspelt member", `"uper bus" in hub.wired_to`, `"uper bus"`, `"uper bus" is no member of hub.wired_to`, "did you mean upper bus?"},
		{"misspelt model", `hub.model == "Bich"`, `"Bich"`, `"Bich" is no choice of hub.model`, "did you mean Birch?"},
		{"unlike kinds", `radio.signal == device.colour`, "==", "radio.signal is a number, and device.colour is a choice", "like with like"},
		{"number with word", `radio.signal < "40"`, "<", `radio.signal is a number, and 40 is a word in quotes`, "without quotes"},
		{"version with number", `hub.firmware < 3.05`, "<", `hub.firmware is a version, and 3.05 is a number`, `in quotes, such as "3.05"`},
		{"choices in common", `hub.colour == hub.model`, "==", "no choice in common", ""},
		{"order of choices", `device.colour < "green"`, "<", "has no order", "use == or !="},
		{"the clock", "radio.signal < 40 and now() > 3", "now", "the function now is not used", "as a reading"},
		{"known", "known(radio.signal)", "known", "the function known is not used", "never turns on not knowing"},
		{"closure", "any([1], radio.signal > 3)", "any", "the function any is not used", "closures"},
		{"pipe", "radio.signal | abs() > 3", "|", `"|" is not used in rules`, "f(x)"},
		{"two outcomes", "device.powered ? device.sealed : device.powered", "?", `"?" is not used`, "two outcomes are two rules"},
		{"single equals sign", `device.colour = "green"`, "=", `"=" is not used`, "write =="},
		{"list alone", "[1, 2] == radio.signal", "[", "a list is not used", ""},
		{"index", `radio[1] > 3`, "radio", "an index is not used", ""},
		{"unit mix", "radio.signal > supply.volts", ">", "radio.signal is in %, and supply.volts is in V", "one unit"},
		{"unit mix in a sum", "radio.signal + supply.volts > 3", "+", "radio.signal is in %, and supply.volts is in V", "one unit"},
		{"version literal", `hub.firmware < "new"`, `"new"`, `"new" is no version`, ""},
		{"not before a comparison", "not radio.signal < 40", "not", "not would apply to", "write not (a < b)"},
		{"no condition", "radio.signal", "radio.signal", "radio.signal is a number, and a condition is wanted", "radio.signal > 0"},
		{"set alone", "hub.wired_to", "hub.wired_to", "is a set, and a condition", "any_of(hub.wired_to)"},
		{"foreign sets", "missing(hub.needs_connections, device.powered)", "device.powered", "a set is wanted here", ""},
		{"constants", "1 < 2", "<", "compares two constants", "name a reading"},
		{"division by zero", "supply.load / 0 > 1", "/", "has no value", "must not be 0"},
		{"syntax", "radio.signal < 40 and", "", "can't be read", ""},
		{"unclosed bracket", "(radio.signal < 40", "", "can't be read", ""},
		{"bare word", "device.colour == green", "green", `unknown reading "green"`, "in quotes"},
		{"bad pattern", `panel.log matches "(["`, `"(["`, "is no pattern", ""},
		{"unit of an argument", "cable_drop(radio.signal, 0.22, 1) > 1", "radio.signal", "radio.signal is in %, and cable_drop takes length one way in m", "write cable_drop(length one way in m"},
		{"number of arguments", "cable_drop(1, 2) > 1", "cable_drop", "cable_drop is called with 2 arguments", "write cable_drop("},
		{"misspelt formula", "cable_drip(1, 2, 3) > 1", "cable_drip", "the function cable_drip is not used", "did you mean cable_drop?"},
		{"senseless constant", "cable_drop(-50, 0.22, supply.load) > 1", "-50", "cable_drop takes no length one way of -50", "length one way is 0 to 5000 m"},
		{"one_if of a number", "one_if(radio.signal) > 0", "radio.signal", "radio.signal is a number, and a yes/no is wanted", ""},
		{"one_if of nothing", "one_if() > 0", "one_if", "one_if is called with 0 arguments", "write one_if(yes/no)"},
		{"nil", "radio.signal == nil", "nil", "nil is not used", "unknown by itself"},
		{"text as a word", `device.colour contains "green"`, "device.colour", "a text is wanted here", ""},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			_, err := Compile(loadPack(t, rulesYAML(yamlQuote(test.when))))
			var problems knowledge.Problems
			if !errors.As(err, &problems) || len(problems) != 1 {
				t.Fatalf("got %v, want one problem", err)
			}
			p := problems[0]
			// The loader gives a quoted scalar the place of its quote or of
			// its text; the fault stands at the same distance from either.
			base := loadPack(t, rulesYAML(yamlQuote(test.when))).Rules[0].When.Pos
			want := fmt.Sprintf("more.yaml:%d:%d", base.Line, base.Column+strings.Index(test.when, test.at))
			if test.at != "" && p.Pos.String() != want {
				t.Errorf("at %s, want %s: %s", p.Pos, want, p.Wrong)
			}
			if !strings.Contains(p.Wrong, test.wrong) {
				t.Errorf("%q does not say %q", p.Wrong, test.wrong)
			}
			if !strings.Contains(p.Advice, test.advice) {
				t.Errorf("%q does not advise %q", p.Advice, test.advice)
			}
		})
	}
}

func TestEveryFaultIsReported(t *testing.T) {
	_, err := Compile(loadPack(t, `
rules:
  - rule: faulty
    when: radio.signl < 40 and device.color == "green" or radio.signal > supply.volts
    kind: note
    says: At {radio.signl} the level is {radio.signal}.
    source: invented
    examples: [{readings: {radio.signal: forty, device.colour: gren}, fires: true}]
`))
	var got []string
	for _, p := range knowledge.ProblemsOf(err) {
		got = append(got, fmt.Sprintf("%d:%d", p.Line, p.Column))
	}
	want := "4:11 4:32 4:72 6:15 8:42 8:64"
	if strings.Join(got, " ") != want {
		t.Errorf("got %v, want %s:\n%v", got, want, err)
	}
}

func TestCycleIsNamed(t *testing.T) {
	_, err := Compile(loadPack(t, `
readings:
  - {reading: x.a, title: a, kind: number, subject: site, expression: x.b + 1, source: invented}
  - {reading: x.b, title: b, kind: number, subject: site, expression: 2 * x.c, source: invented}
  - {reading: x.c, title: c, kind: number, subject: site, expression: x.a - supply.load, source: invented}
`))
	want := "more.yaml:5:71: these readings follow from each other: x.a -> x.b -> x.c -> x.a (one of them must be given, not derived)"
	if err == nil || err.Error() != want {
		t.Errorf("got %v\nwant %s", err, want)
	}
}

func TestDerivedReadingsAreTyped(t *testing.T) {
	tests := []struct{ yaml, want string }{
		{`{reading: x.a, title: a, kind: number, subject: site, expression: device.powered, source: s}`, "the reading is a number, and the expression gives a yes/no"},
		{`{reading: x.a, title: a, kind: number, unit: V, subject: site, expression: radio.signal * 2, source: s}`, "the reading is in V, and the expression gives %"},
		{`{reading: x.a, title: a, kind: choice, choices: [{choice: b}], subject: site, expression: device.colour, source: s}`, "a choice can't be derived"},
		{`{reading: x.a, title: a, kind: yes/no, subject: site, expression: radio.signal, source: s}`, "a condition is wanted here"},
		{`{reading: x.a, title: a, kind: number, subject: site, others: {over: device, where: device.powered, is: any}, source: s}`, "any over others gives a yes/no"},
		{`{reading: x.a, title: a, kind: number, unit: "%", subject: device, property: {name: lowest_level, of: device.colour}, source: s}`, "device.colour does not hold models"},
		{`{reading: x.a, title: a, kind: yes/no, subject: device, property: {name: lowest_level, of: device.model}, source: s}`, `"52" is neither yes nor no`},
		{`{reading: x.a, title: a, kind: number, subject: device, default: forty, ask: How much?, place: panel, minutes: 1, source: s}`, `"forty" is not a number`},
		{`{reading: x.a, title: a, kind: number, subject: site, expression: floor(supply.load), source: s}`, "works on exact numbers only"},
	}
	for _, test := range tests {
		_, err := Compile(loadPack(t, "readings:\n  - "+test.yaml+"\n"))
		if err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("%s\ngot  %v\nwant %s", test.yaml, err, test.want)
		}
	}
}

func TestTooManyConditions(t *testing.T) {
	if testing.Short() {
		t.Skip("builds 66,000 conditions")
	}
	p := loadPack(t, rulesYAML("radio.signal < 1"))
	rule := p.Rules[0]
	for i := range 66_000 {
		r := rule
		r.When.S = fmt.Sprintf("radio.signal < %d", i)
		p.Rules = append(p.Rules, r)
	}
	_, err := Compile(p)
	if err == nil || !strings.Contains(err.Error(), "65000 are possible") {
		t.Errorf("got %v", err)
	}
}

// FuzzCompile: whatever an expression holds, compiling reports problems of
// the pack and nothing else.
func FuzzCompile(f *testing.F) {
	for _, seed := range []string{
		"radio.signal < 40", `hub.firmware >= "3.05" and not device.powered`, "radio.signl < 40", "not a < b", "((((", `"\x`,
		`missing(hub.needs_connections, hub.wired_to)`, `panel.log matches "(["`, "radio.signal ** 2 > 3", "1/0", "x ? y : z", "now()",
		"let a = 1; a", "radio[1:2]", "{a: 1}", "any([1], # > 2)", "radio.signal in 1..3", "-device.colour", "a.b.c.d", "radio?.signal", "::abs(1)",
		"min()", "without(hub.wired_to, hub.wired_to)", "1e400 < radio.signal", "0x7fffffffffffffffffff", "b'abc' == panel.log",
		"abs(-9223372036854775808) < supply.load", "any_of(1)", "supply.load * 1e308 * 1e308 > 1", "lower(upper(trim(panel.log))) == \"a\"",
	} {
		f.Add(seed)
	}
	pack := loadPack(f, rulesYAML("radio.signal < 1"))
	f.Fuzz(func(t *testing.T, when string) {
		p := *pack
		p.Rules = []knowledge.Rule{pack.Rules[0]}
		p.Rules[0].When.S = when
		p.Rules[0].Says.S = when
		program, err := Compile(&p)
		var problems knowledge.Problems
		if err != nil && !errors.As(err, &problems) {
			t.Fatalf("not a problem of the pack: %v", err)
		}
		if err == nil {
			f, v := judge(program, observed(t, program, "radio.signal", "30..50", "panel.log", "a log", "supply.load", "3"), BindOptions{})
			program.Needs(f, v, 0)
			program.Because(f, v, 0)
			program.Says(f, 0)
		}
	})
}
