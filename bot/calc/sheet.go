// Package calc works the arithmetic of the trade out for a person: flags or a
// sentence in, and out comes a sheet with the answer in words, each step with
// its formula and source, and a chart where one looks rather than reads.
//
// What was not said is assumed where there is a usual value, and the sheet says
// so; what can't be assumed is asked for by an error that names it.
package calc

// Sheet is a calculation that was worked out.
type Sheet struct {
	Kind     string   `json:"kind"`
	Answer   []string `json:"answer"` // sentences; the first alone is worth reading
	Given    []Item   `json:"given"`
	Assumed  []Item   `json:"assumed,omitempty"`
	Unused   []string `json:"unused,omitempty"` // words of the sentence that nothing was made of
	Steps    []Step   `json:"steps"`
	Cautions []string `json:"cautions,omitempty"`
	Chart    *Chart   `json:"-"`
}

// Item is a quantity as it was understood, or assumed.
type Item struct {
	Name   string `json:"name"`
	Value  string `json:"value"` // with its unit
	Source string `json:"source,omitempty"`
}

// Step is one line of the working.
type Step struct {
	Name    string  `json:"name"`
	Formula string  `json:"formula,omitempty"`
	Value   float64 `json:"value"`
	Text    string  `json:"text,omitempty"` // instead of the value, where it is no quantity
	Unit    string  `json:"unit,omitempty"`
	Source  string  `json:"source,omitempty"`
}

func (s *Sheet) say(sentence string) { s.Answer = append(s.Answer, sentence) }

func (s *Sheet) step(name, formula string, value float64, unit, source string) {
	s.Steps = append(s.Steps, Step{Name: name, Formula: formula, Value: value, Unit: unit, Source: source})
}

// Chart is what there is to look at. All series are over one axis.
type Chart struct {
	Title  string
	X, Y   Axis
	Series []Series
	Limits []Limit // levels that decide
	Marks  []Mark  // places along the x axis
	Points []Point // what was measured
}

// Axis is what runs along one side.
type Axis struct{ Name, Unit string }

// Series is a line, with the range around it where Low and High are set.
type Series struct {
	Name      string
	X, Y      []float64
	Low, High []float64
}

// Limit is a level of the y axis that decides.
type Limit struct {
	Name string
	Y    float64
}

// Mark is a place of the x axis: a wall, a device.
type Mark struct {
	Name string
	X    float64
}

// Point is something that was measured.
type Point struct {
	Name string
	X, Y float64
}
