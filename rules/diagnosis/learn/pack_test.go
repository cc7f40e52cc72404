package learn_test

import (
	"bytes"
	"math"
	"slices"
	"testing"
	"time"

	"ferrule/knowledge"
	"ferrule/rules/diagnosis/learn"
)

func str(s string) knowledge.Str { return knowledge.Str{S: s} }

func cause(name string, minutes float64, shares ...knowledge.Named[float64]) knowledge.Cause {
	return knowledge.Cause{Name: str(name), Symptoms: shares, Fix: knowledge.Fix{Minutes: minutes}}
}

func share(symptom string, value float64) knowledge.Named[float64] {
	return knowledge.Named[float64]{Name: str(symptom), Value: value}
}

func row(cause string, p ...float64) knowledge.Named[[]float64] {
	return knowledge.Named[[]float64]{Name: str(cause), Value: p}
}

// invented is the pack of the tests; testdata/learn/reference.m has the same.
func invented() *knowledge.Pack {
	return &knowledge.Pack{
		Hash:     "sha256:invented",
		Symptoms: []knowledge.Symptom{{Name: str("weak_signal")}, {Name: str("interference"), Else: 0.2}},
		Causes: []knowledge.Cause{
			cause("place_too_weak", 20, share("weak_signal", 0.4), share("interference", 0.3)),
			cause("metal_case", 10, share("weak_signal", 0.3)),
			cause("other_transmitter", 35, share("weak_signal", 0.2), share("interference", 0.5)),
			cause("aerial_loose", 5, share("interference", 0.1)),
		},
		Equipment: []knowledge.Equipment{
			{Model: str("keypad"), Kind: "keypad", Generic: true}, {Model: str("wick"), Kind: "keypad"}, {Model: str("rill")},
		},
		Readings: []knowledge.Reading{{Name: str("radio.signal"), Minutes: 3}, {Name: str("radio.margin")}},
		Evidence: []knowledge.Evidence{
			{
				Name: str("level"), Otherwise: []float64{0.05, 0.15, 0.8},
				Given: []knowledge.Named[[]float64]{row("place_too_weak", 0.5, 0.35, 0.15), row("metal_case", 0.6, 0.3, 0.1)},
			}, {
				Name: str("spread"), Otherwise: []float64{0.4, 0.6}, Within: &knowledge.Within{Evidence: str("level"), Band: 1},
				Given: []knowledge.Named[[]float64]{row("other_transmitter", 0.7, 0.3)},
			},
		},
	}
}

var start = time.Date(2026, 1, 5, 9, 0, 0, 0, time.UTC)

// weak is a case of weak signal; its number is also the hour when it was closed.
func weak(id int, cause, confirmed string) learn.Case {
	return learn.Case{
		ID: uint64(id), Closed: start.Add(time.Duration(id) * time.Hour), Symptoms: []string{"weak_signal"}, Cause: cause, Confirmed: confirmed,
	}
}

func learned(t fataler, cases ...learn.Case) *learn.Learned {
	t.Helper()
	l, err := learn.Learn(invented(), slices.Values(cases), learn.Default())
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func numbers(t fataler, cases ...learn.Case) *learn.Numbers {
	t.Helper()
	n, err := learned(t, cases...).Numbers(invented())
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// fataler is a *testing.T or a *rapid.T.
type fataler interface {
	Helper()
	Fatal(...any)
}

func shareOf(n *learn.Numbers, symptom, equipment, cause string) float64 {
	for _, s := range n.CausePrior(symptom, equipment) {
		if s.Cause == cause {
			return s.Share
		}
	}
	return math.NaN()
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance*max(1, math.Abs(want))) {
		t.Errorf("%s: got %.12g, want %.12g", what, got, want)
	}
}

func encoded(t fataler, l *learn.Learned) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := l.Encode(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}
