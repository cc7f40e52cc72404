package learn

import (
	"fmt"
	"slices"

	"ferrule/knowledge"
)

// Numbers are the pack's numbers with the cases added. They do not change, and
// are safe for concurrent use. What a method returns belongs to the caller.
type Numbers struct {
	learned   *Learned
	pack      *knowledge.Pack
	symptoms  map[string]*symptom
	equipment map[string]*knowledge.Equipment
	tables    map[string]*table
	fixes     map[string]float64 // minutes of the pack, by cause
	steps     map[string]float64 // and by reading
}

// Share is a cause of a symptom, with the share of cases in which it is behind
// it.
type Share struct {
	Cause string
	Share float64
}

// symptom is what the pack and the cases say about one symptom.
type symptom struct {
	causes []string // in the order of the pack, SomethingElse last
	pack   []float64
	cases  map[string][]counts // by kind or model, "" for all
}

// OtherPack says that the cases were held against another pack: its bands, and
// what its names mean, may differ.
type OtherPack struct {
	Learned, Pack string // hashes
}

func (e *OtherPack) Error() string {
	return fmt.Sprintf("the learned numbers belong to the pack %s, and this is %s; learn again from the cases", e.Learned, e.Pack)
}

// Numbers adds the cases to the pack that they were held against. For any other
// pack the error is an *[OtherPack].
func (l *Learned) Numbers(pack *knowledge.Pack) (*Numbers, error) {
	if pack == nil {
		pack = &knowledge.Pack{}
	}
	if pack.Hash != l.pack {
		return nil, &OtherPack{l.pack, pack.Hash}
	}
	return l.Carry(pack)
}

// Carry adds the cases to a pack whether or not it is the one that they were
// held against: what both have a name for is carried over. The only error is that
// of a Learned that neither Learn nor Decode made.
func (l *Learned) Carry(pack *knowledge.Pack) (*Numbers, error) {
	if err := l.settings.check(); err != nil {
		return nil, err
	}
	if pack == nil {
		pack = &knowledge.Pack{}
	}
	n := &Numbers{
		learned: l, pack: pack,
		symptoms: map[string]*symptom{}, equipment: map[string]*knowledge.Equipment{}, tables: map[string]*table{},
		fixes: map[string]float64{}, steps: map[string]float64{},
	}
	for i := range pack.Causes {
		n.fixes[pack.Causes[i].Name.S] = pack.Causes[i].Fix.Minutes
	}
	for i := range pack.Readings {
		n.steps[pack.Readings[i].Name.S] = pack.Readings[i].Minutes
	}
	for i := range pack.Equipment {
		n.equipment[pack.Equipment[i].Model.S] = &pack.Equipment[i]
	}
	n.addSymptoms()
	n.addTables()
	return n, nil
}

// Learned returns what the numbers rest on.
func (n *Numbers) Learned() *Learned { return n.learned }

// defaultElse is the share of something else where a symptom gives none: the
// rule of the pack, [knowledge.Symptom].
const defaultElse = 0.05

func (n *Numbers) addSymptoms() {
	byCause := map[causeKey]counts{} // of all equipment
	for k, c := range n.learned.causes {
		k.equipment = ""
		byCause[k] = byCause[k].plus(c)
	}
	for i := range n.pack.Symptoms {
		n.symptoms[n.pack.Symptoms[i].Name.S] = n.newSymptom(&n.pack.Symptoms[i], byCause)
	}
	for k, c := range n.learned.causes {
		s := n.symptoms[k.symptom]
		if s == nil {
			continue
		}
		at := slices.Index(s.causes, k.cause)
		if at < 0 {
			continue // a cause that the pack does not have
		}
		for _, node := range append(n.line(k.equipment), "") {
			if s.cases[node] == nil {
				s.cases[node] = make([]counts, len(s.causes))
			}
			s.cases[node][at] = s.cases[node][at].plus(c)
		}
	}
}

// newSymptom takes the shares of the pack. A cause that was seen with a symptom
// which the pack does not list for it starts from nothing.
func (n *Numbers) newSymptom(of *knowledge.Symptom, seen map[causeKey]counts) *symptom {
	s := &symptom{cases: map[string][]counts{}}
	total := 0.0
	for i := range n.pack.Causes {
		c := &n.pack.Causes[i]
		share := 0.0
		for _, x := range c.Symptoms {
			if x.Name.S == of.Name.S && x.Value > 0 {
				share += x.Value
			}
		}
		if share > 0 || seen[causeKey{of.Name.S, "", c.Name.S}].number() > 0 {
			s.causes, s.pack = append(s.causes, c.Name.S), append(s.pack, share)
			total += share
		}
	}
	other := of.Else
	if other == 0 {
		other = defaultElse
	}
	if total == 0 {
		other, total = 1, 1
	}
	for i := range s.pack {
		s.pack[i] *= (1 - other) / total
	}
	s.causes, s.pack = append(s.causes, SomethingElse), append(s.pack, other)
	return s
}

// line is an equipment, its kind, and so on; empty if the pack does not have it.
func (n *Numbers) line(equipment string) []string {
	var line []string
	for e := n.equipment[equipment]; e != nil && !slices.Contains(line, e.Model.S); e = n.equipment[e.Kind] {
		line = append(line, e.Model.S)
	}
	return line
}

// CausePrior returns the causes of a symptom in the order of the pack,
// SomethingElse last; the shares sum to 1. The equipment is a model or a kind; for
// an empty or an unknown one the numbers are those of the symptom. It returns nil
// for a symptom that the pack does not have.
func (n *Numbers) CausePrior(symptom, equipment string) []Share {
	s := n.symptoms[symptom]
	if s == nil {
		return nil
	}
	mean := n.mean(s, equipment)
	out := make([]Share, len(mean))
	for i, c := range s.causes {
		out[i] = Share{c, mean[i]}
	}
	return out
}

func (n *Numbers) mean(s *symptom, equipment string) []float64 {
	above, strength, cases := n.above(s, equipment)
	return shrunk(above, strength, cases, n.learned.settings)
}

// above goes down from the pack to the equipment, and returns the mean to which
// its cases are added, and how many cases that counts as. Each level adds the
// cases that are not below it on the way, so that none counts twice.
func (n *Numbers) above(s *symptom, equipment string) (mean []float64, strength float64, cases []counts) {
	mean, strength, cases = s.pack, n.learned.settings.packCases(len(s.causes)-1), s.level("")
	for _, node := range slices.Backward(n.line(equipment)) {
		here := s.level(node)
		others := make([]counts, len(cases))
		for i := range cases {
			others[i] = cases[i].minus(here[i])
		}
		mean = shrunk(mean, strength, others, n.learned.settings)
		strength, cases = n.learned.settings.EquipmentCases, here
	}
	return mean, strength, cases
}

// packCases is what the pack counts as for a symptom of so many causes.
func (s Settings) packCases(causes int) float64 {
	const few = 5
	return s.PackCases + s.PackCasesEach*float64(max(0, causes-few))
}

func (s *symptom) level(node string) []counts {
	if c := s.cases[node]; c != nil {
		return c
	}
	return make([]counts, len(s.causes))
}

// Mends returns how often the repair of a cause mends it, where it is the cause.
// It is the prior for a cause that no case speaks of.
func (n *Numbers) Mends(cause string) float64 {
	s := n.learned.settings
	both := shrunk([]float64{s.MendPrior, 1 - s.MendPrior}, s.MendCases, []counts{n.learned.mended[cause], n.learned.lost[cause]}, s)
	return both[0]
}

// Minutes returns how long the repair of a cause takes; false if the pack does
// not have the cause.
func (n *Numbers) Minutes(cause string) (Minutes, bool) {
	if !timed(n.fixes[cause]) {
		return Minutes{}, false
	}
	return predict(n.fixes[cause], n.learned.repairs[cause], n.learned.settings), true
}

// StepMinutes returns how long a reading takes; false if the pack does not have
// the reading, or gives no minutes for it.
func (n *Numbers) StepMinutes(reading string) (Minutes, bool) {
	if !timed(n.steps[reading]) {
		return Minutes{}, false
	}
	return predict(n.steps[reading], n.learned.steps[reading], n.learned.settings), true
}
