package learn

import (
	"errors"
	"iter"
	"maps"
	"math"
	"slices"
	"time"

	"ferrule/knowledge"
)

// Learned is what the closed cases teach: sums, which become numbers together
// with a pack. It does not change, and is safe for concurrent use.
type Learned struct {
	pack        string // hash of the pack that the bands of the cases come from
	settings    Settings
	cases       int
	first, last time.Time

	names        map[nameKey]int // in how many cases each name stands
	causes       map[causeKey]counts
	bands        map[bandKey]counts
	mended, lost map[string]counts // by cause, which it was: its repair mended it or not
	repairs      map[string]moments
	steps        map[string]moments
}

type nameKey struct{ kind, name string }

type causeKey struct{ symptom, equipment, cause string }

type bandKey struct {
	evidence, cause string
	band            int
}

// The kinds of name.
const (
	symptomName   = "symptom"
	equipmentName = "equipment"
	causeName     = "cause"
	evidenceName  = "evidence"
	readingName   = "reading"
	notInForce    = "not in force" // a table within another that was in another band
)

// Learn takes the closed cases, in any order. A case may have several symptoms:
// each learns from it. Names that the pack does not have are kept apart, see
// [Numbers.Aside]. The error is a *[CaseError] for a case that is at fault or
// comes twice, or holds a *units.OutOfRange for each setting that can't be.
func Learn(pack *knowledge.Pack, cases iter.Seq[Case], s Settings) (*Learned, error) {
	l, err := newLearner(pack, s)
	if err != nil {
		return nil, err
	}
	for c := range cases {
		if err := l.add(c); err != nil {
			return nil, err
		}
	}
	return l.learned(), nil
}

// Pack returns the hash of the pack that the cases were held against.
func (l *Learned) Pack() string { return l.pack }

// Settings returns how much the pack counts against the cases.
func (l *Learned) Settings() Settings { return l.settings }

// Cases returns the number of cases.
func (l *Learned) Cases() int { return l.cases }

// Span returns when the first and the last case were closed; zero if no case
// says so.
func (l *Learned) Span() (first, last time.Time) { return l.first, l.last }

// learner adds up cases.
type learner struct {
	sums    Learned
	seen    map[uint64]bool
	within  map[string]*knowledge.Within
	repairs map[string][]float64 // sorted logs of minutes
	steps   map[string][]float64
}

func newLearner(pack *knowledge.Pack, s Settings) (*learner, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	l := &learner{
		sums: Learned{
			settings: s,
			names:    map[nameKey]int{}, causes: map[causeKey]counts{}, bands: map[bandKey]counts{},
			mended: map[string]counts{}, lost: map[string]counts{},
		},
		seen: map[uint64]bool{}, within: map[string]*knowledge.Within{},
		repairs: map[string][]float64{}, steps: map[string][]float64{},
	}
	if pack != nil {
		l.sums.pack = pack.Hash
		for i := range pack.Evidence {
			l.within[pack.Evidence[i].Name.S] = pack.Evidence[i].Within
		}
	}
	return l, nil
}

// learned returns what the cases so far teach; more can be added afterwards.
func (l *learner) learned() *Learned {
	out := l.sums
	out.names, out.causes, out.bands = maps.Clone(out.names), maps.Clone(out.causes), maps.Clone(out.bands)
	out.mended, out.lost = maps.Clone(out.mended), maps.Clone(out.lost)
	out.repairs, out.steps = allMoments(l.repairs), allMoments(l.steps)
	return &out
}

func allMoments(logs map[string][]float64) map[string]moments {
	out := make(map[string]moments, len(logs))
	for name, x := range logs {
		out[name] = momentsOf(x)
	}
	return out
}

func (l *learner) add(c Case) error {
	if err := c.check(); err != nil {
		return &CaseError{c.ID, err}
	}
	if l.seen[c.ID] {
		return &CaseError{c.ID, errors.New("it comes twice")}
	}
	l.seen[c.ID] = true
	l.sums.cases++
	l.span(c.Closed.UTC().Round(0))
	one, _ := grade(c.Confirmed)
	l.symptoms(&c, one)
	l.tables(&c, one)
	l.times(&c, one)
	for n := range namesOf(&c) {
		l.sums.names[n]++
	}
	return nil
}

func (l *learner) span(closed time.Time) {
	if closed.IsZero() {
		return
	}
	if l.sums.first.IsZero() || closed.Before(l.sums.first) {
		l.sums.first = closed
	}
	if closed.After(l.sums.last) {
		l.sums.last = closed
	}
}

func (l *learner) symptoms(c *Case, one counts) {
	for i, s := range c.Symptoms {
		if slices.Contains(c.Symptoms[:i], s) {
			continue
		}
		k := causeKey{s, c.Equipment, c.cause()}
		l.sums.causes[k] = l.sums.causes[k].plus(one)
	}
}

// tables adds the bands: the last one of each table, as a later value of a
// reading replaces the earlier. The numbers of a table within another are stated
// for one band of it, and only cases in that band speak to them.
func (l *learner) tables(c *Case, one counts) {
	for i, o := range c.Bands {
		if slices.ContainsFunc(c.Bands[i+1:], func(later Observed) bool { return later.Evidence == o.Evidence }) {
			continue
		}
		if !l.inForce(c, o.Evidence, len(l.within)) {
			l.sums.names[nameKey{notInForce, o.Evidence}]++
			continue
		}
		k := bandKey{o.Evidence, c.cause(), o.Band}
		l.sums.bands[k] = l.sums.bands[k].plus(one)
	}
}

// inForce goes up through the tables that a table is within; most bounds the
// way, should they stand in a circle.
func (l *learner) inForce(c *Case, evidence string, most int) bool {
	w := l.within[evidence]
	if w == nil {
		return true
	}
	for _, o := range slices.Backward(c.Bands) {
		if o.Evidence == w.Evidence.S {
			return o.Band == w.Band && most > 0 && l.inForce(c, o.Evidence, most-1)
		}
	}
	return false
}

// times adds what repairs and readings took, and whether the repair of what it
// was did mend it. A repair of anything else could not mend, which says nothing
// about it.
func (l *learner) times(c *Case, one counts) {
	for _, r := range c.Repairs {
		if r.Cause == c.cause() {
			result := l.sums.lost
			if r.Mended {
				result = l.sums.mended
			}
			result[r.Cause] = result[r.Cause].plus(one)
		}
		record(l.repairs, r.Cause, r.Minutes)
	}
	for _, s := range c.Steps {
		record(l.steps, s.Reading, s.Minutes)
	}
}

func record(logs map[string][]float64, name string, minutes float64) {
	if minutes == 0 {
		return
	}
	x := math.Log(minutes)
	at, _ := slices.BinarySearch(logs[name], x)
	logs[name] = slices.Insert(logs[name], at, x)
}

func namesOf(c *Case) map[nameKey]bool {
	names := map[nameKey]bool{{causeName, c.cause()}: true}
	if c.Equipment != "" {
		names[nameKey{equipmentName, c.Equipment}] = true
	}
	for _, s := range c.Symptoms {
		names[nameKey{symptomName, s}] = true
	}
	for _, o := range c.Bands {
		names[nameKey{evidenceName, o.Evidence}] = true
	}
	for _, r := range c.Repairs {
		names[nameKey{causeName, r.Cause}] = true
	}
	for _, s := range c.Steps {
		names[nameKey{readingName, s.Reading}] = true
	}
	return names
}
