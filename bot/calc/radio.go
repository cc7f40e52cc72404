package calc

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"ferrule/knowledge/radio"
	"ferrule/knowledge/units"
)

// The frequency in the middle of the band in which wireless alarm devices
// mostly send. Source: ERC/REC 70-03, 868.0-868.6 MHz.
const alarmMHz = 868.3

// DrawnPlaces names what is assumed for the drawing alone.
const DrawnPlaces = "places of the obstacles, for the drawing"

func radioKind() Kind {
	fields := []Field{
		{Name: "distance", Help: "distance in a straight line", Unit: "m"},
		{Name: "level", Help: "level that is displayed", Unit: "%", Words: []string{"reads", "shows", "level", "displays", "reading", "showing", "shown", "displayed"}},
		{Name: "limit", Help: "mounting limit of the device, as displayed", Unit: "%", Leads: []string{"limit", "mounting limit", "minimum"}, Before: []string{"needs", "least", "at least"}},
		{Name: "dbm", Help: "level that was measured", Unit: "dBm", Words: []string{"reads", "shows", "level", "measured"}},
		{Name: "power", Help: "radiated power (e.r.p.)", Unit: "mW"},
		{Name: "slabs", Help: "floors between the storeys", many: true, whole: true, named: true},
	}
	for _, b := range barriers() {
		fields = append(fields, Field{Name: b.name, Help: b.help, many: true, whole: true, named: true})
	}
	return Kind{
		Name:  "radio",
		Short: "What level a radio path should give, and whether a measured one fits",
		Long: `Radio works out the level that a way through walls and floors should give at 868
MHz, how far a measured level is from it, what taking one obstacle out of the way
would bring, and how far the link reaches. Indoors 10 dB either way is honest. A
model explains a level; it never excuses one below the device's own limit.`,
		Examples: []string{
			"38 % at 12 m, 2 brick walls, 1 slab",
			"38 % at 6 m in the open",
			"-77 dBm at 25 m, 3 partitions, 1 floor, 14 mW",
		},
		Fields: append(fields,
			Field{Name: "aerial-loss", Help: "loss of the aerials in both housings together", Unit: "dB", Words: []string{"aerial", "aerials", "antenna"}},
			Field{Name: "spread", Help: "standard deviation of levels", Unit: "dB", Words: []string{"spread", "sigma", "deviation"}},
			Field{Name: "scale-0", Help: "level that is displayed as 0 %", Unit: "dBm", Words: []string{"bottom", "zero"}},
			Field{Name: "scale-100", Help: "level that is displayed as 100 %", Unit: "dBm", Words: []string{"top", "full"}},
			Field{Name: "frequency", Help: "frequency", Unit: "MHz"},
			Field{Name: "send-height", Help: "height of the sending aerial, for an open area", Unit: "m", Words: []string{"height"}, After: []string{"high", "up"}},
			Field{Name: "receive-height", Help: "height of the receiving aerial", Unit: "m", Words: []string{"mast"}, After: []string{"hub high", "hub up"}},
		),
		claim: claimThings,
		idle:  []string{"open", "air", "line", "sight", "straight", "free", "hub", "device", "detector", "keypad", "panel", "distance", "erp", "path", "way", "indoors", "outdoors", "signal", "radio", "sensor", "dead"},
		work:  workRadio,
	}
}

func workRadio(in *Input) (*Sheet, error) {
	p, err := readPath(in)
	if err != nil {
		return nil, err
	}
	e, err := radio.Expect(p)
	if err != nil {
		return nil, err
	}
	s := &Sheet{}
	if err := pathSteps(s, p, e); err != nil {
		return nil, err
	}
	limit := in.or("limit", "mounting limit of the device", 40, "%", habit)
	measured, given, err := measuredLevel(in, p)
	if err != nil {
		return nil, err
	}
	fine := true
	if given {
		if fine, err = judgeLevel(s, p, e, measured, limit); err != nil {
			return nil, err
		}
	} else {
		s.say(fmt.Sprintf("This way should give about %s, which shows as %s; 10 dB either way is %s.", Show(e.Level, "dBm"), Show(e.Percent, "%"), display(e.Display)))
	}
	if err := changes(s, p, e); err != nil {
		return nil, err
	}
	if err := sayReach(s, p, limit, fine && len(p.Obstacles)+p.Floors > 0); err != nil {
		return nil, err
	}
	s.Cautions = append(s.Cautions, "The model is for planning: the level that is measured at the place decides, with doors shut as at night.")
	if len(p.Obstacles)+p.Floors > 0 {
		in.assume(DrawnPlaces, "evenly along the way", "they were not said, and do not matter for the level")
	}
	s.Chart, err = pathChart(p, limit, measured, given)
	return s, err
}

func readPath(in *Input) (radio.Path, error) {
	distance, err := in.need("distance", "distance in a straight line", "12 m")
	if err != nil {
		return radio.Path{}, err
	}
	milliwatts := in.or("power", "radiated power (e.r.p.)", 10, "mW", "common practice; ERC/REC 70-03 allows 25 mW in 868.0-868.6 MHz")
	dBm, err := radio.DBm(milliwatts / 1000)
	if err != nil {
		return radio.Path{}, err
	}
	p := radio.Path{
		Hz: 1e6 * in.or("frequency", "frequency", alarmMHz, "MHz", "ERC/REC 70-03, 868.0-868.6 MHz"), Metres: distance, ERP: dBm,
		Losses: in.or("aerial-loss", "loss of the aerials in both housings together", 5, "dB", habit),
		Sigma:  in.or("spread", "standard deviation of levels", radio.DefaultSigma, "dB", habit),
		Floors: int(math.Round(in.numbers["slabs"])),
	}
	p.SendHeight, p.ReceiveHeight = in.numbers["send-height"], in.numbers["receive-height"]
	if p.SendHeight > 0 && p.ReceiveHeight == 0 {
		p.ReceiveHeight = p.SendHeight
	}
	p.Obstacles = in.obstacles()
	bottom := in.or("scale-0", "level that is displayed as 0 %", -100, "dBm", "common practice; every model has its own scale")
	top := in.or("scale-100", "level that is displayed as 100 %", -40, "dBm", "common practice; every model has its own scale")
	p.Scale, err = radio.NewScale(radio.Point{DBm: bottom, Percent: 0}, radio.Point{DBm: top, Percent: 100})
	return p, err
}

// measuredLevel is the level in dBm that was measured, or that is behind what
// is displayed.
func measuredLevel(in *Input, p radio.Path) (float64, bool, error) {
	percent, ok := in.numbers["level"]
	if x, inDBm := in.numbers["dbm"]; inDBm {
		if ok {
			return 0, false, &Misread{Show(x, "dBm"), "give the level that was measured either in % or in dBm"}
		}
		return x, true, units.Within("level that was measured", x, "dBm", -200, 0)
	}
	if !ok {
		return 0, false, nil
	}
	level, err := p.Scale.Level(percent)
	return level.Low, true, err
}

func pathSteps(s *Sheet, p radio.Path, e radio.Expected) error {
	free, err := radio.FreeSpace(p.Hz, p.Metres)
	if err != nil {
		return err
	}
	s.step("free space", "20 log10(4 pi d f / c)", free, "dB", "ITU-R P.525")
	for _, b := range barriers() {
		n := 0
		for _, o := range p.Obstacles {
			if o.Name == b.one() {
				n++
			}
		}
		if n > 0 {
			s.step(counted(n, strings.ReplaceAll(b.name, "-", " ")), fmt.Sprintf("%d x %s", n, Show(b.loss, "dB")), float64(n)*b.loss, "dB", b.source)
		}
	}
	if p.Floors > 0 {
		floors, err := radio.FloorsLoss(p.Floors, radio.Floor, radio.FloorExponent)
		if err != nil {
			return err
		}
		s.step(counted(p.Floors, "slabs"), "k^((k+2)/(k+1)-0.46) x "+Show(radio.Floor, "dB"), floors, "dB", fitted)
	}
	s.step("loss of the way", "sum", e.Loss, "dB", "COST 231 multi-wall; ITU-R P.525")
	s.step("level", "power (e.r.p.) + 2.15 dB - aerials - loss", e.Level, "dBm", "link budget")
	s.step("at worst", "level - 1.96 x spread", e.Low, "dBm", "log-normal shadowing, 95 % of places")
	s.step("at best", "level + 1.96 x spread", e.High, "dBm", "log-normal shadowing, 95 % of places")
	s.step("shows as", "the model's scale", e.Percent, "%", "the scale is the model's")
	return nil
}

// counted words a number of things: 1 slab, 2 slabs.
func counted(n int, things string) string {
	if n == 1 {
		things = strings.TrimSuffix(things, "s")
	}
	return fmt.Sprintf("%d %s", n, things)
}

// judgeLevel says whether what was measured is what the way gives, and holds it
// against the limit whatever the way gives. It returns whether the way explains
// it.
// What is missing is counted from what the display can show at the most, as the
// rules count it.
func judgeLevel(s *Sheet, p radio.Path, e radio.Expected, measured, limit float64) (bool, error) {
	odd, err := e.Surprise(measured)
	if err != nil {
		return false, err
	}
	percent, err := p.Scale.Percent(measured)
	if err != nil {
		return false, err
	}
	top, err := p.Scale.Level(100)
	if err != nil {
		return false, err
	}
	about := fmt.Sprintf("%s (%s)", Show(e.Percent, "%"), display(e.Display))
	atTop := percent >= 100
	switch {
	case odd.Z < -2:
		s.say(fmt.Sprintf("Something is wrong: the way should give about %s, and %s is %s lower. Look for metal, the aerial, how the device is turned, its cells.", about, Show(percent, "%"), Show(min(e.Level, top.Low)-measured, "dB")))
	case odd.Z > 2 && !atTop:
		s.say(fmt.Sprintf("Better than the way should give: about %s. Is the way as it was described?", about))
	default:
		s.say(fmt.Sprintf("%s is what the way gives: about %s.", Show(percent, "%"), about))
	}
	if percent < limit {
		s.say(fmt.Sprintf("It is below the limit of %s all the same: the device can't stay so.", Show(limit, "%")))
	}
	s.step("measured", "", measured, "dBm", "as given, by the scale")
	s.step("such a level or a lower one", "normal distribution", 100*odd.OrLower, "% of places", "log-normal shadowing")
	return odd.Z >= -2, nil
}

func display(i radio.Interval) string {
	text := Show(i.Low, "") + "-" + Show(i.High, "%")
	if i.Low == i.High {
		text = Show(i.High, "%")
	}
	if i.OrMore {
		text += " or more"
	}
	return text
}

// changes says what one obstacle less would bring, the largest first.
func changes(s *Sheet, p radio.Path, e radio.Expected) error {
	said := map[string]bool{}
	for i, o := range p.Obstacles {
		if said[o.Name] {
			continue
		}
		said[o.Name] = true
		c, err := radio.WithoutObstacle(p, i)
		if err != nil {
			return err
		}
		s.step("one "+o.Name+" less", "", c.After.Percent-e.Percent, "% more on the display", "COST 231 multi-wall")
	}
	if p.Floors > 0 {
		c, err := radio.WithFloors(p, p.Floors-1)
		if err != nil {
			return err
		}
		s.step("one slab less", "", c.After.Percent-e.Percent, "% more on the display", "COST 231 multi-wall")
	}
	half, err := radio.AtDistance(p, p.Metres/2)
	if err != nil {
		return nil // too near for a far field, and nothing that was said
	}
	s.step("half the distance", "", half.After.Percent-e.Percent, "% more on the display", "COST 231 multi-wall")
	return nil
}

// sayReach says how far the device may be with what stands between.
// In the open only the figure is given: there nothing but the ground takes the
// level away, and metres without end would be no help.
func sayReach(s *Sheet, p radio.Path, limit float64, aloud bool) error {
	least, err := p.Scale.Level(limit)
	if err != nil {
		return err
	}
	margin, err := radio.FadeMargin(p.Sigma, 0.9)
	if err != nil {
		return err
	}
	far, err := radio.Reach(p, least.Low, margin)
	if err != nil {
		s.say("With this between, no distance is safe: take an obstacle out of the way, or add a hub.")
		return nil
	}
	s.step("margin for 90 % of places", "1.28 x spread", margin, "dB", "log-normal shadowing")
	s.step("reaches", "with the same between, the limit and the margin", far, "m", "COST 231 multi-wall")
	if !aloud {
		return nil
	}
	s.say(fmt.Sprintf("With the same between, up to %s is safe in nine places of ten.", Show(far, "m")))
	return nil
}

// pathChart draws the display against the distance, every obstacle at an even
// share of the way, since nobody said where they stand.
func pathChart(p radio.Path, limit, measured float64, given bool) (*Chart, error) {
	c := &Chart{
		Title: "Level along the way", X: Axis{"distance", "m"}, Y: Axis{"level displayed", "%"},
		Limits: []Limit{{"mounting limit", limit}},
	}
	line := Series{Name: "expected"}
	things := len(p.Obstacles) + p.Floors
	for i, o := range p.Obstacles {
		c.Marks = append(c.Marks, Mark{o.Name, p.Metres * float64(i+1) / float64(things+1)})
	}
	for i := range p.Floors {
		c.Marks = append(c.Marks, Mark{"slab", p.Metres * float64(len(p.Obstacles)+i+1) / float64(things+1)})
	}
	for _, x := range places(p.Metres, c.Marks) {
		at := p
		at.Metres = x
		passed := 0
		for _, m := range c.Marks {
			if m.X <= x {
				passed++
			}
		}
		at.Obstacles = p.Obstacles[:min(passed, len(p.Obstacles))]
		at.Floors = max(0, passed-len(p.Obstacles))
		e, err := radio.Expect(at)
		if err != nil {
			return nil, err
		}
		line.X, line.Y = append(line.X, x), append(line.Y, e.Percent)
		line.Low, line.High = append(line.Low, e.Display.Low), append(line.High, e.Display.High)
	}
	c.Series = []Series{line}
	if given {
		percent, err := p.Scale.Percent(measured)
		if err != nil {
			return nil, err
		}
		c.Points = []Point{{"measured", p.Metres, percent}}
	}
	return c, nil
}

// places are the distances that are drawn: a quarter more than the way, and both
// sides of every obstacle, so that its step is upright.
func places(metres float64, marks []Mark) []float64 {
	const points = 60
	nearest := min(1, metres) // nearer there is no far field, and nothing to draw
	var out []float64
	for i := range points + 1 {
		out = append(out, max(nearest, metres*1.25*float64(i)/points))
	}
	for _, m := range marks {
		out = append(out, max(nearest, m.X*(1-1e-6)), max(nearest, m.X))
	}
	slices.Sort(out)
	return slices.Compact(out)
}
