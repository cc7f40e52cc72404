package learn

import (
	"errors"
	"iter"
	"time"

	"ferrule/knowledge"
	"ferrule/knowledge/units"
)

// Prequential goes through the cases in the order in which they were closed, and
// has each forecast from what the cases before it taught (Dawid 1984). It learns
// anew after each so many cases; forecast gets the same *Learned until then, and
// may keep what it made of it. A forecast without probabilities is counted as
// not judged.
//
// The cases before are those that were closed before; a case that was open at
// the same time counts among them.
//
// Errors are those of Learn and Score; a *[CaseError] for a case out of order; a
// *units.OutOfRange for every below 1.
func Prequential(pack *knowledge.Pack, cases iter.Seq[Case], s Settings, every int, forecast func(*Learned, Case) Forecast) (Scores, error) {
	if err := units.Within("number of cases between learning", float64(every), "", 1, mostCases); err != nil {
		return Scores{}, err
	}
	l, err := newLearner(pack, s)
	if err != nil {
		return Scores{}, err
	}
	scores, last := new(scorer), time.Time{}
	known, n := l.learned(), 0
	for c := range cases {
		if c.Closed.Before(last) {
			return Scores{}, &CaseError{c.ID, errors.New("it was closed before the one in front of it")}
		}
		last = c.Closed
		if n > 0 && n%every == 0 {
			known = l.learned()
		}
		if err := scores.add(forecast(known, c)); err != nil {
			return Scores{}, err
		}
		if err := l.add(c); err != nil {
			return Scores{}, err
		}
		n++
	}
	return scores.scores(), nil
}
