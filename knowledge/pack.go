package knowledge

import "strings"

// Kind is the kind of a reading.
type Kind string

// The kinds of reading.
const (
	Number  Kind = "number"
	Version Kind = "version"
	Choice  Kind = "choice"
	Set     Kind = "set"
	YesNo   Kind = "yes/no"
	Text    Kind = "text"
)

// Class is what a reading or a model is about. Every reading belongs to one
// subject of its class: "device 2", "hub 1", or "site" itself.
type Class string

// The classes of subject.
const (
	Site    Class = "site"
	Panel   Class = "panel"
	Hub     Class = "hub"
	Module  Class = "module"
	Device  Class = "device"
	Zone    Class = "zone"
	Bus     Class = "bus"
	Battery Class = "battery"
	Path    Class = "path"
)

// Classes lists the classes in the order in which they are shown.
var Classes = []Class{Site, Panel, Hub, Module, Device, Zone, Bus, Battery, Path}

// Place is where a technician stands to take a reading.
type Place string

// The places.
const (
	AtPanel  Place = "panel"
	AtDevice Place = "device"
	AtHub    Place = "hub"
	AtLadder Place = "ladder"
	AtOffice Place = "office"
	Anywhere Place = "anywhere" // a question that needs no walk
)

// Str is a piece of pack text with the place where it stands.
type Str struct {
	S string
	Pos
}

// Expr is an expression of the rule language with its place.
type Expr Str

// Named is an entry of a mapping: its key with its place, and its value.
type Named[T any] struct {
	Name  Str
	Value T
}

func (Named[T]) isNamed() {}

// Scalar is a value by its written text; a list has List set instead.
type Scalar struct {
	S    string
	List []Str
	Pos
}

// Words are the phrases that people use for something, by language (en, de,
// pl, es, fr, it, nl). One that begins with = is only meant as it stands, word
// by word; the others also in another order and with other words between.
type Words map[string][]string

// Label returns the first phrase of a language, by which a thing is called
// there, without its mark; "" if the language has none.
func (w Words) Label(language string) string {
	if len(w[language]) == 0 {
		return ""
	}
	plain, _ := AsItStands(w[language][0])
	return plain
}

// AsItStands cuts the mark off a phrase, and tells whether it had one: it is
// only meant word by word.
func AsItStands(phrase string) (plain string, marked bool) { return strings.CutPrefix(phrase, "=") }

// Pack is everything that was loaded, in the order of the files.
type Pack struct {
	Hash      string // "sha256:..." over file names and contents
	Hazards   []Hazard
	Readings  []Reading
	Symptoms  []Symptom
	Equipment []Equipment
	Causes    []Cause
	Rules     []Rule
	Evidence  []Evidence
	Concepts  []Words   // words that mean the same, a concept each
	Phrases   []Phrases // already added to what they are for

	readings  map[string]*Reading
	symptoms  map[string]*Symptom
	causes    map[string]*Cause
	equipment map[string]*Equipment
	hazards   map[string]*Hazard
}

// file is the shape of one YAML file; every key may be absent.
type file struct {
	Hazards   []Hazard    `yaml:"hazards"`
	Readings  []Reading   `yaml:"readings"`
	Symptoms  []Symptom   `yaml:"symptoms"`
	Equipment []Equipment `yaml:"equipment"`
	Causes    []Cause     `yaml:"causes"`
	Rules     []Rule      `yaml:"rules"`
	Evidence  []Evidence  `yaml:"evidence"`
	Phrases   []Phrases   `yaml:"phrases"`
	Concepts  []Words     `yaml:"concepts"`
}

// Hazard is something that can hurt a person or a customer's protection. Its
// caution is said in full once and as one line until the hazard changes.
type Hazard struct {
	At     Pos    `yaml:"-"`
	Name   Str    `yaml:"hazard"`
	Full   string `yaml:"full"`
	Short  string `yaml:"short"`
	Stop   string `yaml:"stop"` // said instead of anything else when a reading shows the hazard is real
	Source string `yaml:"source"`
}

// Reading is an entry of the vocabulary: something that a technician can
// measure, see or know, or that follows from other readings.
type Reading struct {
	At    Pos    `yaml:"-"`
	Name  Str    `yaml:"reading"` // dotted
	Title string `yaml:"title"`   // as said in a sentence: "signal level"
	Kind  Kind   `yaml:"kind"`
	Class Class  `yaml:"subject"`
	Unit  string `yaml:"unit"` // canonical: %, V, mA, ohm, m, dB, dBm, min, Ah, C, or empty

	Choices     []ChoiceOf  `yaml:"choices"` // of a choice, or the members of a set
	Words       Words       `yaml:"words"`
	Negative    Words       `yaml:"negative"`    // yes/no: phrases that say no by themselves
	Usual       bool        `yaml:"usual"`       // numbers: what a number in this unit usually is
	Counted     bool        `yaml:"counted"`     // numbers: of things, so that "two brick walls" and "a slab" are values
	Plausible   *Range      `yaml:"plausible"`   // outside: questioned, never used
	Dangerous   *Danger     `yaml:"dangerous"`   // true if dangerous: answered first
	Scheme      *Str        `yaml:"scheme_from"` // versions: the reading whose model gives the scheme
	FixedScheme string      `yaml:"scheme"`      // versions: the scheme, where no model decides
	Property    *PropertyOf `yaml:"property"`    // the value comes from a model of the equipment
	Default     *Scalar     `yaml:"default"`     // holds where no model says otherwise
	Derived     *Expr       `yaml:"expression"`  // the value follows from other readings
	Others      *Others     `yaml:"others"`      // the value follows from other subjects

	Unless   *Str     `yaml:"unless"` // not asked while this yes/no holds
	Ask      string   `yaml:"ask"`    // the question, as one would put it
	How      string   `yaml:"how"`    // how it is taken, one line
	Place    Place    `yaml:"place"`
	Minutes  float64  `yaml:"minutes"`
	Cautions []Str    `yaml:"cautions"` // hazards
	Likely   []string `yaml:"likely"`   // likely answers to offer for a number
	Source   string   `yaml:"source"`
}

// ChoiceOf is one value of a choice or one member of a set.
type ChoiceOf struct {
	Name  Str    `yaml:"choice"`
	Title string `yaml:"title"` // as said in a sentence; the name if empty
	Words Words  `yaml:"words"`
}

// Range is a closed interval.
type Range struct {
	Low  float64 `yaml:"low" need:"the lower end"`
	High float64 `yaml:"high" need:"the upper end"`
}

// Danger says when a value is dangerous if true, and which hazard it shows.
// Bounds are exclusive.
type Danger struct {
	Above  *float64 `yaml:"above"`
	Below  *float64 `yaml:"below"`
	Is     string   `yaml:"is"` // for yes/no and choices
	Hazard Str      `yaml:"hazard"`
}

// PropertyOf takes a reading's value from an equipment model.
type PropertyOf struct {
	Name Str  `yaml:"name"` // such as lowest_level or requires.panel
	Of   Str  `yaml:"of"`   // the reading that holds the model: device.model
	For  *Str `yaml:"for"`  // requires.*: the reading that holds the other model
}

// Others derives a reading from the other subjects of a class, the one in
// focus left out.
type Others struct {
	Class Class `yaml:"over"`
	Where Expr  `yaml:"where"`
	Is    Str   `yaml:"is"` // any | all | count
}

// Symptom is what a technician calls in with.
type Symptom struct {
	At    Pos     `yaml:"-"`
	Name  Str     `yaml:"symptom"`
	Title string  `yaml:"title"`
	Words Words   `yaml:"words"`
	Else  float64 `yaml:"something_else"` // prior of "something else"; 0.05 if 0
	Class Class   `yaml:"subject"`        // what it is usually about
	Asked bool    `yaml:"question"`       // it is asked rather than reported: whether things go together

	// Reports are whole first messages of this complaint, from which the reader
	// learns how it is put. They are no phrases that are looked for.
	Reports Words `yaml:"reports"`

	Source string `yaml:"source"`
}

// Equipment is a model or, when Generic, a kind that a technician may name
// instead of a model.
type Equipment struct {
	At      Pos    `yaml:"-"`
	Model   Str    `yaml:"model"`
	Class   Class  `yaml:"class"`
	Kind    string `yaml:"kind"` // the generic entry that this model is one of
	Generic bool   `yaml:"generic"`
	Words   Words  `yaml:"words"`

	Scheme      string                `yaml:"scheme"`       // version scheme of its firmware
	Generation  int                   `yaml:"generation"`   // of a hub
	Link        *Link                 `yaml:"link"`         // what carries this device
	Connections []Str                 `yaml:"connections"`  // what it must be wired to
	Requires    []Named[[]Named[Str]] `yaml:"requires"`     // class of the other -> its model -> least firmware
	LowestLevel *float64              `yaml:"lowest_level"` // mounting limit in its own scale
	Capacity    int                   `yaml:"capacity"`     // devices that a hub takes
	Addresses   *Range                `yaml:"addresses"`    // valid addresses on its bus
	BusKind     string                `yaml:"bus_kind"`     // rs-485 or other
	Onboard     bool                  `yaml:"onboard_radio"`
	CurrentMA   float64               `yaml:"current_ma"`
	Volts       *Range                `yaml:"volts"`      // working voltage
	CellVolts   *float64              `yaml:"cell_volts"` // least cell voltage under load
	Radio       *Radio                `yaml:"radio"`      // what its level is calculated from
	ListedAs    string                `yaml:"listed_as"`  // name in a device list, where that differs
	Source      string                `yaml:"source"`
}

// Radio holds the figures from which the level of a wireless device follows.
type Radio struct {
	RadiatedMW   float64 `yaml:"radiated_mw" need:"10"`   // e.r.p.
	AerialLossDB float64 `yaml:"aerial_loss_db" need:"5"` // inside both housings, together
	// LevelScale is what the panel shows as 0 % and as 100 %, in dBm; in between
	// the steps are even.
	LevelScale Range `yaml:"level_scale"`
}

// Link says which hub carries a wireless device.
type Link struct {
	LeastHubGeneration int  `yaml:"least_hub_generation"`
	OnboardRadio       bool `yaml:"onboard_radio"` // a radio on the panel board carries it
	TwoWay             bool `yaml:"two_way"`
}

// Cause is something that can be wrong.
type Cause struct {
	At       Pos              `yaml:"-"`
	Name     Str              `yaml:"cause"`
	Title    string           `yaml:"title"` // as said after "It is probably": "the mounting place is too weak"
	Symptoms []Named[float64] `yaml:"symptoms"`
	Normal   bool             `yaml:"normal"` // behaves as it should: no part is swapped
	Fix      Fix              `yaml:"fix"`
	Success  string           `yaml:"success"` // how it is seen that the fix worked
	Source   string           `yaml:"source"`
}

// Fix mends a cause.
type Fix struct {
	Steps    []string `yaml:"steps"`
	Minutes  float64  `yaml:"minutes"`
	Parts    []string `yaml:"parts"`
	Place    Place    `yaml:"place"`
	Cautions []Str    `yaml:"cautions"`   // hazards
	Later    bool     `yaml:"seen_later"` // whether it helped shows only after days
}

// RuleKind is what a rule's finding means.
type RuleKind string

// The kinds of rule.
const (
	Blocker RuleKind = "blocker"
	Caution RuleKind = "caution"
	Note    RuleKind = "note"
)

// Rule is a certain finding: when its condition holds, it says so.
type Rule struct {
	At       Pos       `yaml:"-"`
	Name     Str       `yaml:"rule"`
	For      []Str     `yaml:"for"` // symptoms; empty means all
	When     Expr      `yaml:"when"`
	Kind     RuleKind  `yaml:"kind"`
	Cause    *Str      `yaml:"cause"`
	Says     Str       `yaml:"says"` // {reading} is replaced by its value
	Before   []Str     `yaml:"before"`
	Source   string    `yaml:"source"`
	Examples []Example `yaml:"examples"`
}

// Evidence is one table for one thing observed.
type Evidence struct {
	At        Pos                `yaml:"-"`
	Name      Str                `yaml:"evidence"`
	Bands     []Band             `yaml:"bands"`
	Given     []Named[[]float64] `yaml:"given"` // P(band | cause)
	Otherwise []float64          `yaml:"otherwise"`
	Within    *Within            `yaml:"within"`
	Source    string             `yaml:"source"`
	Examples  []Example          `yaml:"examples"`
}

// Band is one outcome of an evidence table: the first whose condition holds.
// The last band has no condition and is written as the word rest.
type Band struct {
	At   Pos    `yaml:"-"`
	Name string `yaml:"name"`
	When *Expr  `yaml:"when"`
}

// Within makes a table conditional: it counts only while another table is in
// one band, and its numbers are stated for that case.
type Within struct {
	Evidence Str `yaml:"evidence"`
	Band     int `yaml:"band"` // from 1
}

// Example holds a rule or a table to an expectation.
type Example struct {
	At       Pos             `yaml:"-"`
	Readings []Named[Scalar] `yaml:"readings"`
	Fires    string          `yaml:"fires"` // rules: true, false, unknown
	Needs    []string        `yaml:"needs"` // rules that are unknown
	Band     int             `yaml:"band"`  // tables, from 1
}
