package learn

import (
	"errors"
	"fmt"
	"iter"
	"maps"
	"math"
	"slices"

	"ferrule/knowledge/units"
)

// Forecast is what was said of a case before its cause was known, and the cause.
type Forecast struct {
	Probabilities map[string]float64 // by cause; they sum to 1
	True          string
	Minutes       float64 // from the first message to the fix; 0 if it is not known
}

// ForecastError says that a forecast is none.
type ForecastError struct {
	Index int   // of the forecast, from 0
	Err   error // a *units.OutOfRange where a number is at fault
}

func (e *ForecastError) Error() string { return fmt.Sprintf("forecast %d: %v", e.Index, e.Err) }

func (e *ForecastError) Unwrap() error { return e.Err }

// Scores judge forecasts. Less is better for Log, Brier and MeanRank. All are 0
// where there is no forecast.
type Scores struct {
	Forecasts int
	Unjudged  int // without probabilities; they count for nothing else

	// Log is the mean of -ln(probability of the true cause), in nats (Good 1952).
	// One who gave it less than LeastProbability is held to have said that.
	Log        float64
	Impossible int // forecasts that gave the true cause less

	// Brier is the mean over the forecasts of the sum over the causes of
	// (probability - outcome)², 0 to 2 (Brier 1950). With two causes it is twice
	// the score of one yes or no.
	Brier float64

	// The rank of the true cause is 1 plus the number of causes that are at least
	// as probable; one that was not named comes after all that were.
	MeanRank       float64
	ReciprocalRank float64 // the mean of 1/rank
	First, Third   Rate    // true causes at rank 1, and at rank 3 or better

	// Reliability holds the probabilities of all causes against what happened.
	Reliability []Bin

	Minutes MinutesScore
}

// LeastProbability is what the log score takes for a true cause that was given
// less: one such forecast costs 13.8 nats and not everything. Common practice,
// no source.
const LeastProbability = 1e-6

// Rate is a share with its Wilson 95 % interval (Wilson 1927; Newcombe 1998).
type Rate struct {
	Hits, Count      int
	Share, Low, High float64 // 0 where Count is 0
}

// Bin is one row of a reliability table: of Count statements with a probability
// between From and To, the mean of which is Mean, so many came true. The
// probabilities of one case stand in several rows and are not independent, so
// that the interval is a little off.
type Bin struct {
	From, To float64 // a tenth: From counts in and To does not, but for 1
	Mean     float64
	Rate
}

// MinutesScore sums up the minutes to the fix, where they are known.
type MinutesScore struct {
	Count                       int
	Mean, Median, NinetyPercent float64
}

// Score judges forecasts. The error is a *[ForecastError] for one whose
// probabilities are no probabilities.
func Score(forecasts iter.Seq[Forecast]) (Scores, error) {
	s := new(scorer)
	for f := range forecasts {
		if err := s.add(f); err != nil {
			return Scores{}, err
		}
	}
	return s.scores(), nil
}

// check allows the probabilities to miss 1 by a millionth, as the rows of a pack may.
func (f *Forecast) check() error {
	sum := 0.0
	for _, cause := range slices.Sorted(maps.Keys(f.Probabilities)) {
		p := f.Probabilities[cause]
		if err := units.Within("probability of "+cause, p, "", 0, 1); err != nil {
			return err
		}
		sum += p
	}
	if f.True == "" {
		return errors.New("the true cause is missing; where no fault was found it is " + SomethingElse)
	}
	return errors.Join(units.Within("sum of the probabilities", sum, "", 1-1e-6, 1+1e-6), minutes("time to the fix", f.Minutes))
}

const bins = 10

// scorer adds up scores.
type scorer struct {
	Scores
	ranks, reciprocal float64
	sums              [bins]float64
	hits, counts      [bins]int
	minutes           []float64
}

func (s *scorer) add(f Forecast) error {
	if len(f.Probabilities) == 0 {
		s.Unjudged++
		return nil
	}
	if err := f.check(); err != nil {
		return &ForecastError{s.Forecasts + s.Unjudged, err}
	}
	s.Forecasts++
	p := f.Probabilities[f.True]
	if p < LeastProbability {
		s.Impossible++
	}
	s.Log -= math.Log(max(p, LeastProbability))
	s.causes(&f)
	s.rank(&f)
	if f.Minutes > 0 {
		s.minutes = append(s.minutes, f.Minutes)
	}
	return nil
}

// causes goes by name, so that the sums are the same each time.
func (s *scorer) causes(f *Forecast) {
	if _, named := f.Probabilities[f.True]; !named {
		s.Brier++
	}
	for _, cause := range slices.Sorted(maps.Keys(f.Probabilities)) {
		p, outcome := f.Probabilities[cause], 0.0
		i := min(int(p*bins), bins-1)
		if cause == f.True {
			outcome = 1
			s.hits[i]++
		}
		s.Brier += (p - outcome) * (p - outcome)
		s.sums[i] += p
		s.counts[i]++
	}
}

func (s *scorer) rank(f *Forecast) {
	mine, named := f.Probabilities[f.True]
	rank := 1
	for cause, p := range f.Probabilities {
		if cause != f.True && (!named || p >= mine) {
			rank++
		}
	}
	if rank <= 1 {
		s.First.Hits++
	}
	if rank <= 3 {
		s.Third.Hits++
	}
	s.ranks += float64(rank)
	s.reciprocal += 1 / float64(rank)
}

func (s *scorer) scores() Scores {
	out := s.Scores
	if out.Forecasts == 0 {
		return out
	}
	n := float64(out.Forecasts)
	out.Log /= n
	out.Brier /= n
	out.MeanRank, out.ReciprocalRank = s.ranks/n, s.reciprocal/n
	out.First, out.Third = rate(out.First.Hits, out.Forecasts), rate(out.Third.Hits, out.Forecasts)
	for i, count := range s.counts {
		if count > 0 {
			out.Reliability = append(out.Reliability, Bin{float64(i) / bins, float64(i+1) / bins, s.sums[i] / float64(count), rate(s.hits[i], count)})
		}
	}
	out.Minutes = minutesScore(s.minutes)
	return out
}

// rate gives the Wilson score interval without continuity correction.
func rate(hits, count int) Rate {
	const z = 1.959963984540054 // the 97.5 % point of the normal distribution
	n, p := float64(count), float64(hits)/float64(count)
	middle := p + z*z/(2*n)
	half := z * math.Sqrt(p*(1-p)/n+z*z/(4*n*n))
	whole := 1 + z*z/n
	// Rounding must not put a bound past 0 or 1, or past the share itself.
	return Rate{hits, count, p, min(max((middle-half)/whole, 0), p), max(min((middle+half)/whole, 1), p)}
}

// minutesScore takes the nearest rank for the 90 %: the time within which nine
// of ten were done.
func minutesScore(minutes []float64) MinutesScore {
	n := len(minutes)
	if n == 0 {
		return MinutesScore{}
	}
	sorted := slices.Sorted(slices.Values(minutes))
	sum := 0.0
	for _, m := range sorted {
		sum += m
	}
	return MinutesScore{n, sum / float64(n), (sorted[(n-1)/2] + sorted[n/2]) / 2, sorted[(9*n+9)/10-1]}
}
