package check_test

import (
	"encoding/csv"
	"flag"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"ferrule/knowledge"
	"ferrule/knowledge/starter"
)

var update = flag.Bool("update", false, "write the symptoms and tables of the pack into "+tradeFile)

const tradeFile = "../../testdata/trade.csv"

// testdata/trade.csv says which causes of the trade the starter pack covers,
// by which symptoms, tables and blockers. What it says is so.
func TestTradeCoverage(t *testing.T) {
	f, err := os.Open(tradeFile)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	p, err := knowledge.Load(starter.FS)
	if err != nil {
		t.Fatal(err)
	}
	if len(rows)-1 != len(p.Causes) {
		t.Errorf("%d causes are listed, the pack has %d", len(rows)-1, len(p.Causes))
	}
	for i, row := range rows[1:] {
		if row[0] != strconv.Itoa(i+1) {
			t.Errorf("row %d has the number %s", i+1, row[0])
		}
		c := p.Cause(row[1])
		if c == nil {
			t.Errorf("%s is not in the pack", row[1])
			continue
		}
		if *update {
			row[3], row[4] = symptomsOf(c), toldBy(p, row[1])
		}
		if got := symptomsOf(c); got != row[3] {
			t.Errorf("%s explains %q, listed is %q", row[1], got, row[3])
		}
		if got := toldBy(p, row[1]); got != row[4] || got == "" {
			t.Errorf("%s is told by %q, listed is %q", row[1], got, row[4])
		}
	}
	if *update {
		writeTrade(t, rows)
	}
}

func writeTrade(t *testing.T, rows [][]string) {
	t.Helper()
	f, err := os.Create(tradeFile)
	if err != nil {
		t.Fatal(err)
	}
	if err := csv.NewWriter(f).WriteAll(rows); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
}

func symptomsOf(c *knowledge.Cause) string {
	var names []string
	for _, s := range c.Symptoms {
		names = append(names, s.Name.S)
	}
	slices.Sort(names)
	return strings.Join(names, " ")
}

// toldBy lists the tables with a row for a cause, and its blockers.
func toldBy(p *knowledge.Pack, cause string) string {
	var names []string
	for i := range p.Evidence {
		if slices.ContainsFunc(p.Evidence[i].Given, func(g knowledge.Named[[]float64]) bool { return g.Name.S == cause }) {
			names = append(names, p.Evidence[i].Name.S)
		}
	}
	for i := range p.Rules {
		if r := &p.Rules[i]; r.Kind == knowledge.Blocker && r.Cause.S == cause {
			names = append(names, r.Name.S)
		}
	}
	return strings.Join(names, " ")
}
