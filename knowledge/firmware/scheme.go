package firmware

import "strings"

// Scheme says how the versions of a product line are read and ordered.
// Schemes are comparable with ==. The zero Scheme reads nothing.
type Scheme struct{ id uint8 }

// The schemes by number. Numbers are not stored anywhere: names are.
const (
	none uint8 = iota
	dotted
	twoDigit
	decimal
	shortMinor
	fourPart
	semVer
)

// spec is what the numeric schemes differ in.
type spec struct {
	name    string
	about   string
	want    string
	parts   int  // how many are read
	written int  // how many are always written
	letters bool // one letter may follow
}

var specs = [...]spec{
	none: {want: "the name of a version scheme first: one of dotted, two-digit, decimal, short-minor, four-part, semver"},
	dotted: {
		name: "dotted", parts: maxParts, written: 2, letters: true,
		about: "numbers compared one by one; 3.05 equals 3.5",
		want:  "up to six numbers joined by points, such as 3.5, 1.6.12 or 2.4b",
	},
	twoDigit: {
		name: "two-digit", parts: maxParts, written: 2, letters: true,
		about: "the minor has two digits; 3.5 can be 3.05 or 3.50",
		want:  "two digits after the first point, such as 3.05, 1.06.12 or 2.04b",
	},
	decimal: {
		name: "decimal", parts: maxParts, written: 2, letters: true,
		about: "the minor is a decimal fraction; 3.5 means 3.50",
		want:  "one to four digits after the first point, such as 3.5, 3.05 or 2.04b",
	},
	shortMinor: {
		name: "short-minor", parts: maxParts, written: 2, letters: true,
		about: "a single digit after the first point has a 0 before it; 3.5 means 3.05",
		want:  "one or two digits after the first point, such as 3.5, 3.50 or 2.4b",
	},
	fourPart: {
		name: "four-part", parts: 4, written: 4,
		about: "up to four numbers compared one by one; 1.2 equals 1.2.0.0",
		want:  "up to four numbers joined by points and no letter, such as 1.2.3.4",
	},
	semVer: {
		name: "semver", parts: 3, written: 3,
		about: "Semantic Versioning 2.0.0; 1.0.0-rc.1 is before 1.0.0",
		want:  "three numbers without leading zeros, and a prerelease if there is one, such as 1.2.3 or 1.2.3-rc.1",
	},
}

// LookupScheme returns the scheme of a name that pack files use. Case and
// outer space mean nothing.
func LookupScheme(name string) (Scheme, bool) {
	name = strings.TrimSpace(name)
	for id := dotted; int(id) < len(specs); id++ {
		if strings.EqualFold(specs[id].name, name) {
			return Scheme{id}, true
		}
	}
	return Scheme{}, false
}

// SchemeNames lists the names that LookupScheme knows.
func SchemeNames() []string {
	names := make([]string, 0, len(specs)-1)
	for _, s := range specs[dotted:] {
		names = append(names, s.name)
	}
	return names
}

// Name is the name in pack files; it is empty for the zero Scheme.
func (s Scheme) Name() string { return specs[s.id].name }

// About says in one line what is equal to what.
func (s Scheme) About() string { return specs[s.id].about }

func (s Scheme) spec() *spec { return &specs[s.id] }

func (s Scheme) syntax(text, want string) *SyntaxError {
	return &SyntaxError{Text: text, Scheme: s.Name(), Want: want}
}
