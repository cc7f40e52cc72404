package learn

import (
	"errors"
	"fmt"
	"math"

	"ferrule/knowledge/units"
)

// mostCases bounds the counts of a file, so that no sum overflows.
const mostCases = 1_000_000_000

// fileCheck holds the rows of a file against its number of cases.
type fileCheck struct {
	cases  int
	names  map[nameKey]int
	totals map[nameKey]int // symptom or table -> cases in its rows
	err    error
}

// check returns a *FileError for each row that no cases can have given.
func (f *file) check() error {
	c := &fileCheck{cases: f.Cases, names: map[nameKey]int{}, totals: map[nameKey]int{}}
	c.at("settings", f.Settings.check())
	c.at("cases", units.Within("number of cases", float64(f.Cases), "", 0, mostCases))
	if f.First.IsZero() != f.Last.IsZero() || f.Last.Before(f.First) || f.Cases == 0 && !f.First.IsZero() {
		c.at("first, last", errors.New("they are no span of time in which cases were closed"))
	}
	for i, r := range f.Names {
		c.at(place("names", i, r.Kind, r.Name), errors.Join(kind(r.Kind), name("name", r.Name), c.share("cases with this name", r.Cases)))
		c.names[nameKey{r.Kind, r.Name}] = r.Cases
	}
	for i, r := range f.Causes {
		known := errors.Join(c.known(symptomName, r.Symptom), c.known(causeName, r.Cause))
		if r.Equipment != "" {
			known = errors.Join(known, c.known(equipmentName, r.Equipment))
		}
		c.at(place("causes", i, r.Symptom, r.Equipment, r.Cause), errors.Join(known, c.counts(r.counts, nameKey{symptomName, r.Symptom})))
	}
	for i, r := range f.Bands {
		c.at(place("bands", i, r.Evidence, r.Cause), errors.Join(c.known(evidenceName, r.Evidence), c.known(causeName, r.Cause),
			units.Within("band", float64(r.Band), "", 1, mostBands), c.counts(r.counts, nameKey{evidenceName, r.Evidence})))
	}
	c.times(f)
	return c.err
}

func (c *fileCheck) times(f *file) {
	for i, r := range f.Repairs {
		err := errors.Join(c.known(causeName, r.Cause), whole(r.Mended), whole(r.Lost))
		if r.Minutes != nil {
			err = errors.Join(err, r.Minutes.check())
		} else if r.Mended == (counts{}) && r.Lost == (counts{}) {
			err = errors.Join(err, errors.New("the row says nothing"))
		}
		c.at(place("repairs", i, r.Cause), err)
	}
	for i, r := range f.Steps {
		c.at(place("steps", i, r.Reading), errors.Join(c.known(readingName, r.Reading), r.Minutes.check()))
	}
}

func (c *fileCheck) at(place string, err error) {
	if err != nil {
		c.err = errors.Join(c.err, &FileError{Place: place, Err: err})
	}
}

func place(list string, i int, names ...string) string {
	s := fmt.Sprintf("%s[%d]", list, i)
	sep := " "
	for _, n := range names {
		if n != "" {
			s, sep = s+sep+n, ", "
		}
	}
	return s
}

func kind(k string) error {
	switch k {
	case symptomName, equipmentName, causeName, evidenceName, readingName, notInForce:
		return nil
	}
	return fmt.Errorf("there is no kind of name %q", k)
}

// known demands that a name is among the names: else it could be lost unseen.
func (c *fileCheck) known(kind, name string) error {
	if c.names[nameKey{kind, name}] == 0 {
		return fmt.Errorf("the %s %q is not among the names", kind, name)
	}
	return nil
}

func (c *fileCheck) share(what string, n int) error {
	return units.Within("number of "+what, float64(n), "", 1, float64(max(1, c.cases)))
}

// counts demands that a case is in no more than one row of a symptom or a table.
func (c *fileCheck) counts(n counts, of nameKey) error {
	if err := whole(n); err != nil {
		return err
	}
	c.totals[of] += n.number()
	return errors.Join(c.share("cases of a row", n.number()),
		units.Within("number of cases in all rows of "+of.name, float64(c.totals[of]), "", 1, float64(c.names[of])))
}

func whole(n counts) error {
	for _, x := range []int{n.Measurement, n.SwapBack, n.SymptomGone, n.Unproven} {
		if err := units.Within("number of cases", float64(x), "", 0, mostCases); err != nil {
			return err
		}
	}
	return nil
}

func (m moments) check() error {
	const slack = 1e-9
	low, high := math.Log(leastMinutes)-slack, math.Log(mostMinutes)+slack
	return errors.Join(
		units.Within("number of times", float64(m.N), "", 1, mostCases),
		units.Within("mean log of the minutes", m.Mean, "", low, high),
		units.Within("squares of the log minutes", m.Squares, "", 0, float64(max(0, m.N-1))*(high-low)*(high-low)),
	)
}
