package learn

import (
	"slices"

	"ferrule/knowledge"
)

// table is an evidence table with the cases that speak to its rows.
type table struct {
	of    *knowledge.Evidence
	rows  map[string]int // cause -> row; causes without one have the last
	pack  [][]float64    // the given rows in their order, then otherwise
	cases [][]counts
}

func (n *Numbers) addTables() {
	for i := range n.pack.Evidence {
		e := &n.pack.Evidence[i]
		t := &table{of: e, rows: map[string]int{}}
		for j, g := range e.Given {
			t.rows[g.Name.S] = j
			t.pack = append(t.pack, g.Value)
		}
		t.pack = append(t.pack, e.Otherwise)
		for _, row := range t.pack {
			t.cases = append(t.cases, make([]counts, len(row)))
		}
		n.tables[e.Name.S] = t
	}
	for k, c := range n.learned.bands {
		t := n.tables[k.evidence]
		if t == nil || !n.hasCause(k.cause) {
			continue
		}
		if row := t.cases[t.row(k.cause)]; k.band <= len(row) {
			row[k.band-1] = row[k.band-1].plus(c)
		}
	}
}

func (t *table) row(cause string) int {
	if i, ok := t.rows[cause]; ok {
		return i
	}
	return len(t.pack) - 1
}

// hasCause leaves something else out: it has no row.
func (n *Numbers) hasCause(name string) bool {
	_, ok := n.fixes[name]
	return ok
}

// Row returns P(band | cause) of an evidence table, from its first band on. All
// causes that the table does not name share one row. It returns nil for a table
// or a cause that the pack does not have, and for SomethingElse: what that shows
// is the mean of the causes.
func (n *Numbers) Row(evidence, cause string) []float64 {
	t := n.tables[evidence]
	if t == nil || !n.hasCause(cause) {
		return nil
	}
	return n.meanRow(t, t.row(cause))
}

// Otherwise returns the row that the causes share which a table does not name;
// nil for a table that the pack does not have.
func (n *Numbers) Otherwise(evidence string) []float64 {
	t := n.tables[evidence]
	if t == nil {
		return nil
	}
	return n.meanRow(t, len(t.pack)-1)
}

func (n *Numbers) meanRow(t *table, i int) []float64 {
	return shrunk(t.pack[i], n.learned.settings.RowCases, t.cases[i], n.learned.settings)
}

// names of the rows, "" for otherwise.
func (t *table) names() []string {
	names := make([]string, 0, len(t.pack))
	for _, g := range t.of.Given {
		names = append(names, g.Name.S)
	}
	return append(slices.Clip(names), "")
}
