package learn

import (
	"errors"
	"fmt"
	"time"
	"unicode/utf8"

	"ferrule/knowledge/units"
)

// SomethingElse is the cause of a case in which no fault was found, or one that
// no pack knows.
const SomethingElse = "something_else"

// How a cause was confirmed.
const (
	Measurement = "measurement"
	SwapBack    = "swap_back" // the old part was put back, and the fault came back
	SymptomGone = "symptom_gone"
	Unproven    = "unproven"
)

// Case is what a closed case teaches.
type Case struct {
	ID        uint64
	Closed    time.Time // zero if it is not known
	Symptoms  []string
	Equipment string // model or kind; may be empty
	Cause     string // empty is SomethingElse
	Confirmed string // Measurement, SwapBack, SymptomGone or Unproven
	Bands     []Observed
	Repairs   []Tried
	Steps     []Timed
}

// Observed is the band in which an evidence table was at the end of the case.
type Observed struct {
	Evidence string
	Band     int // from 1
}

// Tried is a repair that was done.
type Tried struct {
	Cause   string // that it is for
	Mended  bool
	Minutes float64 // 0 if it is not known
}

// Timed is a reading that was taken, with the time it took.
type Timed struct {
	Reading string
	Minutes float64 // 0 if it is not known
}

// CaseError says that a case is at fault. Nothing is learned then: a case that
// is left out unseen would tilt the numbers.
type CaseError struct {
	ID  uint64
	Err error // a *units.OutOfRange where a number is at fault
}

func (e *CaseError) Error() string { return fmt.Sprintf("case %d: %v", e.ID, e.Err) }

func (e *CaseError) Unwrap() error { return e.Err }

// What a case may hold. Diagnosis keeps the bands of a table in 32 bits; the
// minutes are what one person spends on one job.
const (
	mostBands    = 32
	leastMinutes = 0.01
	mostMinutes  = 100_000
	longestName  = 200 // bytes
)

func (c *Case) cause() string {
	if c.Cause == "" {
		return SomethingElse
	}
	return c.Cause
}

func (c *Case) check() error {
	if y := c.Closed.UTC().Year(); y < 1 || y > 9999 {
		return fmt.Errorf("closed in the year %d", y)
	}
	if _, ok := grade(c.Confirmed); !ok {
		return fmt.Errorf("confirmed by %q; it must be %s, %s, %s or %s", c.Confirmed, Measurement, SwapBack, SymptomGone, Unproven)
	}
	err := errors.Join(name("cause", c.cause()), optional("equipment", c.Equipment))
	for _, s := range c.Symptoms {
		err = errors.Join(err, name("symptom", s))
	}
	for _, o := range c.Bands {
		err = errors.Join(err, name("evidence table", o.Evidence),
			units.Within("band of the evidence table "+o.Evidence, float64(o.Band), "", 1, mostBands))
	}
	for _, r := range c.Repairs {
		err = errors.Join(err, name("cause of a repair", r.Cause), minutes("time for the repair of "+r.Cause, r.Minutes))
	}
	for _, s := range c.Steps {
		err = errors.Join(err, name("reading", s.Reading), minutes("time for the reading "+s.Reading, s.Minutes))
	}
	return err
}

// name refuses what a file could not give back.
func name(what, s string) error {
	switch {
	case s == "":
		return fmt.Errorf("the name of the %s is missing", what)
	case len(s) > longestName:
		return fmt.Errorf("the name of the %s has %d bytes; at most %d will do", what, len(s), longestName)
	case !utf8.ValidString(s):
		return fmt.Errorf("the name of the %s is no valid text: %q", what, s)
	}
	return nil
}

func optional(what, s string) error {
	if s == "" {
		return nil
	}
	return name(what, s)
}

func minutes(what string, x float64) error {
	if x == 0 {
		return nil
	}
	return units.Within(what, x, "min", leastMinutes, mostMinutes)
}
