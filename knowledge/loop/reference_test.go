package loop_test

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"ferrule/knowledge/loop"
	"ferrule/knowledge/octavetest"
)

const reference = "../../testdata/loop"

// The reference is the work of GNU Octave: the node equations of the circuit,
// over a grid of all components (testdata/loop/reference.m).
func TestStatesAgainstReference(t *testing.T) {
	file, err := os.Open(filepath.Join(reference, "reference.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	const least = 230
	if len(rows) < least+1 {
		t.Fatalf("%d rows, want %d or more", len(rows)-1, least)
	}
	byName := map[string]loop.State{}
	for s := loop.Short; s <= loop.Cut; s++ {
		byName[s.String()] = s
	}
	seen := map[loop.State]int{}
	for i, row := range rows[1:] {
		l, state := referenceLoop(t, row), byName[row[13]]
		got, ok := resistances(t, l)[state]
		if !ok {
			t.Fatalf("row %d: no state %q", i+2, row[13])
		}
		seen[state]++
		if row[14] == "open" {
			if !got.Open {
				t.Errorf("row %d: %v, want open", i+2, got)
			}
			continue
		}
		for j, x := range []float64{got.Low, got.Nominal, got.High} {
			if want := parsed(t, row[14+j]); got.Open || math.Abs(x-want) > 1e-9*want {
				t.Errorf("row %d: %v: %v, want %v", i+2, state, got, row[14:])
				break
			}
		}
	}
	for s := loop.Short; s < loop.Cut; s++ {
		if seen[s] < 20 {
			t.Errorf("%v: %d rows, want 20 or more", s, seen[s])
		}
	}
}

func referenceLoop(t *testing.T, row []string) loop.Loop {
	t.Helper()
	x := make([]float64, 13)
	for i := range x {
		x[i] = parsed(t, row[i])
	}
	branch := func(x []float64) loop.Branch {
		return loop.Branch{Contact: loop.Contact(x[0]), Place: loop.Place(x[1]), Resistor: loop.Resistor{Ohms: x[2], Tolerance: x[3]}}
	}
	return loop.Loop{
		EndOfLine: loop.Resistor{Ohms: x[0], Tolerance: x[1]}, Alarm: branch(x[2:6]), Fault: branch(x[6:10]),
		Tamper: x[10] == 1, Cable: x[11], ClosedContact: x[12],
	}
}

func parsed(t *testing.T, text string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// The committed file is what the script prints.
func TestReferenceIsCurrent(t *testing.T) {
	octavetest.Current(t, filepath.Join(reference, "reference.m"), filepath.Join(reference, "reference.csv"))
}
