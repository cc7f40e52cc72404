package diagnosis

import (
	"cmp"
	"math"
	"slices"

	"ferrule/knowledge"
	"ferrule/rules"
	"ferrule/rules/diagnosis/learn"
)

// Input is what is known in a case.
type Input struct {
	Symptoms  []string
	Equipment string // model or kind that the case is about, or ""
	Observed  *rules.Observed
	Focus     rules.Focus
	Failed    []string          // causes whose repair was tried and did not help
	Beyond    []string          // causes whose repair can't be done here and now
	Place     knowledge.Place   // where the technician stands, or ""
	Asked     map[string]int    // how often a reading was asked for
	OnTest    bool              // the site is on test
	Opened    []knowledge.Place // where the lid is open
	Waiting   int               // other cases that wait: the more, the less far the planner looks
}

// Finding is a rule that holds.
type Finding struct {
	Rule    *knowledge.Rule
	Says    string
	Because []string
}

// Probable is a cause with its probability; Model.Weights says what made it so.
type Probable struct {
	Cause       *knowledge.Cause // nil for something else
	Probability float64
}

// Name returns the cause's name, or SomethingElse.
func (p Probable) Name() string {
	if p.Cause == nil {
		return SomethingElse
	}
	return p.Cause.Name.S
}

// Weight is the weight of evidence (Good 1950) that one table lends a cause
// against the others together, in decibans.
type Weight struct {
	Evidence *knowledge.Evidence
	Band     int // from 1; 0 where several bands are still possible
	Decibans float64
}

// Assessment is what the known readings say.
type Assessment struct {
	Blockers []Finding // in the order in which they must be fixed
	Cautions []Finding
	Notes    []Finding
	Causes   []Probable // most probable first; empty without a symptom
	Problems []rules.Problem

	facts, sure     *rules.Facts
	verdict, strict *rules.Verdict
	seen            seen
	prior           []posteriorEntry
	posterior       []posteriorEntry
}

// seen is what the readings come to: all that probabilities rest on.
type seen struct {
	bands     []uint32      // by table, the bands that are still possible
	certainty []float64     // by table
	rules     []rules.Truth // by rule, on sure readings alone
}

// see takes it from what the rules said.
func (m *Model) see(a *Assessment) seen {
	s := seen{bands: make([]uint32, len(m.tables)), certainty: make([]float64, len(m.tables)), rules: make([]rules.Truth, len(m.pack.Rules))}
	for t := range m.tables {
		s.bands[t] = a.verdict.Bands(t) & m.tables[t].all()
		s.certainty[t] = m.program.Certainty(a.facts, t)
	}
	for i := range s.rules {
		s.rules[i] = a.strict.Rule(i)
	}
	return s
}

// posteriorEntry is a cause index (or -1 for something else) and its weight.
type posteriorEntry struct {
	cause       int
	probability float64
}

// Facts returns the readings as the rules saw them, for explanations.
func (a *Assessment) Facts() *rules.Facts { return a.facts }

// Verdict returns what the rules said to them.
func (a *Assessment) Verdict() *rules.Verdict { return a.verdict }

// mendChance is how often a repair that was done mends the cause it is for.
// What a failed repair teaches follows from it. Common practice, no source.
const mendChance = 0.9

// Assess evaluates the rules and the evidence tables. Blockers are judged on
// sure readings alone; the rest also uses hedged ones, at their weight.
func (m *Model) Assess(in Input) *Assessment {
	a := &Assessment{}
	a.facts, a.verdict = m.spare()
	m.program.Bind(a.facts, in.Observed, in.Focus, rules.BindOptions{})
	m.program.Evaluate(a.facts, a.verdict)
	if a.sure, a.strict = a.facts, a.verdict; !a.facts.Sure() {
		a.sure, a.strict = m.spare()
		m.program.Bind(a.sure, in.Observed, in.Focus, rules.BindOptions{Sure: true})
		m.program.Evaluate(a.sure, a.strict)
	}
	a.Problems = append(a.Problems, a.verdict.Problems()...)
	m.findings(in, a)
	a.seen = m.see(a)
	m.posterior(in, a)
	return a
}

// sheet is what an assessment is worked out on. Laying a new one out takes
// longer than using it.
type sheet struct {
	facts   *rules.Facts
	verdict *rules.Verdict
}

func (m *Model) spare() (*rules.Facts, *rules.Verdict) {
	if s, ok := m.sheets.Get().(*sheet); ok {
		return s.facts, s.verdict
	}
	return m.program.NewFacts(), &rules.Verdict{}
}

// Release gives back what an assessment was worked out on. Nothing may be asked
// of the assessment after that; what it said stays good.
func (m *Model) Release(a *Assessment) {
	m.sheets.Put(&sheet{a.facts, a.verdict})
	if a.sure != a.facts {
		m.sheets.Put(&sheet{a.sure, a.strict})
	}
	a.facts, a.verdict, a.sure, a.strict = nil, nil, nil, nil
}

func (m *Model) findings(in Input, a *Assessment) {
	for _, i := range m.order {
		r := &m.pack.Rules[i]
		if !appliesTo(r, in.Symptoms) {
			continue
		}
		facts, verdict := a.facts, a.verdict
		if r.Kind == knowledge.Blocker {
			facts, verdict = a.sure, a.strict
		}
		if verdict.Rule(i) != rules.True {
			continue
		}
		f := Finding{r, m.program.Says(facts, i), m.program.Because(facts, verdict, i)}
		switch r.Kind {
		case knowledge.Blocker:
			if !slices.Contains(in.Failed, r.Cause.S) {
				a.Blockers = append(a.Blockers, f)
			}
		case knowledge.Caution:
			a.Cautions = append(a.Cautions, f)
		default:
			a.Notes = append(a.Notes, f)
		}
	}
}

func appliesTo(r *knowledge.Rule, symptoms []string) bool {
	return len(r.For) == 0 || slices.ContainsFunc(r.For, func(s knowledge.Str) bool {
		return slices.Contains(symptoms, s.S)
	})
}

// ruling is what its blockers say of a cause.
type ruling uint8

const (
	open ruling = iota
	found
	excluded
)

// rule asks the blockers of a cause: found when one is true, excluded when
// all are false, open otherwise and where the cause has none.
func (m *Model) rule(s *seen, cause string) ruling {
	blockers := m.blockers[cause]
	if len(blockers) == 0 {
		return open
	}
	out := excluded
	for _, i := range blockers {
		switch s.rules[i] {
		case rules.True:
			return found
		case rules.Undecided:
			out = open
		}
	}
	return out
}

// posterior computes the probabilities of the causes in log space.
func (m *Model) posterior(in Input, a *Assessment) {
	prior := m.prior(in, &a.seen)
	if len(prior) == 0 {
		return
	}
	logs := make([]float64, len(prior))
	for i, e := range prior {
		logs[i] = math.Log(e.probability)
		if e.cause >= 0 && slices.Contains(in.Failed, m.pack.Causes[e.cause].Name.S) {
			logs[i] += math.Log(1 - m.mends(e.cause))
		}
	}
	p := make([]float64, len(prior))
	for t := range m.tables {
		if m.likelihoods(p, &a.seen, t, prior) {
			for i := range logs {
				logs[i] += math.Log(p[i])
			}
		}
	}
	normalise(logs)
	a.prior, a.posterior = prior, make([]posteriorEntry, len(prior))
	a.Causes = make([]Probable, len(prior))
	for i, e := range prior {
		a.posterior[i] = posteriorEntry{e.cause, logs[i]}
		a.Causes[i].Probability = logs[i]
		if e.cause >= 0 {
			a.Causes[i].Cause = &m.pack.Causes[e.cause]
		}
	}
	slices.SortStableFunc(a.Causes, func(x, y Probable) int { return cmp.Compare(y.Probability, x.Probability) })
}

// Bands are the tables that the readings brought down to one band, as what the
// case teaches.
func (m *Model) Bands(a *Assessment) []learn.Observed {
	var out []learn.Observed
	for t := range m.tables {
		if band := singleBand(a.seen.bands[t]); band > 0 && m.inParentBand(&a.seen, &m.tables[t]) {
			out = append(out, learn.Observed{Evidence: m.pack.Evidence[t].Name.S, Band: band})
		}
	}
	return out
}

// Forecast is what the model thinks of a case from its complaints and the bands
// that its tables showed: the probability of each cause, SomethingElse among them.
// Tables and bands that the pack does not have are passed over.
func (m *Model) Forecast(symptoms []string, equipment string, bands []learn.Observed) map[string]float64 {
	a := &Assessment{seen: seen{bands: make([]uint32, len(m.tables)), certainty: make([]float64, len(m.tables)), rules: make([]rules.Truth, len(m.pack.Rules))}}
	for i := range a.seen.rules {
		a.seen.rules[i] = rules.Undecided // what blockers said is no matter of probability
	}
	for t := range m.tables {
		a.seen.bands[t], a.seen.certainty[t] = m.tables[t].all(), 1
	}
	for _, o := range bands {
		t := slices.IndexFunc(m.pack.Evidence, func(e knowledge.Evidence) bool { return e.Name.S == o.Evidence })
		if t >= 0 && o.Band >= 1 && o.Band <= len(m.tables[t].otherwise) {
			a.seen.bands[t] = 1 << (o.Band - 1)
		}
	}
	m.posterior(Input{Symptoms: symptoms, Equipment: equipment}, a)
	out := map[string]float64{}
	for _, p := range a.Causes {
		out[p.Name()] = p.Probability
	}
	return out
}

// Apart tells whether the findings speak for causes that exclude each other: then
// something else has become several times as likely as it was, and worth a word.
func (a *Assessment) Apart() bool {
	const times, worth = 2.5, 0.2
	n := len(a.prior) - 1 // something else comes last
	return n >= 0 && a.posterior[n].probability >= worth && a.posterior[n].probability >= times*a.prior[n].probability
}

// Weights explains a cause's probability: the evidence for and against it, the
// strongest first.
func (m *Model) Weights(a *Assessment, cause string) []Weight {
	i := slices.IndexFunc(a.prior, func(e posteriorEntry) bool { return e.cause >= 0 && m.pack.Causes[e.cause].Name.S == cause })
	if i < 0 {
		return nil
	}
	var out []Weight
	p := make([]float64, len(a.prior))
	for t := range m.tables {
		if m.likelihoods(p, &a.seen, t, a.prior) {
			out = append(out, Weight{&m.pack.Evidence[t], singleBand(a.seen.bands[t]), deciban(p, a.prior, i)})
		}
	}
	slices.SortStableFunc(out, func(x, y Weight) int { return cmp.Compare(math.Abs(y.Decibans), math.Abs(x.Decibans)) })
	return out
}

// prior mixes the priors of the symptoms in equal parts, leaving out causes
// that a blocker has found or ruled out. Something else comes last.
func (m *Model) prior(in Input, seen *seen) []posteriorEntry {
	weight := make([]float64, len(m.pack.Causes))
	other, known := 0.0, false
	for _, name := range in.Symptoms {
		s := m.symptom(name, in.Equipment)
		if s == nil {
			continue
		}
		known = true
		for i, c := range s.causes {
			weight[c] += s.prior[i]
		}
		other += s.other
	}
	if !known {
		return nil
	}
	var out []posteriorEntry
	total := other
	for c, w := range weight {
		if w > 0 && m.rule(seen, m.pack.Causes[c].Name.S) == open {
			out = append(out, posteriorEntry{c, w})
			total += w
		}
	}
	out = append(out, posteriorEntry{-1, other})
	for i := range out {
		out[i].probability /= total
	}
	return out
}

// likelihoods writes P(what table t showed | cause) for each entry, and tells
// whether the table counts at all.
func (m *Model) likelihoods(p []float64, s *seen, t int, prior []posteriorEntry) bool {
	tb := &m.tables[t]
	mask := s.bands[t]
	if mask == tb.all() || mask == 0 || !m.inParentBand(s, tb) {
		return false
	}
	certainty := s.certainty[t]
	mean, weight := 0.0, 0.0
	for i, e := range prior {
		if e.cause < 0 {
			continue
		}
		p[i] = sumBands(tb.row(e.cause), mask)
		mean += e.probability * p[i]
		weight += e.probability
	}
	if weight == 0 {
		return false
	}
	mean /= weight
	for i, e := range prior {
		if e.cause < 0 {
			p[i] = mean // so that findings that contradict each other raise it
			continue
		}
		p[i] = certainty*p[i] + (1-certainty)*mean
	}
	return true
}

func (m *Model) inParentBand(s *seen, tb *table) bool {
	return tb.parent < 0 || s.bands[tb.parent] == 1<<tb.band && m.inParentBand(s, &m.tables[tb.parent])
}

func sumBands(row []float64, mask uint32) float64 {
	sum := 0.0
	for b, p := range row {
		if mask&(1<<b) != 0 {
			sum += p
		}
	}
	return sum
}

func singleBand(mask uint32) int {
	if mask&(mask-1) != 0 {
		return 0
	}
	n := 0
	for mask != 0 {
		n, mask = n+1, mask>>1
	}
	return n
}

// deciban weighs entry i against the others together.
func deciban(p []float64, prior []posteriorEntry, i int) float64 {
	others, weight := 0.0, 0.0
	for j, e := range prior {
		if j != i {
			others += e.probability * p[j]
			weight += e.probability
		}
	}
	if others == 0 || p[i] == 0 {
		return 0
	}
	return 10 * math.Log10(p[i]*weight/others)
}

// normalise turns log weights into probabilities in place.
func normalise(logs []float64) {
	top := slices.Max(logs)
	sum := 0.0
	for i, l := range logs {
		logs[i] = math.Exp(l - top)
		sum += logs[i]
	}
	for i := range logs {
		logs[i] /= sum
	}
}
