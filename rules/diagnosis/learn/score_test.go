package learn_test

import (
	"errors"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"

	"ferrule/knowledge/units"
	"ferrule/rules/diagnosis/learn"
)

func score(t *testing.T, forecasts ...learn.Forecast) learn.Scores {
	t.Helper()
	s, err := learn.Score(slices.Values(forecasts))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func said(truth string, p map[string]float64) learn.Forecast {
	return learn.Forecast{Probabilities: p, True: truth}
}

// Brier 1950 sums over both outcomes; the figures for one yes or no are half of
// that.
func TestBrier(t *testing.T) {
	for _, tt := range []struct {
		yes    float64
		came   string
		want   float64
		source string
	}{
		{0.7, "yes", 0.09, "Brier 1950, as quoted in an encyclopedia"},
		{0.3, "yes", 0.49, "the same"},
		{0.5, "yes", 0.25, "the same"},
		{1, "no", 1, "the same"},
	} {
		s := score(t, said(tt.came, map[string]float64{"yes": tt.yes, "no": 1 - tt.yes}))
		near(t, tt.source, s.Brier/2, tt.want, 1e-12)
	}
	// Three causes, by hand: 0.25 + 0.09 + 0.04, and a cause that nobody named.
	p := map[string]float64{"a": 0.5, "b": 0.3, "c": 0.2}
	near(t, "three causes", score(t, said("a", p)).Brier, 0.38, 1e-12)
	near(t, "not named", score(t, said("d", p)).Brier, 0.25+0.09+0.04+1, 1e-12)
}

// By hand: ln 2, ln 4; an even forecast over four causes is two bits, 1.386294
// nats.
func TestLogScore(t *testing.T) {
	even := map[string]float64{"a": 0.25, "b": 0.25, "c": 0.25, "d": 0.25}
	s := score(t, said("a", map[string]float64{"a": 0.5, "b": 0.5}), said("c", even))
	near(t, "log", s.Log, (math.Ln2+2*math.Ln2)/2, 1e-12)
	s = score(t, said("b", map[string]float64{"a": 1, "b": 0}), said("z", even))
	if near(t, "impossible", s.Log, -math.Log(1e-6), 1e-12); s.Impossible != 2 {
		t.Errorf("%d impossible, want 2", s.Impossible)
	}
	if s = score(t); s.Forecasts != 0 || s.Log != 0 || s.Reliability != nil {
		t.Errorf("no forecast: %+v", s)
	}
}

// Ranks 3, 2 and 1 have the mean reciprocal rank 11/18 (encyclopedia example,
// from memory).
func TestRanks(t *testing.T) {
	p := map[string]float64{"a": 0.5, "b": 0.3, "c": 0.15, "d": 0.05}
	s := score(t, said("c", p), said("b", p), said("a", p))
	near(t, "reciprocal rank", s.ReciprocalRank, 11./18, 1e-12)
	near(t, "mean rank", s.MeanRank, 2, 1e-12)
	if s.First.Hits != 1 || s.Third.Hits != 3 || s.First.Count != 3 {
		t.Errorf("first %+v, third %+v", s.First, s.Third)
	}
	// What is as probable comes first; who was not named comes last.
	even := map[string]float64{"a": 0.5, "b": 0.5}
	near(t, "even", score(t, said("a", even)).MeanRank, 2, 0)
	near(t, "not named", score(t, said("z", even)).MeanRank, 3, 0)
}

// Newcombe 1998, table I: Wilson intervals to four places, from memory and as
// calculated by two libraries. Each row is a bin: a cause was given 0.32 n times.
func TestReliabilityAgainstNewcombe(t *testing.T) {
	for _, tt := range []struct {
		hits, n   int
		low, high float64
	}{
		{81, 263, 0.2553, 0.3662}, {15, 148, 0.0624, 0.1605}, {0, 20, 0, 0.1611}, {1, 29, 0.0061, 0.1718},
		{0, 10, 0, 0.277533}, {10, 10, 0.722467, 1}, {5, 10, 0.236593, 0.763407}, // by the formula
	} {
		var all []learn.Forecast
		for i := range tt.n {
			truth := "other"
			if i < tt.hits {
				truth = "cause"
			}
			all = append(all, said(truth, map[string]float64{"cause": 0.32, "other": 0.68}))
		}
		s := score(t, all...)
		if len(s.Reliability) != 2 {
			t.Fatalf("bins %+v", s.Reliability)
		}
		b := s.Reliability[0]
		if b.From != 0.3 || b.To != 0.4 || b.Hits != tt.hits || b.Count != tt.n || math.Abs(b.Mean-0.32) > 1e-12 {
			t.Errorf("bin %+v", b)
		}
		if math.Abs(b.Low-tt.low) > 5.1e-5 || math.Abs(b.High-tt.high) > 5.1e-5 {
			t.Errorf("%d of %d: %.6f to %.6f, want %g to %g", tt.hits, tt.n, b.Low, b.High, tt.low, tt.high)
		}
		if other := s.Reliability[1]; other.Hits != tt.n-tt.hits {
			t.Errorf("bin %+v", other)
		}
	}
	s := score(t, said("a", map[string]float64{"a": 1, "b": 0}))
	if len(s.Reliability) != 2 || s.Reliability[1].From != 0.9 || s.Reliability[1].Hits != 1 || s.Reliability[0].Hits != 0 {
		t.Errorf("certain: %+v", s.Reliability)
	}
}

func TestMinutesToTheFix(t *testing.T) {
	var all []learn.Forecast
	for i := range 11 {
		f := said("a", map[string]float64{"a": 1})
		f.Minutes = float64(10 * (11 - i) % 110) // 0 to 100; 0 is not known
		all = append(all, f)
	}
	if got, want := score(t, all...).Minutes, (learn.MinutesScore{Count: 10, Mean: 55, Median: 55, NinetyPercent: 90}); got != want {
		t.Errorf("got %+v, want %+v", got, want)
	}
	if got, want := score(t, all[1:2]...).Minutes, (learn.MinutesScore{Count: 1, Mean: 100, Median: 100, NinetyPercent: 100}); got != want {
		t.Errorf("got %+v, want %+v", got, want)
	}
}

func TestBadForecasts(t *testing.T) {
	even := map[string]float64{"a": 0.5, "b": 0.5}
	with := func(cause string, p float64) map[string]float64 {
		m := maps.Clone(even)
		m[cause] = p
		return m
	}
	for _, tt := range []struct {
		f        learn.Forecast
		quantity string
	}{
		{said("a", with("a", math.NaN())), "probability of a"},
		{said("a", with("a", -0.1)), "probability of a"},
		{said("a", with("a", 1.1)), "probability of a"},
		{said("a", with("b", math.Inf(1))), "probability of b"},
		{said("a", with("c", 0.5)), "sum of the probabilities"},
		{said("a", with("a", 0.4)), "sum of the probabilities"},
		{learn.Forecast{Probabilities: even, True: "a", Minutes: -1}, "time to the fix"},
		{learn.Forecast{Probabilities: even, True: "a", Minutes: math.NaN()}, "time to the fix"},
		{said("", even), ""},
	} {
		_, err := learn.Score(slices.Values([]learn.Forecast{said("a", even), tt.f}))
		var bad *learn.ForecastError
		if !errors.As(err, &bad) || bad.Index != 1 {
			t.Errorf("%v: got %v, want a *ForecastError", tt.f, err)
		}
		var out *units.OutOfRange
		if tt.quantity != "" && (!errors.As(err, &out) || out.Quantity != tt.quantity) {
			t.Errorf("%v: got %v, want the %s", tt.f, err, tt.quantity)
		}
	}
}

func TestPrequential(t *testing.T) {
	cases := []learn.Case{
		weak(1, "metal_case", learn.Measurement), weak(2, "metal_case", learn.Measurement),
		weak(3, "metal_case", learn.Measurement), weak(4, "metal_case", learn.Measurement),
	}
	for every, want := range map[int]string{1: "0 1 2 3", 2: "0 0 2 2", 3: "0 0 0 3", 10: "0 0 0 0"} {
		var known []string
		s, err := learn.Prequential(invented(), slices.Values(cases), learn.Default(), every, func(l *learn.Learned, c learn.Case) learn.Forecast {
			known = append(known, string(rune('0'+l.Cases())))
			if c.ID == 2 {
				return learn.Forecast{}
			}
			return said("metal_case", map[string]float64{"metal_case": 1})
		})
		if got := strings.Join(known, " "); err != nil || got != want || s.Forecasts != 3 || s.Unjudged != 1 {
			t.Errorf("every %d: known before each case %s, want %s; %+v, %v", every, got, want, s, err)
		}
	}
	// By hand: with 0 to 3 such cases before, the share is (20·p + n)/(20 + n).
	want := 0.0
	for n := range 4 {
		want -= math.Log((20*0.95/3+float64(n))/(20+float64(n))) / 4
	}
	s, err := learn.Prequential(invented(), slices.Values(cases), learn.Default(), 1, priorForecast(t))
	if near(t, "log", s.Log, want, 1e-12); err != nil {
		t.Error(err)
	}
}

func TestPrequentialRefuses(t *testing.T) {
	none := func(*learn.Learned, learn.Case) learn.Forecast { return learn.Forecast{} }
	try := func(every int, f func(*learn.Learned, learn.Case) learn.Forecast, cases ...learn.Case) error {
		_, err := learn.Prequential(invented(), slices.Values(cases), learn.Default(), every, f)
		return err
	}
	one, two := weak(1, "metal_case", learn.Measurement), weak(2, "metal_case", learn.Measurement)
	var out *units.OutOfRange
	if err := try(0, none, one); !errors.As(err, &out) {
		t.Errorf("every 0: %v", err)
	}
	var bad *learn.CaseError
	if err := try(1, none, two, one); !errors.As(err, &bad) || bad.ID != 1 {
		t.Errorf("out of order: %v", err)
	}
	if err := try(1, none, one, one); !errors.As(err, &bad) {
		t.Errorf("twice: %v", err)
	}
	var wrong *learn.ForecastError
	if err := try(1, func(*learn.Learned, learn.Case) learn.Forecast {
		return said("a", map[string]float64{"a": 2})
	}, one); !errors.As(err, &wrong) {
		t.Errorf("no forecast: %v", err)
	}
	if _, err := learn.Prequential(invented(), slices.Values([]learn.Case{one}), learn.Settings{}, 1, none); !errors.As(err, &out) {
		t.Errorf("no settings: %v", err)
	}
}

// priorForecast forecasts a case from the shares of its symptom alone.
func priorForecast(t fataler) func(*learn.Learned, learn.Case) learn.Forecast {
	pack := invented()
	return func(l *learn.Learned, c learn.Case) learn.Forecast {
		n, err := l.Numbers(pack)
		if err != nil {
			t.Fatal(err)
		}
		return forecast(n.CausePrior(c.Symptoms[0], c.Equipment), c)
	}
}
