package calc

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"ferrule/bot/intake"
	"ferrule/knowledge/units"
)

// Kind is a kind of calculation.
type Kind struct {
	Name     string
	Short    string // for a list of commands
	Long     string
	Examples []string // sentences
	Fields   []Field
	rewrite  func(string) string        // of what numbers alone do not tell; may be nil
	claim    func(*Input, *words) error // takes what the fields' words alone do not tell; may be nil
	another  func(*words) *Kind         // another list of fields for the sentence; may be nil
	idle     []string                   // words that may stand in a sentence and say nothing
	parted   bool                       // "then" and "also" begin further parts
	raw      bool                       // the sentence itself is worked on: a version is no number
	work     func(*Input) (*Sheet, error)
}

// Field is a quantity that a calculation takes: by a flag of its name, or in a
// sentence, where the unit and the words next to it tell it from others.
type Field struct {
	Name string
	Help string // up to a semicolon what it is, then how it is written
	Unit string // as units.BySymbol knows it; empty for a bare count
	// The words that label its numbers, folded: Words stand on either side, Leads
	// too but usually in front, Before in front only and After behind only. The
	// first field of a unit needs none.
	Words, Leads, Before, After []string
	// Choices are the values of a field that is no number, each with its words.
	Choices []Choice
	many    bool // may be given more than once
	whole   bool // a number of things
	larger  bool // of two numbers about its word the greater one is meant
	flag    bool // by a flag only
	own     bool // a word of Before labels numbers in its own unit only
	named   bool // a number in its unit alone is not enough
	bare    bool // a broken number without a unit may be meant for it
	loose   bool // any number without a unit may be meant for it
	once    bool // holds for all parts of a sentence
}

// Choice is a value of a field that is no number.
type Choice struct {
	Name  string
	Words []string
}

// Kinds lists the calculations in the order in which they are shown.
func Kinds() []Kind {
	return []Kind{radioKind(), cableKind(), batteryKind(), loopKind(), versionKind()}
}

// Find returns a kind of calculation by its name.
func Find(name string) (Kind, bool) {
	kinds := Kinds()
	i := slices.IndexFunc(kinds, func(k Kind) bool { return k.Name == name })
	if i < 0 {
		return Kind{}, false
	}
	return kinds[i], true
}

// Input is what a calculation was given.
type Input struct {
	kind    *Kind
	numbers map[string]float64
	choices map[string]string
	given   []Item
	assumed []Item
	first   *Input   // the first part, in the others
	next    []*Input // the parts behind "then" and "also"
	branch  bool     // the part begins at the panel again
	text    string
	unused  []string
	quiet   bool // nothing was said of an alarm, so that no time is the alarm's
	strung  int  // cores that the cable has, in use or not
}

func (k *Kind) empty() *Input {
	return &Input{kind: k, numbers: map[string]float64{}, choices: map[string]string{}}
}

// Work calculates. The error is a *Missing, a *Misread, a *units.OutOfRange or
// what the formula says of itself, such as a bus that collapses.
func (k Kind) Work(in *Input) (*Sheet, error) {
	sheet, err := k.work(in)
	if err != nil {
		return nil, err
	}
	sheet.Kind = k.Name
	for part := range in.parts() {
		sheet.Unused = append(sheet.Unused, part.unused...)
		sheet.Given = append(sheet.Given, part.given...)
		for _, item := range part.assumed {
			if !slices.Contains(sheet.Assumed, item) {
				sheet.Assumed = append(sheet.Assumed, item)
			}
		}
	}
	return sheet, nil
}

// parts yields the input and those behind it.
func (in *Input) parts() func(func(*Input) bool) {
	return func(yield func(*Input) bool) {
		if !yield(in) {
			return
		}
		for _, p := range in.next {
			if !yield(p) {
				return
			}
		}
	}
}

// Missing is a quantity without which there is nothing to calculate.
type Missing struct {
	Quantity string
	Example  string
}

func (e *Missing) Error() string { return fmt.Sprintf("say the %s, such as %s", e.Quantity, e.Example) }

// Misread is a piece of a sentence that nothing could be made of.
type Misread struct {
	Text   string
	Advice string
}

func (e *Misread) Error() string { return fmt.Sprintf("%q: %s", e.Text, e.Advice) }

// has tells whether a number was given.
func (in *Input) has(name string) bool { _, ok := in.numbers[name]; return ok }

// need returns a number that must be given.
func (in *Input) need(name, quantity, example string) (float64, error) {
	x, ok := in.numbers[name]
	if !ok {
		return 0, &Missing{quantity, example}
	}
	return x, nil
}

// or returns a number, or what is usual where it was not given.
func (in *Input) or(name, quantity string, usual float64, unit, source string) float64 {
	if x, ok := in.numbers[name]; ok {
		return x
	}
	in.assume(quantity, Show(usual, unit), source)
	in.numbers[name] = usual
	return usual
}

func (in *Input) assume(quantity, value, source string) {
	if item := (Item{quantity, value, source}); !slices.Contains(in.assumed, item) {
		in.assumed = append(in.assumed, item)
	}
}

// Usually gives the figures of an equipment model, for those fields that this
// calculation has and that were not given.
func (in *Input) Usually(model string, figures map[string]float64) {
	for i := range in.kind.Fields {
		f := &in.kind.Fields[i]
		if x, ok := figures[f.Name]; ok && !in.has(f.Name) {
			in.numbers[f.Name] = x
			in.assume(f.title(), Show(x, f.Unit), "figure of "+model)
		}
	}
}

// choice returns a choice, or what is usual.
func (in *Input) choice(name, quantity, usual, source string) string {
	if c, ok := in.choices[name]; ok {
		return c
	}
	in.assume(quantity, usual, source)
	in.choices[name] = usual
	return usual
}

// Set gives a field its value by a flag: "40 m", "40" in the field's own unit,
// or one of its choices.
func (in *Input) Set(name, text string) error {
	i := slices.IndexFunc(in.kind.Fields, func(f Field) bool { return f.Name == name })
	if i < 0 {
		return &Misread{name, "there is no such quantity here"}
	}
	f := &in.kind.Fields[i]
	if f.Choices != nil {
		return in.setChoice(f, text)
	}
	pieces := intake.Pieces(text)
	if len(pieces) != 1 || !pieces[0].Number {
		return &Misread{text, "write one number with its unit for --" + name + ", such as " + Show(1, f.Unit)}
	}
	p := pieces[0]
	if f.Unit == "mm2" && slices.Contains(p.Units, units.Millimetre) {
		return &Misread{text, whichMillimetres}
	}
	x := (p.Low + p.High) / 2
	if len(p.Units) > 0 {
		var ok bool
		if x, ok = f.in(p); !ok {
			return &Misread{text, "--" + name + " is in " + f.unitName()}
		}
	}
	return in.put(f, x)
}

func (in *Input) setChoice(f *Field, text string) error {
	folded := intake.Fold(text)
	var names []string
	for _, c := range f.Choices {
		if folded == c.Name || slices.Contains(c.Words, folded) {
			in.choose(f, c.Name)
			return nil
		}
		names = append(names, c.Name)
	}
	return &Misread{text, "--" + f.Name + " is one of " + strings.Join(names, ", ")}
}

// mostThings is how many of a thing are taken for meant.
const mostThings = 100

func (in *Input) put(f *Field, x float64) error {
	if f.whole {
		if err := units.Within(f.title(), x, "", 0, mostThings); err != nil {
			return err
		}
		if x != math.Trunc(x) {
			return &Misread{Show(x, ""), f.title() + " is a whole number"}
		}
	}
	item := Item{Name: f.title(), Value: Show(x, f.Unit)}
	if f.many && in.has(f.Name) {
		x += in.numbers[f.Name]
		item.Value = Show(x, f.Unit)
		i := slices.IndexFunc(in.given, func(i Item) bool { return i.Name == item.Name })
		in.given[i] = item
	} else {
		in.given = append(in.given, item)
	}
	in.numbers[f.Name] = x
	return nil
}

func (in *Input) choose(f *Field, name string) {
	in.choices[f.Name] = name
	in.given = append(in.given, Item{Name: f.title(), Value: name})
}

// in converts what was written into the field's unit.
func (f *Field) in(p intake.Piece) (float64, bool) {
	unit, ok := units.BySymbol(f.Unit)
	if !ok {
		return 0, false
	}
	for _, u := range p.Units {
		if x, ok := u.In(unit, (p.Low+p.High)/2); ok {
			return x, true
		}
	}
	return 0, false
}

// strange is how far the unit that was written is from the field's own, in
// powers of ten: 15 min are minutes sooner than a quarter of an hour.
func (f *Field) strange(p intake.Piece) float64 {
	unit, ok := units.BySymbol(f.Unit)
	if !ok || len(p.Units) == 0 {
		return 0
	}
	least := math.Inf(1)
	for _, u := range p.Units {
		if one, ok := u.In(unit, 1); ok && one > 0 {
			least = min(least, math.Abs(math.Log10(one)))
		}
	}
	return least
}

// title is what the field is.
func (f *Field) title() string {
	title, _, _ := strings.Cut(f.Help, ";")
	return title
}

func (f *Field) unitName() string {
	switch f.Unit {
	case "":
		return "pieces, a bare number"
	case "C":
		return "°C"
	}
	return f.Unit
}
