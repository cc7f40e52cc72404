package loop_test

import (
	"math"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"ferrule/knowledge/loop"
)

// Source: IEC 60063, E24 table; E12 and E6 by public tables of the series.
var (
	e24Table = []string{"1.0", "1.1", "1.2", "1.3", "1.5", "1.6", "1.8", "2.0", "2.2", "2.4", "2.7", "3.0", "3.3", "3.6", "3.9", "4.3", "4.7", "5.1", "5.6", "6.2", "6.8", "7.5", "8.2", "9.1"}
	e12Table = []string{"1.0", "1.2", "1.5", "1.8", "2.2", "2.7", "3.3", "3.9", "4.7", "5.6", "6.8", "8.2"}
	e6Table  = []string{"1.0", "1.5", "2.2", "3.3", "4.7", "6.8"}
	tables   = map[loop.Series][]string{loop.E24: e24Table, loop.E12: e12Table, loop.E6: e6Table}
)

// Each member is its own nearest, and between two members there is no other.
func TestSeriesAreTheTables(t *testing.T) {
	for s, table := range tables {
		for decade := -3; decade <= 11; decade++ {
			for i, member := range table {
				x := number(t, member, decade)
				next := number(t, "1.0", decade+1)
				if i+1 < len(table) {
					next = number(t, table[i+1], decade)
				}
				if n, err := s.Nearest(x); err != nil || n != (loop.Neighbours{Below: x, Above: x, Nearest: x}) {
					t.Errorf("%v %g: %v %v", s, x, n, err)
				}
				for share, nearest := range map[float64]float64{0.001: x, 0.49: x, 0.51: next, 0.999: next} {
					between := x + share*(next-x)
					if between > 999e9 {
						continue
					}
					if n, err := s.Nearest(between); err != nil || n != (loop.Neighbours{Below: x, Above: next, Nearest: nearest}) {
						t.Errorf("%v %g: %v %v", s, between, n, err)
					}
				}
			}
		}
	}
}

// In the middle the lower one: own definition.
func TestNearestInTheMiddle(t *testing.T) {
	if n, err := loop.E24.Nearest(105); err != nil || n != (loop.Neighbours{Below: 100, Above: 110, Nearest: 100}) {
		t.Errorf("%v %v", n, err)
	}
}

func number(t *testing.T, member string, decade int) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(member+"e"+strconv.Itoa(decade), 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// Where the table isn't the rounded formula: 10^(i/24) gives 2.6 and 8.3.
func TestSeriesIsNotTheFormula(t *testing.T) {
	for i, member := range e24Table {
		formula := math.Round(10*math.Pow(10, float64(i)/24)) * 100
		x := number(t, member, 3)
		n, err := loop.E24.Nearest(formula)
		if err != nil || n.Nearest != x && formula == x {
			t.Errorf("%g: %v %v", formula, n, err)
		}
		switch member { // check values: these eight differ
		case "2.7", "3.0", "3.3", "3.6", "3.9", "4.3", "4.7", "8.2":
			if n.Below == n.Above && n.Nearest == formula {
				t.Errorf("%g is held to be a member", formula)
			}
		}
	}
}

// Source: IEC 60063; 5 % from memory and public tables, 10 % and 20 % public
// tables.
func TestSeriesTolerance(t *testing.T) {
	for s, want := range map[loop.Series]float64{loop.E6: 20, loop.E12: 10, loop.E24: 5} {
		if got, err := s.Tolerance(); err != nil || got != want {
			t.Errorf("%v: %g %v, want %g", s, got, err, want)
		}
	}
}

func TestSeriesRefuses(t *testing.T) {
	for _, s := range []loop.Series{0, 3, 48, 255} {
		_, err := s.Nearest(100)
		wantOutOfRange(t, s.String(), err, "members of the series")
		_, err = s.Tolerance()
		wantOutOfRange(t, s.String(), err, "members of the series")
	}
	for _, x := range []float64{0, -1, 9e-4, 1e12, math.NaN(), math.Inf(1), math.Inf(-1)} {
		_, err := loop.E24.Nearest(x)
		wantOutOfRange(t, "nearest", err, "resistance of the resistor")
	}
}

func TestNeighboursEncloseAndEachSeriesHoldsTheCoarser(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := math.Exp(rapid.Float64Range(math.Log(1.001e-3), math.Log(998e9)).Draw(t, "logarithm"))
		fine := loop.Neighbours{Below: 0, Above: math.Inf(1)}
		for _, s := range []loop.Series{loop.E6, loop.E12, loop.E24} {
			n, err := s.Nearest(x)
			if err != nil || n.Below > x || n.Above < x || n.Nearest != n.Below && n.Nearest != n.Above {
				t.Fatalf("%v %g: %v %v", s, x, n, err)
			}
			if n.Below < fine.Below || n.Above > fine.Above {
				t.Fatalf("%v %g: %v is wider than %v", s, x, n, fine)
			}
			fine = n
		}
	})
}
