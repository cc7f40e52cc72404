package calc

import (
	"math"
	"slices"
	"strings"

	"ferrule/knowledge/radio"
	"ferrule/knowledge/units"
)

// barrier is something that a radio path goes through.
type barrier struct {
	name   string
	help   string
	loss   float64
	source string
}

const fitted = "COST 231 final report (1999), 4.7, fitted at 1800 MHz: at 868 MHz it says a little too much"

// barriers are what can be counted on a way, slabs apart: they have a term of
// their own.
func barriers() []barrier {
	return []barrier{
		{"heavy-walls", "walls of brick, block or concrete", radio.HeavyWall, fitted},
		{"light-walls", "light walls of plasterboard or wood", radio.LightWall, fitted},
		{"timber-floors", "floors of timber", 5, habit},
		{"windows", "panes of plain glass", 1, habit},
		{"coated-windows", "panes with a metal coating", 25, habit},
		{"foil-walls", "walls with foil-backed insulation", 25, habit},
		{"metal-doors", "metal doors or shutters", 20, habit},
	}
}

// The words of things on the way: what they are, what they are made of, and what
// says nothing of the wave.
var (
	wallNouns   = []string{"wall", "walls", "partition", "partitions", "brickwork", "drywall", "drywalls"}
	floorNouns  = []string{"floor", "floors", "slab", "slabs", "ceiling", "ceilings", "storey", "storeys", "story", "stories"}
	glassNouns  = []string{"window", "windows", "pane", "panes", "glass"}
	doorNouns   = []string{"door", "doors", "shutter", "shutters"}
	wallStuff   = []string{"brick", "bricks", "block", "blocks", "concrete", "stone", "plasterboard"}
	lightStuff  = []string{"plasterboard", "stud", "light", "partition", "partitions", "drywall", "drywalls", "timber", "wood", "wooden"}
	timberStuff = []string{"timber", "wood", "wooden"}
	coatedStuff = []string{"coated", "low", "metallised", "metallized"}
	metalStuff  = []string{"metal", "steel", "fire", "roller"}
	foilStuff   = []string{"foil", "backed"}
	plainStuff  = []string{"solid", "heavy", "thick", "thin", "outer", "outside", "external", "inner", "inside", "internal", "reinforced", "load", "bearing", "double", "glazed", "insulated", "e", "plain"}
	uncounted   = []string{"several", "couple", "some", "many", "few", "multiple", "various", "first", "second", "third", "ground", "top"}
)

func anyOf(words []string, lists ...[]string) bool {
	return slices.ContainsFunc(words, func(w string) bool {
		return slices.ContainsFunc(lists, func(l []string) bool { return slices.Contains(l, w) })
	})
}

// thing is the field for a phrase; the noun at its head decides what it is, and
// the words before it what it is made of. Empty for none.
func thing(phrase []string) string {
	head := phrase[len(phrase)-1:]
	switch {
	case anyOf(head, floorNouns) && anyOf(phrase, timberStuff):
		return "timber-floors"
	case anyOf(head, floorNouns):
		return "slabs"
	case anyOf(head, glassNouns) && anyOf(phrase, coatedStuff):
		return "coated-windows"
	case anyOf(head, glassNouns):
		return "windows"
	case anyOf(head, doorNouns) && (anyOf(phrase, metalStuff) || strings.HasPrefix(head[0], "shutter")):
		return "metal-doors"
	case !anyOf(head, wallNouns, wallStuff):
		return ""
	case anyOf(phrase, foilStuff):
		return "foil-walls"
	case anyOf(phrase, metalStuff[:2]):
		return "metal-doors"
	case anyOf(phrase, lightStuff):
		return "light-walls"
	}
	return "heavy-walls"
}

// claimThings counts what stands on the way. A thing in the singular is one; of
// things in the plural the number has to be said.
func claimThings(in *Input, w *words) error {
	for i := 0; i < len(*w); {
		to := i
		for to < len(*w) && !(*w)[to].used && isThing((*w)[to].Text) && (to == i || !(*w)[to].Apart && goesOn((*w)[to-1].Text, (*w)[to].Text)) {
			to++
		}
		if to == i {
			i++
			continue
		}
		if err := in.count(*w, i, to); err != nil {
			return err
		}
		i = to
	}
	return nil
}

func isThing(word string) bool {
	return word != "" && anyOf([]string{word}, wallNouns, floorNouns, glassNouns, doorNouns, wallStuff, lightStuff, coatedStuff, metalStuff, foilStuff, plainStuff)
}

// goesOn tells whether a word belongs to the thing of the word before it: a noun
// ends its thing unless it is half of one, such as a partition wall.
func goesOn(word, next string) bool {
	one := []string{word}
	if word == "glass" || !anyOf(one, wallNouns, floorNouns, glassNouns, doorNouns) {
		return true
	}
	following := []string{next}
	switch {
	case anyOf(one, wallNouns):
		return anyOf(following, wallNouns)
	case anyOf(one, floorNouns):
		return anyOf(following, floorNouns)
	case anyOf(one, doorNouns):
		return anyOf(following, doorNouns)
	}
	return anyOf(following, glassNouns)
}

// count puts the things of the pieces from i to the end left out.
func (in *Input) count(w words, i, to int) error {
	phrase := make([]string, 0, to-i)
	for _, p := range w[i:to] {
		phrase = append(phrase, p.Text)
	}
	kinds := phrase
	if to+1 < len(w) && w[to].Text == "of" && !w[to].Apart && anyOf([]string{w[to+1].Text}, wallStuff, lightStuff) {
		kinds = append([]string{w[to+1].Text}, phrase...) // walls of plasterboard
		w.use(to, to+2)
	}
	name := thing(kinds)
	k := slices.IndexFunc(in.kind.Fields, func(f Field) bool { return f.Name == name })
	if k < 0 {
		return nil
	}
	f := &in.kind.Fields[k]
	w.use(i, to)
	from := i - 1
	if from >= 0 && w[from].Text == "of" {
		from-- // a couple of walls
	}
	if from >= 0 && !w[i].Apart && w[from].thickness() {
		w[from].used = true
		in.unused = append(in.unused, w[from].written)
		if from--; from < 0 || w[from+1].Apart {
			return in.one(f, phrase)
		}
	}
	if from >= 0 && !w[i].Apart {
		switch q := &w[from]; {
		case q.Number && len(q.Units) == 0 && !q.used:
			if q.Low != q.High {
				return howMany(phrase)
			}
			q.used = true
			return in.put(f, q.Low)
		case q.Text == "no" || q.Text == "without":
			return nil
		case slices.Contains(uncounted, q.Text):
			return howMany(phrase)
		}
	}
	return in.one(f, phrase)
}

// one puts a thing of which no number was said, if it is in the singular.
func (in *Input) one(f *Field, phrase []string) error {
	if head := phrase[len(phrase)-1]; strings.HasSuffix(head, "s") && head != "glass" {
		return howMany(phrase)
	}
	return in.put(f, 1)
}

func howMany(phrase []string) error {
	things := strings.Join(phrase, " ")
	if !strings.HasSuffix(things, "s") {
		things += "s"
	}
	return &Misread{strings.Join(phrase, " "), "say how many " + things}
}

// thickness tells whether a number in front of a wall says how thick it is, which
// the model has no use for.
func (b *bit) thickness() bool {
	return b.Number && (slices.Contains(b.Units, units.Inch) || slices.Contains(b.Units, units.Centimetre) || slices.Contains(b.Units, units.Millimetre))
}

// obstacles are the things that were counted, those of one kind together.
func (in *Input) obstacles() []radio.Obstacle {
	var out []radio.Obstacle
	for _, b := range barriers() {
		for range int(math.Round(in.numbers[b.name])) {
			out = append(out, radio.Obstacle{Name: b.one(), Loss: b.loss})
		}
	}
	return out
}

// one names one of the things.
func (b barrier) one() string {
	return strings.TrimSuffix(strings.ReplaceAll(b.name, "-", " "), "s")
}
