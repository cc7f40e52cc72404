package learn_test

import (
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"
	"time"

	"ferrule/knowledge/octavetest"
	"ferrule/rules/diagnosis/learn"
)

const reference = "../../../testdata/learn"

// The names behind the numbers of cases.csv.
var (
	symptomNames   = []string{"", "weak_signal", "interference"}
	equipmentNames = []string{"", "keypad", "wick", "rill", "of another pack"}
	causeNames     = []string{"", "place_too_weak", "metal_case", "other_transmitter", "aerial_loose", "of_another_pack"}
	confirmedNames = []string{"", learn.Measurement, learn.SwapBack, learn.SymptomGone, learn.Unproven}
)

// The reference is the work of GNU Octave: numeric integration of the prior times
// the likelihood, without conjugate rules (testdata/learn/reference.m).
func TestAgainstReference(t *testing.T) {
	cases := referenceCases(t)
	n := numbers(t, cases...)
	scores := prequential(t, cases)
	seen := map[string]int{}
	for _, r := range table(t, "reference.csv")[1:] {
		about, of, cause, part, want := r[0], r[1], r[2], r[3], parsed(t, r[4])
		seen[about]++
		got := 0.0
		switch about {
		case "cause":
			got = shareOf(n, of, part, cause)
		case "row":
			got = n.Row(of, cause)[int(parsed(t, part))-1]
		case "mends":
			got = n.Mends(cause)
		case "minutes":
			m, _ := n.Minutes(cause)
			got = partOf(m, part)
		case "few":
			got = partOf(few(t, int(parsed(t, of))), part)
		case "step":
			m, _ := n.StepMinutes(of)
			got = partOf(m, part)
		case "score":
			got = scoreOf(scores, part)
		case "bin":
			got = binOf(scores, int(parsed(t, of)), part)
		default:
			t.Fatalf("row %v", r)
		}
		near(t, fmt.Sprint(r[:4]), got, want, 1e-9)
	}
	for about, least := range map[string]int{"cause": 40, "row": 13, "mends": 4, "minutes": 20, "few": 15, "step": 5, "score": 7, "bin": 20} {
		if seen[about] < least {
			t.Errorf("%d rows about %s, want %d or more", seen[about], about, least)
		}
	}
}

// The committed file is what the script prints.
func TestReferenceIsCurrent(t *testing.T) {
	octavetest.Current(t, filepath.Join(reference, "reference.m"), filepath.Join(reference, "reference.csv"))
}

func table(t *testing.T, name string) [][]string {
	t.Helper()
	file, err := os.Open(filepath.Join(reference, name))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

func parsed(t *testing.T, text string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

func referenceCases(t *testing.T) []learn.Case {
	t.Helper()
	var cases []learn.Case
	for _, r := range table(t, "cases.csv")[1:] {
		x := make([]float64, len(r))
		for i := range r {
			x[i] = parsed(t, r[i])
		}
		at := func(i int) int { return int(x[i]) }
		c := learn.Case{
			ID: uint64(x[0]), Closed: start.Add(time.Duration(x[0]) * time.Hour), Symptoms: []string{symptomNames[at(1)]},
			Equipment: equipmentNames[at(3)], Cause: causeNames[at(4)], Confirmed: confirmedNames[at(5)],
		}
		if at(2) > 0 {
			c.Symptoms = append(c.Symptoms, symptomNames[at(2)])
		}
		for i, name := range []string{"level", "spread"} {
			if at(6+i) > 0 {
				c.Bands = append(c.Bands, learn.Observed{Evidence: name, Band: at(6 + i)})
			}
		}
		for i := 8; i < 14; i += 3 {
			if at(i) > 0 {
				c.Repairs = append(c.Repairs, learn.Tried{Cause: causeNames[at(i)], Mended: at(i+1) == 1, Minutes: x[i+2]})
			}
		}
		if at(14) > 0 {
			c.Steps = append(c.Steps, learn.Timed{Reading: "radio.signal", Minutes: x[15]})
		}
		cases = append(cases, c)
	}
	return cases
}

func few(t *testing.T, n int) learn.Minutes {
	t.Helper()
	pack := invented()
	pack.Causes[0].Fix.Minutes = 12
	c := weak(1, "place_too_weak", learn.Unproven)
	for _, m := range []float64{30, 45}[:n] {
		c.Repairs = append(c.Repairs, learn.Tried{Cause: "place_too_weak", Minutes: m})
	}
	l, err := learn.Learn(pack, slices.Values([]learn.Case{c}), learn.Default())
	if err != nil {
		t.Fatal(err)
	}
	numbers, err := l.Numbers(pack)
	if err != nil {
		t.Fatal(err)
	}
	m, _ := numbers.Minutes("place_too_weak")
	return m
}

func partOf(m learn.Minutes, part string) float64 {
	return map[string]float64{"median": m.Median, "low80": m.Low80, "high80": m.High80, "low95": m.Low95, "high95": m.High95}[part]
}

// prequential forecasts each case from the shares of its first symptom.
func prequential(t *testing.T, cases []learn.Case) learn.Scores {
	t.Helper()
	scores, err := learn.Prequential(invented(), slices.Values(cases), learn.Default(), 7, func(l *learn.Learned, c learn.Case) learn.Forecast {
		n, err := l.Numbers(invented())
		if err != nil {
			t.Fatal(err)
		}
		return forecast(n.CausePrior(c.Symptoms[0], ""), c)
	})
	if err != nil {
		t.Fatal(err)
	}
	return scores
}

func forecast(shares []learn.Share, c learn.Case) learn.Forecast {
	f := learn.Forecast{Probabilities: map[string]float64{}, True: c.Cause}
	if f.True == "" {
		f.True = learn.SomethingElse
	}
	for _, s := range shares {
		f.Probabilities[s.Cause] = s.Share
	}
	return f
}

func scoreOf(s learn.Scores, part string) float64 {
	return map[string]float64{
		"log": s.Log, "impossible": float64(s.Impossible), "brier": s.Brier, "rank": s.MeanRank, "reciprocal": s.ReciprocalRank,
		"first": float64(s.First.Hits), "third": float64(s.Third.Hits),
	}[part]
}

func binOf(s learn.Scores, bin int, part string) float64 {
	for _, b := range s.Reliability {
		if int(b.To*10+0.5) == bin {
			return map[string]float64{"mean": b.Mean, "count": float64(b.Count), "hits": float64(b.Hits), "low": b.Low, "high": b.High}[part]
		}
	}
	return -1
}
