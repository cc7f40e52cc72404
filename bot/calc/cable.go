package calc

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"ferrule/knowledge/cable"
	"ferrule/knowledge/units"
)

const (
	ohmsLaw      = "Ohm's law"
	copperSource = "IACS, 1/58 ohm mm2/m at 20 °C; 0.393 % more for each °C"
	tableSource  = "IEC 60228; DIN VDE 0295 for 0.22 mm2"
	habit        = "common practice, no source"
)

func cableKind() Kind {
	return Kind{
		Name:  "cable",
		Short: "What a cable leaves of the voltage, and what mends it",
		Long: `Cable works out the voltage at each point of a bus or feed. Lengths are one way.
"then" goes on from the point before to the next; "also" begins another cable at
the panel. With the least voltage of the devices it says which one fails first and
what is the smallest change that mends it.`,
		Examples: []string{
			"100 m of 7/0.2, 2 cores, 300 mA, from 13.8 V",
			"40 m of 0.22 mm2, 2 cores, 85 mA at the end, needs 10.5 V",
			"60 m of 0.22 mm2, 62 mA, then 40 m, 120 mA, 260 mA in alarm, needs 10.2 V",
		},
		Fields: []Field{
			{Name: "length", Help: "length of the cable, one way", Unit: "m"},
			{Name: "loop-length", Help: "length of the cable, there and back", Unit: "m", named: true, Words: []string{"there and back", "out and back", "total loop", "loop length", "loop total", "total", "round trip", "both ways"}},
			{Name: "section", Help: "section of one core; 7/0.2 and AWG sizes are understood", Unit: "mm2", bare: true},
			{Name: "solid", Help: "diameter of a solid core", Unit: "mm", flag: true},
			{Name: "cores", Help: "cores that carry the supply, both ways together", whole: true, Words: []string{"cores", "conductors"}},
			{Name: "current", Help: "current drawn at the end, at rest", Unit: "A", Words: []string{"rest", "resting", "at rest", "standby", "draws", "draw", "takes"}},
			{Name: "alarm-current", Help: "current drawn at the end in alarm", Unit: "A", larger: true, Words: []string{"alarm", "in alarm", "sounding"}},
			{Name: "power", Help: "power drawn at the end whatever the voltage", Unit: "W"},
			{Name: "volts", Help: "voltage at the panel on mains", Unit: "V", Words: []string{"at panel", "at source", "at supply", "at charger"}, Leads: []string{"panel", "source", "supply", "charger"}, Before: []string{"from"}, once: true},
			{Name: "least-volts", Help: "least voltage at which the device works", Unit: "V", Words: []string{"working"}, Leads: []string{"least", "minimum"}, Before: []string{"needs", "need", "down to", "works", "at least", "needing"}},
			{Name: "battery-volts", Help: "lowest voltage of the battery", Unit: "V", Words: []string{"on battery"}, Leads: []string{"battery", "lowest"}, Before: []string{"down to"}, once: true},
			{Name: "measured-volts", Help: "voltage measured at the end", Unit: "V", once: true, Words: atTheEnd(), Leads: []string{"measured", "measure", "reads", "gets", "there are"}},
			{Name: "temperature", Help: "temperature of the cable", Unit: "C", once: true},
			{Name: "metal", Help: "metal of the cores; copper, or copper-clad aluminium", once: true, Choices: []Choice{
				{"copper", []string{"copper"}},
				{"copper-clad aluminium", []string{"copper clad aluminium", "copper clad aluminum", "copper clad", "cca", "aluminium", "aluminum", "clad"}},
			}},
		},
		claim:   claimCable,
		idle:    []string{"cable", "cables", "wire", "wires", "run", "device", "devices", "keypad", "detector", "siren", "sounder", "expander", "end", "of", "bus", "feed", "core", "voltage", "volts", "current", "long", "length", "mains", "far", "resistance", "pair", "pairs", "section", "cross", "multi", "strand", "strands", "stranded", "flexible", "gauge", "one", "cat"},
		parted:  true,
		rewrite: strandsAsSection,
		work:    workCable,
	}
}

// bus is what a sentence about cables came to.
type bus struct {
	cable.Bus
	far   []float64 // metres from the panel, by point
	names []string
	mains float64
	least float64
	late  float64 // the usual lowest voltage, where the device stops before it
	low   float64 // of the battery; 0 where it is not looked at
	alarm bool    // an alarm current was said
}

func workCable(in *Input) (*Sheet, error) {
	b, err := readBus(in)
	if err != nil {
		return nil, err
	}
	sheet := &Sheet{}
	report, changes, err := b.Mend(b.means())
	if err != nil {
		return nil, b.at(err)
	}
	if err := b.working(sheet, report); err != nil {
		return nil, err
	}
	b.verdict(sheet, report)
	if err := b.atTheMost(sheet, report); err != nil {
		return nil, err
	}
	if err := b.measured(in, sheet, report); err != nil {
		return nil, err
	}
	b.mending(sheet, report, changes)
	if report[0].Volts != nil {
		sheet.Chart = b.chart(report)
	}
	sheet.Cautions = append(sheet.Cautions, "Joints and terminals are not in this: measure at the device under load.")
	return sheet, nil
}

// at words where on the bus a quantity was refused.
func (b *bus) at(err error) error {
	var node *cable.NodeError
	if !errors.As(err, &node) {
		return err
	}
	if len(b.Points) == 2 || node.Node >= len(b.names) {
		return node.Err
	}
	return fmt.Errorf("%s: %w", b.names[node.Node], node.Err)
}

func readBus(in *Input) (*bus, error) {
	b := &bus{Bus: cable.Bus{Points: []cable.Point{{}}}, far: []float64{0}, names: []string{"panel"}}
	b.mains = in.or("volts", "voltage at the panel", 13.8, "V", habit)
	temperature := in.or("temperature", "temperature of the cable", 20, "C", habit)
	metal := cable.Copper
	if in.choice("metal", "metal of the cores", "copper", habit) != "copper" {
		metal = cable.CopperCladAluminium
	}
	rest, alarm := []cable.Load{{}}, []cable.Load{{}}
	var conductor cable.Conductor
	cores, at := 2.0, 0
	for part := range in.parts() {
		length, err := part.length()
		if err != nil {
			return nil, err
		}
		conductor, err = part.conductor(conductor, metal)
		if err != nil {
			return nil, err
		}
		if part.strung > 0 && !part.has("cores") {
			cores = min(cores, float64(part.strung/2*2)) // no more than there are in it, in pairs
			part.assume("cores that carry the supply", fmt.Sprintf("%s of the %d in the cable", Show(cores, ""), part.strung), "one each way")
		} else {
			cores = part.or("cores", "cores that carry the supply", cores, "", "one each way")
		}
		if err := units.Within("number of cores, both ways together", cores, "", 2, 100); err != nil {
			return nil, err
		}
		if part.branch {
			at = 0
		}
		b.Points = append(b.Points, cable.Point{
			Parent: at, Least: part.numbers["least-volts"],
			Run: cable.Run{Conductor: conductor, Length: length, Cores: int(cores) / 2, Temperature: temperature},
		})
		b.far = append(b.far, b.far[at]+length)
		at = len(b.Points) - 1
		b.names = append(b.names, fmt.Sprintf("point %d", at))
		load := cable.Load{Current: part.numbers["current"], Power: part.numbers["power"]}
		rest = append(rest, load)
		if x, ok := part.numbers["alarm-current"]; ok {
			load.Current, b.alarm = x, true
		}
		alarm = append(alarm, load)
	}
	b.settle(in)
	if !drawn(rest) && !drawn(alarm) {
		return nil, &Missing{"current that is drawn at the end", "85 mA"}
	}
	b.States = []cable.State{{Source: cable.Source{Voltage: b.mains}, Loads: rest}}
	b.onBattery(in)
	if b.late > 0 && b.alarm {
		b.States[0].Loads = alarm
	}
	if b.low > 0 {
		b.States = append(b.States, cable.State{Source: cable.Source{Voltage: b.low}, Loads: alarm})
	}
	return b, nil
}

// settle lets a least voltage that was said once hold for all devices.
func (b *bus) settle(in *Input) {
	n := 0
	for i := range b.Points {
		if b.Points[i].Least > 0 {
			n, b.least = n+1, b.Points[i].Least
		}
	}
	if n != 1 {
		return
	}
	i := 0
	for part := range in.parts() {
		i++
		if part.numbers["current"] > 0 || part.numbers["power"] > 0 || part.numbers["alarm-current"] > 0 {
			b.Points[i].Least = b.least
		}
	}
}

func drawn(loads []cable.Load) bool {
	for _, l := range loads {
		if l != (cable.Load{}) {
			return true
		}
	}
	return false
}

// means are the cables of the trade that are thicker, and a supply at the place.
func (b *bus) means() cable.Means {
	m := cable.Means{}
	for _, mm2 := range []float64{0.5, 0.75, 1, 1.5, 2.5} {
		if c, err := cable.OfArea(mm2, cable.Copper); err == nil && mm2 > b.Points[1].Run.Conductor.Area() {
			m.Sizes = append(m.Sizes, c)
		}
	}
	for _, s := range b.States {
		m.Local = append(m.Local, s.Source)
	}
	return m
}

func (b *bus) working(sheet *Sheet, report cable.Report) error {
	for i := 1; i < len(b.Points); i++ {
		p := b.Points[i]
		name := ""
		if len(b.Points) > 2 {
			name = ", " + b.names[i]
		}
		perMetre, err := p.Run.Conductor.OhmsPerMetre(p.Run.Temperature)
		if err != nil {
			return err
		}
		ohms, err := p.Run.Ohms()
		if err != nil {
			return err
		}
		source := copperSource
		if p.Run.Conductor.Material() == cable.CopperCladAluminium {
			source = "1.5 times copper, common practice; " + copperSource
		}
		sheet.step("one core"+name, "resistivity / section", perMetre*1000, "ohm/km", source)
		if g, ok := p.Run.Conductor.Greatest(); ok {
			if most, err := g.OhmsPerMetre(p.Run.Temperature); err == nil {
				sheet.step("one core at the most"+name, "", most*1000, "ohm/km", tableSource)
			}
		}
		sheet.step("cable, out and back"+name, "2 x length x ohm per metre / cores each way", ohms, "ohm", ohmsLaw)
	}
	for n, outcome := range report {
		for i := 1; i < len(outcome.Volts); i++ {
			sheet.step(fmt.Sprintf("voltage at %s, %s", b.names[i], b.state(n)), "source less current x resistance on the way", outcome.Volts[i], "V", "Kirchhoff's laws")
		}
	}
	return nil
}

func (b *bus) state(n int) string {
	switch {
	case n == 0 && b.late > 0 && b.alarm:
		return "on mains in alarm"
	case n == 0:
		return "on mains"
	case b.alarm:
		return "on the battery in alarm"
	}
	return "on the battery"
}

func (b *bus) verdict(sheet *Sheet, report cable.Report) {
	for n, o := range report {
		from := b.States[n].Source.Voltage
		where := b.names[o.Weakest]
		if len(b.Points) == 2 {
			where = "the end"
		}
		switch {
		case o.Collapse != nil:
			sheet.say(fmt.Sprintf("This bus cannot work %s: it collapses, first at %s. The loads draw more than the cable can carry from %s.", b.state(n), where, Show(from, "V")))
		case b.Points[o.Weakest].Least == 0:
			sheet.say(fmt.Sprintf("At %s %s of %s are left %s; the cable takes %s.", where, Show(o.Volts[o.Weakest], "V"), Show(from, "V"), b.state(n), Show(from-o.Volts[o.Weakest], "V")))
		case o.Margin < 0:
			sheet.say(fmt.Sprintf("Too little %s: %s gets %s and needs %s.", b.state(n), where, Show(o.Volts[o.Weakest], "V"), Show(b.Points[o.Weakest].Least, "V")))
		default:
			sheet.say(fmt.Sprintf("Enough %s: %s gets %s, that is %s more than it needs.", b.state(n), where, Show(o.Volts[o.Weakest], "V"), Show(o.Margin, "V")))
		}
	}
	if b.late > 0 {
		sheet.say(fmt.Sprintf("A device that needs %s stops working before the battery is cut off at %s: only the state on mains is judged.", Show(b.mostLeast(), "V"), Show(b.late, "V")))
	}
	if b.least > 0 && len(b.Points) == 2 {
		b.reach(sheet)
	}
}

// reach says how long the one cable may be.
func (b *bus) reach(sheet *Sheet) {
	most, state := math.Inf(1), 0
	for n, s := range b.States {
		current := s.Loads[1].Current + s.Loads[1].Power/b.least
		if metres, err := b.Points[1].Run.GreatestLength(s.Source.Voltage, b.least, current); err == nil && metres < most {
			most, state = metres, n
		}
	}
	if !math.IsInf(most, 1) {
		sheet.step("greatest length, "+b.state(state), "(source - least) x cores each way / (2 x current x ohm per metre)", most, "m", ohmsLaw)
	}
}

func (b *bus) mending(sheet *Sheet, report cable.Report, changes []cable.Change) {
	if report.Works() {
		return
	}
	if len(changes) == 0 {
		sheet.say("No single kind of change mends it; shorten the cable, or use a higher voltage.")
		return
	}
	for i, c := range changes {
		if c.Kind == cable.MoveLoad && len(b.Points) == 2 {
			continue // the only place nearer to the panel is the panel
		}
		lead := "Or: "
		if i == 0 {
			lead = "Smallest change that mends it: "
		}
		sheet.say(lead + b.change(c) + " (then " + b.worst(c.After) + ").")
	}
}

// worst says what is left in the state with the least to spare.
func (b *bus) worst(report cable.Report) string {
	n := 0
	for i, o := range report {
		if o.Margin < report[n].Margin {
			n = i
		}
	}
	text := Show(report[n].Volts[report[n].Weakest], "V") + " at the weakest"
	if len(report) > 1 {
		text += ", " + b.state(n)
	}
	return text
}

func (b *bus) change(c cable.Change) string {
	var to []string
	for _, i := range c.Points {
		to = append(to, b.names[i])
	}
	if len(b.Points) == 2 {
		to = []string{"the end"}
	}
	where := " to " + strings.Join(to, ", ")
	if len(b.Points) == 2 {
		where = ""
	}
	switch c.Kind {
	case cable.DoubleCores:
		return "double the cores of the cable" + where + ", out and back"
	case cable.ThickerCable:
		return "pull a cable of " + Show(c.Size.Area(), "mm2") + where
	case cable.LocalSupply:
		return "fit a supply with its own battery at " + strings.Join(to, ", ") + ", its 0 V joined to the panel's"
	}
	return fmt.Sprintf("connect %s at %s", strings.Join(to, ", "), b.names[c.To])
}
