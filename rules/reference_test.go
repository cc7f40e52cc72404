package rules

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"pgregory.net/rapid"
)

// A plain recursive evaluator over generated conditions, written without
// looking at the flat form: the property tests hold the program to it.

// known is what the reference knows of each reading; a missing one is unknown.
type known struct {
	num     map[string][2]float64
	choice  map[string]string
	members map[string]bool // of hub.wired_to
	minor   [2]int          // of hub.firmware, 2.minor; -1 for unknown
}

// genNum is a generated number.
type genNum struct {
	op   string // reading, const, + - * min max abs
	name string
	c    float64
	a, b *genNum
}

func (g *genNum) String() string {
	switch g.op {
	case "reading":
		return g.name
	case "const":
		return fmt.Sprint(g.c)
	case "min", "max":
		return fmt.Sprintf("%s(%v, %v)", g.op, g.a, g.b)
	case "abs":
		return fmt.Sprintf("abs(%v)", g.a)
	}
	return fmt.Sprintf("(%v %s %v)", g.a, g.op, g.b)
}

func (g *genNum) value(k *known) (lo, hi float64) {
	switch g.op {
	case "reading":
		if x, ok := k.num[g.name]; ok {
			return x[0], x[1]
		}
		return math.Inf(-1), math.Inf(1)
	case "const":
		return g.c, g.c
	}
	alo, ahi := g.a.value(k)
	if g.op == "abs" {
		switch {
		case alo > 0:
			return alo, ahi
		case ahi < 0:
			return -ahi, -alo
		}
		return 0, math.Max(-alo, ahi)
	}
	blo, bhi := g.b.value(k)
	switch g.op {
	case "+":
		return alo + blo, ahi + bhi
	case "-":
		return alo - bhi, ahi - blo
	case "min":
		return math.Min(alo, blo), math.Min(ahi, bhi)
	case "max":
		return math.Max(alo, blo), math.Max(ahi, bhi)
	}
	corners := []float64{}
	for _, x := range []float64{alo, ahi} {
		for _, y := range []float64{blo, bhi} {
			if p := x * y; p == p {
				corners = append(corners, p)
			} else {
				corners = append(corners, 0)
			}
		}
	}
	return slices.Min(corners), slices.Max(corners)
}

// genCondition is a generated condition.
type genCondition struct {
	op     string // and, or, not, compare, yes, choice, member, version, derived
	kids   []*genCondition
	cmp    string
	a, b   *genNum
	name   string
	word   string
	minor  int
	member string
}

func (g *genCondition) String() string {
	switch g.op {
	case "and", "or":
		parts := make([]string, len(g.kids))
		for i, k := range g.kids {
			parts[i] = k.String()
		}
		return "(" + strings.Join(parts, " "+g.op+" ") + ")"
	case "not":
		return fmt.Sprintf("not (%v)", g.kids[0])
	case "compare":
		return fmt.Sprintf("%v %s %v", g.a, g.cmp, g.b)
	case "choice":
		return fmt.Sprintf("%s %s %q", g.name, g.cmp, g.word)
	case "member":
		return fmt.Sprintf("%q in hub.wired_to", g.member)
	case "version":
		return fmt.Sprintf(`hub.firmware %s "2.%d"`, g.cmp, g.minor)
	}
	return g.name
}

func (g *genCondition) truth(k *known) Truth {
	switch g.op {
	case "and":
		out := True
		for _, c := range g.kids {
			out = min(out, c.truth(k))
		}
		return out
	case "or":
		out := False
		for _, c := range g.kids {
			out = max(out, c.truth(k))
		}
		return out
	case "not":
		return map[Truth]Truth{True: False, False: True, Undecided: Undecided}[g.kids[0].truth(k)]
	case "choice":
		word, ok := k.choice[g.name]
		if !ok {
			return Undecided
		}
		return two((word == g.word) == (g.cmp == "=="))
	case "member":
		in, ok := k.members[g.member]
		if !ok {
			return Undecided
		}
		return two(in)
	case "version":
		if k.minor[0] < 0 {
			return Undecided
		}
		return spread(g.cmp, float64(k.minor[0]), float64(k.minor[1]), float64(g.minor), float64(g.minor))
	case "yes":
		lo, hi := (&genNum{op: "reading", name: g.name}).value(k)
		return spread("==", lo, hi, 1, 1)
	case "derived": // radio.poor: radio.signal - 40 < 0 or radio.noise > 60
		slo, shi := (&genNum{op: "reading", name: "radio.signal"}).value(k)
		nlo, nhi := (&genNum{op: "reading", name: "radio.noise"}).value(k)
		return max(spread("<", slo-40, shi-40, 0, 0), spread(">", nlo, nhi, 60, 60))
	}
	alo, ahi := g.a.value(k)
	blo, bhi := g.b.value(k)
	return spread(g.cmp, alo, ahi, blo, bhi)
}

func two(b bool) Truth {
	if b {
		return True
	}
	return False
}

// spread compares two intervals by asking at their ends whether the
// comparison and its opposite can hold.
func spread(cmp string, alo, ahi, blo, bhi float64) Truth {
	can := map[string]bool{
		"<": alo < bhi, "<=": alo <= bhi, ">": ahi > blo, ">=": ahi >= blo,
		"==": alo <= bhi && blo <= ahi, "!=": !(alo == ahi && blo == bhi && alo == blo),
	}
	opposite := map[string]string{"<": ">=", "<=": ">", ">": "<=", ">=": "<", "==": "!=", "!=": "=="}[cmp]
	switch {
	case can[cmp] && can[opposite]:
		return Undecided
	case can[cmp]:
		return True
	}
	return False
}

var (
	genNumbers = []string{"radio.signal", "radio.noise", "supply.load"}
	genYes     = []string{"device.powered", "device.sealed"}
	genChoices = map[string][]string{"device.colour": {"green", "amber", "dark"}, "hub.colour": {"green", "violet"}}
	genMembers = []string{"upper bus", "lower bus", "spare"}
	genCmp     = []string{"<", "<=", ">", ">=", "==", "!="}
)

func drawNum(t *rapid.T, depth int, unit bool) *genNum {
	names := genNumbers[:2] // in %, so that they may be added
	if !unit {
		names = genNumbers[2:]
	}
	reading := &genNum{op: "reading", name: rapid.SampledFrom(names).Draw(t, "number")}
	if depth == 0 {
		return reading
	}
	switch op := rapid.SampledFrom([]string{"reading", "+", "-", "*", "min", "max", "abs"}).Draw(t, "arithmetic"); op {
	case "reading":
		return reading
	case "abs":
		return &genNum{op: op, a: drawNum(t, depth-1, unit)}
	case "*":
		return &genNum{op: op, a: drawNum(t, depth-1, unit), b: &genNum{op: "const", c: float64(rapid.IntRange(0, 3).Draw(t, "factor"))}}
	default:
		return &genNum{op: op, a: drawNum(t, depth-1, unit), b: drawNum(t, depth-1, unit)}
	}
}

func drawCondition(t *rapid.T, depth int) *genCondition {
	shapes := []string{"compare", "compare", "yes", "choice", "member", "version", "derived"}
	if depth > 0 {
		shapes = append(shapes, "and", "or", "and", "or", "not", "and", "or")
	}
	g := &genCondition{op: rapid.SampledFrom(shapes).Draw(t, "shape")}
	switch g.op {
	case "and", "or":
		for range rapid.IntRange(2, 6).Draw(t, "parts") {
			g.kids = append(g.kids, drawCondition(t, depth-1))
		}
	case "not":
		g.kids = []*genCondition{drawCondition(t, depth-1)}
	case "compare":
		g.cmp = rapid.SampledFrom(genCmp).Draw(t, "operator")
		unit := rapid.Bool().Draw(t, "in per cent")
		g.a = drawNum(t, 2, unit)
		g.b = &genNum{op: "const", c: float64(rapid.IntRange(-1, 9).Draw(t, "limit") * 10)}
		if rapid.IntRange(0, 3).Draw(t, "both sides") == 0 {
			g.b = drawNum(t, 1, unit)
		}
		if rapid.IntRange(0, 4).Draw(t, "turned") == 0 {
			g.a, g.b = g.b, g.a
		}
	case "yes":
		g.name = rapid.SampledFrom(genYes).Draw(t, "yes/no")
	case "choice":
		g.name = rapid.SampledFrom([]string{"device.colour", "hub.colour"}).Draw(t, "choice")
		g.word = rapid.SampledFrom(genChoices[g.name]).Draw(t, "word")
		g.cmp = rapid.SampledFrom([]string{"==", "!="}).Draw(t, "equal")
	case "member":
		g.member = rapid.SampledFrom(genMembers).Draw(t, "member")
	case "version":
		g.cmp, g.minor = rapid.SampledFrom(genCmp).Draw(t, "operator"), rapid.IntRange(1, 5).Draw(t, "minor")
	case "derived":
		g.name = "radio.poor"
	}
	return g
}

func drawNumber(t *rapid.T) float64 { return float64(rapid.IntRange(0, 20).Draw(t, "value") * 5) }

// drawKnown draws what is known; with everything set, no reading is unknown
// and none is a range.
func drawKnown(t *rapid.T, everything bool) *known {
	k := &known{num: map[string][2]float64{}, choice: map[string]string{}, members: map[string]bool{}, minor: [2]int{-1, -1}}
	if everything {
		k.complete(t, nil)
		return k
	}
	some := func() bool { return rapid.Bool().Draw(t, "known") }
	for _, name := range genNumbers {
		if some() {
			x := drawNumber(t)
			k.num[name] = [2]float64{x, x}
			if rapid.IntRange(0, 2).Draw(t, "range") == 0 {
				k.num[name] = [2]float64{x, x + drawNumber(t)}
			}
		}
	}
	for _, name := range genYes {
		if some() {
			x := float64(rapid.IntRange(0, 1).Draw(t, "yes"))
			k.num[name] = [2]float64{x, x}
		}
	}
	for _, name := range []string{"device.colour", "hub.colour"} {
		if some() {
			k.choice[name] = rapid.SampledFrom(genChoices[name]).Draw(t, "word")
		}
	}
	for _, m := range genMembers {
		if some() {
			k.members[m] = rapid.Bool().Draw(t, "in")
		}
	}
	if some() {
		m := rapid.IntRange(1, 5).Draw(t, "minor")
		k.minor = [2]int{m, m}
	}
	return k
}

// complete fills in exact values, within what is known already; only names a
// subset of the readings, nil means all.
func (k *known) complete(t *rapid.T, only []string) {
	wanted := func(name string) bool { return only == nil || slices.Contains(only, name) }
	for _, name := range genNumbers {
		if !wanted(name) {
			continue
		}
		x := drawNumber(t)
		if old, ok := k.num[name]; ok {
			x = old[0] + (old[1]-old[0])*float64(rapid.IntRange(0, 4).Draw(t, "quarter"))/4
		}
		k.num[name] = [2]float64{x, x}
	}
	for _, name := range genYes {
		if _, ok := k.num[name]; !ok && wanted(name) {
			x := float64(rapid.IntRange(0, 1).Draw(t, "yes"))
			k.num[name] = [2]float64{x, x}
		}
	}
	for _, name := range []string{"device.colour", "hub.colour"} {
		if _, ok := k.choice[name]; !ok && wanted(name) {
			k.choice[name] = rapid.SampledFrom(genChoices[name]).Draw(t, "word")
		}
	}
	for _, m := range genMembers {
		if _, ok := k.members[m]; !ok && wanted("hub.wired_to") {
			k.members[m] = rapid.Bool().Draw(t, "in")
		}
	}
	if k.minor[0] < 0 && wanted("hub.firmware") {
		m := rapid.IntRange(1, 5).Draw(t, "minor")
		k.minor = [2]int{m, m}
	}
}

// observed is the same for the program; the hub's model is always known.
func (k *known) observed() *Observed {
	o := &Observed{}
	hub, device, panel := Subject{"hub", 1}, Subject{"device", 1}, Subject{"panel", 1}
	subject := map[string]Subject{"radio.signal": device, "radio.noise": hub, "supply.load": panel, "device.powered": device, "device.sealed": device,
		"device.colour": device, "hub.colour": hub}
	o.Set("hub.model", hub, Named("Ash"))
	for name, x := range k.num {
		o.Set(name, subject[name], Between(x[0], x[1]))
	}
	for name, word := range k.choice {
		o.Set(name, subject[name], Named(word))
	}
	var has, hasNot []string
	for m, in := range k.members {
		if in {
			has = append(has, m)
		} else {
			hasNot = append(hasNot, m)
		}
	}
	o.Set("hub.wired_to", hub, Members(has, hasNot))
	if k.minor[0] >= 0 {
		o.Set("hub.firmware", hub, Named(fmt.Sprintf("2.%d", k.minor[0])))
	}
	return o
}

func (k *known) clone() *known {
	c := &known{num: map[string][2]float64{}, choice: map[string]string{}, members: map[string]bool{}, minor: k.minor}
	for n, x := range k.num {
		c.num[n] = x
	}
	for n, x := range k.choice {
		c.choice[n] = x
	}
	for n, x := range k.members {
		c.members[n] = x
	}
	return c
}
