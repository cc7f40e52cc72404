package diagnosis

import (
	"sync"

	"slices"

	"ferrule/knowledge"
	"ferrule/rules"
	"ferrule/rules/diagnosis/learn"
)

// SomethingElse stands for every cause that the pack does not know.
const SomethingElse = "something_else"

// defaultElse is its prior where the symptom gives none.
const defaultElse = 0.05

// Model holds what diagnosis needs of a pack, prepared once. It is safe for
// concurrent use.
type Model struct {
	program  *rules.Program
	pack     *knowledge.Pack
	causes   map[string]int
	blockers map[string][]int // cause -> blocker rules
	order    []int            // rules in the order in which blockers are fixed
	symptoms map[string]*symptomModel
	tables   []table
	learned  *learn.Numbers // nil: the pack alone
	memory   memory
	sheets   *sync.Pool // of *sheet
}

// symptomModel is the prior of one symptom; the causes are in pack order.
type symptomModel struct {
	causes []int // indexes of pack.Causes
	prior  []float64
	other  float64
}

// table is an evidence table by cause index.
type table struct {
	rows      [][]float64 // by cause; nil where it has none of its own
	otherwise []float64
	parent    int // table that this one is within, or -1
	band      int // the parent's band, from 0
}

// New prepares a compiled pack for diagnosis. The numbers that the team's cases
// taught take the place of the pack's; nil leaves the pack alone.
func New(program *rules.Program, learned *learn.Numbers) *Model {
	pack := program.Pack()
	m := &Model{program: program, pack: pack, learned: learned, causes: causeNumbers(pack), blockers: map[string][]int{}, symptoms: map[string]*symptomModel{}, memory: newMemory(), sheets: new(sync.Pool)}
	for i := range pack.Rules {
		if r := &pack.Rules[i]; r.Kind == knowledge.Blocker && r.Cause != nil {
			m.blockers[r.Cause.S] = append(m.blockers[r.Cause.S], i)
		}
	}
	m.order = fixOrder(pack)
	for i := range pack.Symptoms {
		m.symptoms[pack.Symptoms[i].Name.S] = newSymptom(pack, &pack.Symptoms[i])
	}
	m.tables = newTables(pack, learned)
	return m
}

// Learned returns the numbers that the model was made with; nil is the pack alone.
func (m *Model) Learned() *learn.Numbers { return m.learned }

// symptom returns the prior of a symptom, for the equipment that a case is about.
func (m *Model) symptom(name, equipment string) *symptomModel {
	s := m.symptoms[name]
	if s == nil || m.learned == nil {
		return s
	}
	out := &symptomModel{}
	for _, share := range m.learned.CausePrior(name, equipment) {
		if share.Cause == SomethingElse {
			out.other = share.Share
			continue
		}
		out.causes = append(out.causes, m.causes[share.Cause])
		out.prior = append(out.prior, share.Share)
	}
	return out
}

// Program returns the compiled pack that the model was made of.
func (m *Model) Program() *rules.Program { return m.program }

func newSymptom(pack *knowledge.Pack, s *knowledge.Symptom) *symptomModel {
	sm := &symptomModel{other: s.Else}
	if sm.other == 0 {
		sm.other = defaultElse
	}
	total := 0.0
	for i := range pack.Causes {
		for _, share := range pack.Causes[i].Symptoms {
			if share.Name.S == s.Name.S {
				sm.causes = append(sm.causes, i)
				sm.prior = append(sm.prior, share.Value)
				total += share.Value
			}
		}
	}
	for i := range sm.prior {
		sm.prior[i] *= (1 - sm.other) / total
	}
	if len(sm.causes) == 0 {
		sm.other = 1
	}
	return sm
}

func newTables(pack *knowledge.Pack, learned *learn.Numbers) []table {
	causes := causeNumbers(pack)
	names := map[string]int{}
	for i := range pack.Evidence {
		names[pack.Evidence[i].Name.S] = i
	}
	tables := make([]table, len(pack.Evidence))
	for i := range pack.Evidence {
		e := &pack.Evidence[i]
		t := table{rows: make([][]float64, len(pack.Causes)), otherwise: e.Otherwise, parent: -1}
		for _, g := range e.Given {
			t.rows[causes[g.Name.S]] = g.Value
			if learned != nil {
				t.rows[causes[g.Name.S]] = learned.Row(e.Name.S, g.Name.S)
			}
		}
		if learned != nil {
			t.otherwise = learned.Otherwise(e.Name.S)
		}
		if e.Within != nil {
			t.parent, t.band = names[e.Within.Evidence.S], e.Within.Band-1
		}
		tables[i] = t
	}
	return tables
}

func causeNumbers(pack *knowledge.Pack) map[string]int {
	out := map[string]int{}
	for i := range pack.Causes {
		out[pack.Causes[i].Name.S] = i
	}
	return out
}

// all are the bands of the table, a bit each.
func (t *table) all() uint32 { return 1<<len(t.otherwise) - 1 }

func (t *table) row(cause int) []float64 {
	if row := t.rows[cause]; row != nil {
		return row
	}
	return t.otherwise
}

// fixOrder sorts the rules so that each stands before those that its pack
// entry says it is fixed before; otherwise the order of the pack holds.
func fixOrder(pack *knowledge.Pack) []int {
	index := map[string]int{}
	for i := range pack.Rules {
		index[pack.Rules[i].Name.S] = i
	}
	after := make([][]int, len(pack.Rules)) // rules that must come before this one
	for i := range pack.Rules {
		for _, b := range pack.Rules[i].Before {
			if j, ok := index[b.S]; ok {
				after[j] = append(after[j], i)
			}
		}
	}
	var order []int
	state := make([]byte, len(pack.Rules))
	var visit func(int)
	visit = func(i int) {
		if state[i] != 0 {
			return // done, or a circle: rules/check refuses circles
		}
		state[i] = 1
		for _, j := range after[i] {
			visit(j)
		}
		order = append(order, i)
	}
	for i := range pack.Rules {
		visit(i)
	}
	return order
}

// OrderCircle returns the names of rules that each claim to be fixed before
// the next and so end where they began, or nil.
func OrderCircle(pack *knowledge.Pack) []string {
	before := map[string][]string{}
	for i := range pack.Rules {
		for _, b := range pack.Rules[i].Before {
			before[pack.Rules[i].Name.S] = append(before[pack.Rules[i].Name.S], b.S)
		}
	}
	state := map[string]byte{}
	var path []string
	var visit func(string) []string
	visit = func(name string) []string {
		switch state[name] {
		case 1:
			return append(path[slices.Index(path, name):], name)
		case 2:
			return nil
		}
		state[name] = 1
		path = append(path, name)
		for _, next := range before[name] {
			if circle := visit(next); circle != nil {
				return circle
			}
		}
		path = path[:len(path)-1]
		state[name] = 2
		return nil
	}
	for i := range pack.Rules {
		if circle := visit(pack.Rules[i].Name.S); circle != nil {
			return circle
		}
	}
	return nil
}
