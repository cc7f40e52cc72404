package diagnosis

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"strconv"
	"testing"

	"ferrule/knowledge"
	"ferrule/knowledge/octavetest"
	"ferrule/rules"
)

const (
	posteriorScript = "../../testdata/diagnosis/posterior.m"
	posteriorFile   = "../../testdata/diagnosis/posterior.csv"
)

// The numbers of the script's cases, by the formulas in it.
const refCauses, refTables, refBands = 4, 3, 3

func referenceCase(c int) (*Model, *Assessment) {
	other := 0.03 + 0.01*float64(c%7)
	m := &Model{pack: &knowledge.Pack{}, causes: map[string]int{}, symptoms: map[string]*symptomModel{}}
	prior, total := &symptomModel{other: other}, 0.0
	for i := range refCauses {
		name := fmt.Sprintf("cause%d", i+1)
		m.pack.Causes = append(m.pack.Causes, knowledge.Cause{Name: knowledge.Str{S: name}})
		m.causes[name] = i
		x := float64(1 + (5*(i+1)+3*c)%13)
		prior.causes, prior.prior = append(prior.causes, i), append(prior.prior, x)
		total += x
	}
	for i := range prior.prior {
		prior.prior[i] *= (1 - other) / total
	}
	m.symptoms["s"] = prior
	a := &Assessment{seen: seen{bands: []uint32{uint32(1 + c%7), uint32(1 + c/2%7), uint32(1 + c/3%7)}, certainty: []float64{1, 1, 1}, rules: []rules.Truth{}}}
	for t := range refTables {
		tb := table{parent: -1, otherwise: make([]float64, refBands), rows: make([][]float64, refCauses)}
		for i := range refCauses {
			row, sum := make([]float64, refBands), 0.0
			for b := range row {
				row[b] = float64(1 + (7*(t+1)+3*(i+1)+5*(b+1)+(i+1)*(b+1)+c)%11)
				sum += row[b]
			}
			for b := range row {
				row[b] /= sum
			}
			tb.rows[i] = row
		}
		m.tables = append(m.tables, tb)
		m.pack.Evidence = append(m.pack.Evidence, knowledge.Evidence{})
	}
	return m, a
}

func TestPosteriorAgainstTheJointDistribution(t *testing.T) {
	f, err := os.Open(posteriorFile)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) != 60*(refCauses+1) {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	for n, row := range rows {
		c, _ := strconv.Atoi(row[0])
		cause, _ := strconv.Atoi(row[1])
		want, err := strconv.ParseFloat(row[2], 64)
		if err != nil {
			t.Fatalf("row %d: %v", n+1, err)
		}
		m, a := referenceCase(c)
		m.posterior(Input{Symptoms: []string{"s"}}, a)
		if got := a.posterior[cause-1].probability; math.Abs(got-want) > 1e-10 {
			t.Errorf("case %d, cause %d: %.12g, want %.12g", c, cause, got, want)
		}
	}
}

// The committed file is what the script prints.
func TestPosteriorReferenceIsCurrent(t *testing.T) {
	octavetest.Current(t, posteriorScript, posteriorFile)
}
