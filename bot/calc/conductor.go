package calc

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"ferrule/knowledge/cable"
	"ferrule/knowledge/units"
)

const whichMillimetres = "is that a diameter or a section? write 0.6 mm solid or 0.6 mm2"

var (
	strands = regexp.MustCompile(`(\d+)\s*[/x×]\s*(0[.,]\d+)(\s*mm\b)?`)
	crossed = regexp.MustCompile(`\d\s*[x×]`)
)

// strandsAsSection writes 7/0.2 and 7x0.2, seven strands of 0.2 mm, as a section.
// Behind a cross only the diameters of strands are taken for one: 4 x 0.22 is
// four cores of a section.
func strandsAsSection(sentence string) string {
	return strands.ReplaceAllStringFunc(sentence, func(s string) string {
		m := strands.FindStringSubmatch(s)
		n, err1 := strconv.Atoi(m[1])
		d, err2 := strconv.ParseFloat(strings.Replace(m[2], ",", ".", 1), 64)
		c, err3 := cable.Stranded(n, d, cable.Copper)
		if errors.Join(err1, err2, err3) != nil || crossed.MatchString(s) && d != 0.1 && d != 0.2 && d != 0.3 {
			return s
		}
		return strconv.FormatFloat(c.Area(), 'f', 6, 64) + " mm2"
	})
}

// atTheEnd are the words for the place where a cable ends.
func atTheEnd() []string {
	out := []string{"far end", "at far end", "at other end"}
	for _, at := range []string{"end", "detector", "keypad", "device", "siren", "sounder", "expander", "terminals", "last device", "hub", "reader"} {
		out = append(out, "at "+at)
	}
	return out
}

// claimCable takes what is said of the conductor: solid wires, cores that are
// there and not used, cores that are doubled.
func claimCable(in *Input, w *words) error {
	if err := claimSolid(in, w); err != nil {
		return err
	}
	for i := range *w {
		p := &(*w)[i]
		if p.used {
			continue
		}
		switch next := w.text(i + 1); {
		case p.Number && len(p.Units) == 0 && next == "core":
			if err := units.Within("cores of the cable", p.Low, "", 1, mostThings); err != nil {
				return err
			}
			w.use(i, i+2)
			in.strung = int(p.Low)
		case p.Text == "doubled":
			w.use(i, i+1)
			if w.text(i+1) == "up" {
				w.use(i+1, i+2)
			}
			if i := slices.IndexFunc(in.kind.Fields, func(f Field) bool { return f.Name == "cores" }); !in.has("cores") {
				if err := in.put(&in.kind.Fields[i], 4); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// text is the word at a place, empty for a number and beyond the ends.
func (w words) text(i int) string {
	if i < 0 || i >= len(w) {
		return ""
	}
	return w[i].Text
}

// claimSolid takes what is said of solid wires.
func claimSolid(in *Input, w *words) error {
	for i := range *w {
		p := &(*w)[i]
		if !p.used && p.Number && slices.Contains(p.Units, units.Millimetre) && slices.Contains(p.Units, units.SquareMillimetre) {
			if err := in.millimetres(*w, i); err != nil {
				return err
			}
		}
	}
	return nil
}

// millimetres takes 0.6 mm for a diameter where that is said.
func (in *Input) millimetres(w words, i int) error {
	said := func(at int) bool {
		return w.text(at) == "solid" || w.text(at) == "diameter" || w.text(at) == "dia"
	}
	k := slices.IndexFunc(in.kind.Fields, func(f Field) bool { return f.Name == "solid" })
	switch {
	case k < 0:
		return nil
	case said(i+1) && !w[i+1].Apart:
		w.use(i, i+2)
	case said(i-1) && !w[i].Apart:
		w.use(i-1, i+1)
	default:
		return &Misread{w[i].written, whichMillimetres}
	}
	return in.put(&in.kind.Fields[k], w[i].Low)
}

// conductor is what the part is wired with: as said, or as the part before it.
func (in *Input) conductor(before cable.Conductor, metal cable.Material) (cable.Conductor, error) {
	section, hasSection := in.numbers["section"]
	diameter, isSolid := in.numbers["solid"]
	switch {
	case hasSection && isSolid:
		return before, &Misread{Show(diameter, "mm"), "give the core either a section or a diameter"}
	case isSolid:
		return cable.Solid(diameter, metal)
	case hasSection:
		return cable.OfArea(section, metal)
	case before != (cable.Conductor{}):
		return before, nil
	}
	return before, &Missing{"section of a core", "0.22 mm2, 7/0.2 or 24 AWG"}
}

// length is the part's length one way.
func (in *Input) length() (float64, error) {
	both, ok := in.numbers["loop-length"]
	if !ok {
		return in.need("length", "length of the cable, one way", "40 m")
	}
	if in.has("length") {
		return 0, &Misread{Show(both, "m"), "give the length either one way, or there and back"}
	}
	return both / 2, nil
}

// onBattery looks at the battery where that can decide: in alarm, where its
// voltage was said, and where there is a least voltage to hold it against.
func (b *bus) onBattery(in *Input) {
	low, said := in.numbers["battery-volts"]
	usual := 10.5
	if b.mains > 20 {
		usual = 21
	}
	switch {
	case said:
		b.low = low
	case b.least > 0 && b.mostLeast() >= usual:
		b.late = usual
	case b.least > 0 || b.alarm:
		b.low = in.or("battery-volts", "lowest voltage of the battery", usual, "V", habit)
	}
}

// mostLeast is the highest of the least voltages.
func (b *bus) mostLeast() float64 {
	most := 0.0
	for _, p := range b.Points {
		most = max(most, p.Least)
	}
	return most
}

// atTheMost says what is left where the cables have the most resistance that a
// standard allows for their size, and aloud where that decides.
func (b *bus) atTheMost(sheet *Sheet, report cable.Report) error {
	worse := cable.Bus{Points: slices.Clone(b.Points), States: b.States}
	known := false
	for i := 1; i < len(worse.Points); i++ {
		if g, ok := worse.Points[i].Run.Conductor.Greatest(); ok {
			worse.Points[i].Run.Conductor, known = g, true
		}
	}
	if !known {
		return nil
	}
	worst, err := worse.Check()
	if err != nil {
		return b.at(err)
	}
	for n, o := range worst {
		if o.Volts != nil {
			sheet.step(fmt.Sprintf("voltage at %s at the worst, %s", b.names[o.Weakest], b.state(n)), "with one core at the most", o.Volts[o.Weakest], "V", tableSource)
		}
	}
	if b.least == 0 || !report.Works() || worst.Works() {
		return nil
	}
	for n, o := range worst {
		if o.Works() {
			continue
		}
		left := "nothing"
		if o.Volts != nil {
			left = Show(o.Volts[o.Weakest], "V")
		}
		text := fmt.Sprintf("With the most resistance that its standard allows the cable leaves too little %s: %s, and %s are needed.", b.state(n), left, Show(b.Points[o.Weakest].Least, "V"))
		sheet.Answer = slices.Insert(sheet.Answer, 1, text)
		break
	}
	return nil
}

// measured holds what was measured at the end against what the cable explains.
func (b *bus) measured(in *Input, sheet *Sheet, report cable.Report) error {
	volts, ok := in.numbers["measured-volts"]
	if !ok {
		return nil
	}
	if err := units.Within("voltage measured at the end", volts, "V", 0, b.mains); err != nil {
		return err
	}
	end := len(b.Points) - 1
	if report[0].Volts == nil {
		return nil
	}
	lost, explained := b.mains-volts, b.mains-report[0].Volts[end]
	sheet.step("lost, as measured", "voltage at the panel - measured", lost, "V", "as given")
	sheet.step("lost on the cable", "current x resistance on the way", explained, "V", "Kirchhoff's laws")
	load := b.States[0].Loads[end]
	current := load.Current
	if volts > 0 {
		current += load.Power / volts
	}
	// A twentieth is what the meter, the temperature and the length leave open.
	const open = 0.05
	switch {
	case lost < explained*(1-open):
		sheet.say(fmt.Sprintf("Measured are %s: less is lost (%s) than the cable should take (%s). Was the current drawn, and is the cable as it was described?", Show(volts, "V"), Show(lost, "V"), Show(explained, "V")))
	case lost <= explained*(1+open):
		sheet.say(fmt.Sprintf("Measured are %s: the cable explains all of the %s that are lost.", Show(volts, "V"), Show(lost, "V")))
	case current > 0 && len(b.Points) == 2:
		ohms := (lost - explained) / current
		sheet.step("too much elsewhere", "(lost - on the cable) / current", ohms, "ohm", ohmsLaw)
		sheet.say(fmt.Sprintf("Measured are %s: the cable explains %s of the %s that are lost; %s too much elsewhere: a joint, a terminal, another metal, a longer way.", Show(volts, "V"), Show(explained, "V"), Show(lost, "V"), Show(ohms, "ohm")))
	default:
		sheet.say(fmt.Sprintf("Measured are %s: the cable explains %s of the %s that are lost; look at joints, terminals, the metal.", Show(volts, "V"), Show(explained, "V"), Show(lost, "V")))
	}
	return nil
}
