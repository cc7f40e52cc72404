package calc

import (
	"fmt"
	"strings"

	"ferrule/knowledge/cable"
	"ferrule/knowledge/loop"
	"ferrule/knowledge/units"
)

func loopKind() Kind {
	return Kind{
		Name:  "loop",
		Short: "What a loop should measure in each state, and what a reading means",
		Long: `Loop works out the resistance of an end-of-line loop in each state, at worst over
the resistors' tolerances, the cable and the contacts, and says which state a
measured resistance is. Measure with the cores off the panel. Codes such as 2k2
and 4R7 are understood.`,
		Examples: []string{
			"2k2 end, 4k7 alarm, measured 6.9 k",
			"one resistor 2k2, measured 1.1 k",
			"4k7 end, 4k7 alarm, 2k2 fault, 1 % tolerance, 100 m of 0.22 mm2, measured 9.6 k",
		},
		Fields: []Field{
			{Name: "end", Help: "end-of-line resistor", Unit: "ohm", loose: true, Words: []string{"end", "eol", "eolr", "end of line"}},
			{Name: "alarm", Help: "resistor over the alarm contact", Unit: "ohm", loose: true, Words: []string{"alarm", "contact", "alarm contact"}},
			{Name: "fault", Help: "resistor over the fault or masking contact", Unit: "ohm", loose: true, Words: []string{"fault", "mask", "masking", "third"}},
			{Name: "measured", Help: "what the meter shows", Unit: "ohm", loose: true, Leads: []string{"measured", "measure", "reads", "reading", "meter", "shows", "measures"}},
			{Name: "meter", Help: "what the meter says; overload, where it shows no number", Choices: []Choice{{"overload", []string{"open circuit", "open line", "open loop", "overload", "ol", "infinite", "open"}}}},
			{Name: "cable", Help: "resistance of the cable, both ways", Unit: "ohm", Words: []string{"cable"}},
			{Name: "closed-contact", Help: "most that a closed contact has", Unit: "ohm", Words: []string{"closed contact"}},
			{Name: "tolerance", Help: "tolerance of the resistors", Unit: "%"},
			{Name: "length", Help: "length of the cable, one way", Unit: "m"},
			{Name: "section", Help: "section of one core", Unit: "mm2"},
			{Name: "solid", Help: "diameter of a solid core", Unit: "mm", flag: true},
		},
		claim:   claimSolid,
		idle:    []string{"resistor", "resistors", "ohm", "ohms", "loop", "zone", "line", "tolerance", "detector", "of", "one", "circuit"},
		rewrite: strandsAsSection,
		work:    workLoop,
	}
}

func workLoop(in *Input) (*Sheet, error) {
	l, err := readLoop(in)
	if err != nil {
		return nil, err
	}
	states, err := l.States()
	if err != nil {
		return nil, err
	}
	s := &Sheet{Chart: nil}
	for _, st := range states {
		if st.State == loop.Short || st.State == loop.Cut {
			continue
		}
		r := st.Resistance
		if r.Open {
			s.Steps = append(s.Steps, Step{Name: st.State.String(), Text: "open, no current"})
			continue
		}
		s.step(fmt.Sprintf("%s, at least", st.State), "parts at their least", r.Low, "ohm", "series and parallel resistance, worst case")
		s.step(fmt.Sprintf("%s, at most", st.State), "parts at their most", r.High, "ohm", "series and parallel resistance, worst case")
	}
	settings := loop.Settings{ShortLimit: 20, OpenLimit: 100e3}
	in.assume("a short, below", Show(settings.ShortLimit, "ohm"), habit)
	in.assume("open, above", Show(settings.OpenLimit, "ohm"), habit)
	in.assume("thresholds of the panel", "half way between the nominal values", habit)
	judge, err := loop.NewClassifier(l, settings)
	if err != nil {
		return nil, err
	}
	if err := sayReading(in, s, l, judge); err != nil {
		return nil, err
	}
	for _, g := range judge.Gaps() {
		if !g.Apart {
			s.say(fmt.Sprintf("With these resistors %s and %s can't be told apart.", g.A, g.B))
		}
	}
	s.Cautions = append(s.Cautions, "Measure with both cores off the panel: on a live loop the meter shows nonsense.")
	return s, nil
}

func readLoop(in *Input) (loop.Loop, error) {
	end, err := in.need("end", "end-of-line resistor", "2k2")
	if err != nil {
		return loop.Loop{}, err
	}
	if err := units.Above("end-of-line resistor", end, "ohm", 0); err != nil {
		return loop.Loop{}, err
	}
	tolerance := in.or("tolerance", "tolerance of the resistors", 5, "%", "IEC 60063, E24")
	of := func(ohms float64) loop.Resistor { return loop.Resistor{Ohms: ohms, Tolerance: tolerance} }
	l := loop.Single(of(end))
	alarm, hasAlarm := in.numbers["alarm"]
	fault, hasFault := in.numbers["fault"]
	switch {
	case hasAlarm && hasFault:
		l = loop.Triple(of(end), of(alarm), of(fault))
	case hasAlarm:
		l = loop.Double(of(end), of(alarm))
	case hasFault:
		return l, &Missing{"resistor over the alarm contact as well", "4k7 alarm"}
	}
	if l.Cable, err = cableOhms(in); err != nil {
		return l, err
	}
	l.ClosedContact = in.or("closed-contact", "most that a closed contact has", 1, "ohm", habit)
	return l, nil
}

// cableOhms is the cable's resistance, both ways: given, or by its length.
func cableOhms(in *Input) (float64, error) {
	length, ok := in.numbers["length"]
	if !ok {
		return in.or("cable", "resistance of the cable, both ways", 10, "ohm", habit), nil
	}
	if !in.has("solid") {
		in.or("section", "section of one core", 0.22, "mm2", habit)
	}
	conductor, err := in.conductor(cable.Conductor{}, cable.Copper)
	if err != nil {
		return 0, err
	}
	return cable.Run{Conductor: conductor, Length: length, Cores: 1, Temperature: 20}.Ohms()
}

func sayReading(in *Input, s *Sheet, l loop.Loop, judge *loop.Classifier) error {
	ohms, ok := in.numbers["measured"]
	over := in.choices["meter"] != ""
	if !ok && !over {
		s.say(fmt.Sprintf("At rest the loop has %s, with the alarm contact open %s.", levelOf(l, loop.Normal), levelOf(l, loop.Alarm)))
		return nil
	}
	reading := loop.Reading{Ohms: ohms, Uncertainty: 0.01 * ohms, Over: over}
	shown := Show(ohms, "ohm")
	if over {
		shown = "No reading at all"
	} else {
		in.assume("uncertainty of the meter", "1 %", habit)
	}
	result, err := judge.Classify(reading)
	if err != nil {
		return err
	}
	switch result.Verdict {
	case loop.One:
		text := fmt.Sprintf("%s means: %s.", shown, result.State)
		if !over {
			text += fmt.Sprintf(" The panel's next threshold is %s away.", Show(result.Margin, "ohm"))
		}
		s.say(text)
		return nil
	case loop.Several:
		s.say(fmt.Sprintf("%s can be any of: %s.", shown, result.Possible))
		return nil
	}
	s.say(fmt.Sprintf("%s is no state of this loop: it lies between %s and %s, and a panel that decides half way between the states would take it for %s.", shown, result.Lower, result.Upper, result.Panel))
	return sayCauses(s, l, reading)
}

// sayCauses says what could be behind a reading that no state gives.
func sayCauses(s *Sheet, l loop.Loop, reading loop.Reading) error {
	const most = 3
	causes, err := loop.Explain(l, reading)
	if err != nil {
		return err
	}
	var say []string
	for _, c := range causes {
		if len(say) == most || !c.Fits {
			break
		}
		text := c.Cause.String()
		if c.Ohms > 0 {
			text += " (" + Show(c.Ohms, "ohm") + ")"
		}
		if c.State != loop.Normal {
			text += fmt.Sprintf(" with the loop in %s", c.State)
		}
		say = append(say, text)
	}
	if len(say) > 0 {
		s.say("It would fit: " + strings.Join(say, "; or ") + ".")
	}
	return nil
}

// levelOf words the range of a state.
func levelOf(l loop.Loop, state loop.State) string {
	states, err := l.States()
	if err != nil {
		return "unknown"
	}
	for _, st := range states {
		if st.State == state && !st.Resistance.Open {
			return Show(st.Resistance.Low, "ohm") + " to " + Show(st.Resistance.High, "ohm")
		}
	}
	return "no current (open)"
}
