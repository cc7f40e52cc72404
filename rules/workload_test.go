package rules

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"testing/fstest"

	"ferrule/knowledge"
)

// The workload of the benchmark: generated rules of two to four conditions
// over 60 readings (24 numbers, 16 choices, 6 versions, 10 yes/no, 4 sets),
// written for three engines: this package, expr programs over a map with
// packed versions, and hand-written closures over interned, packed slots.
// Of the conditions 38 % compare a number, 8 % calculate, 20 % compare a
// choice, 11 % are yes/no, 12 % compare versions, 11 % look into a set; 72 %
// of the rules are plain ands, the rest hold one or.

const (
	workNumbers, workChoices, workVersions, workBools, workSets = 24, 16, 6, 10, 4
	workValues                                                  = 8 // of a choice, and members of a set
)

// workFacts are the values of one message, interned and packed, for closures.
type workFacts struct {
	num  [workNumbers]float64
	text [workChoices]int32
	ver  [workVersions]uint32
	yes  [workBools]bool
	set  [workSets]uint64
}

// condition is one generated condition in the three forms.
type condition struct {
	ours, expr string
	closure    func(*workFacts) bool
}

// workRule is a rule in the three forms.
type workRule condition

type workload struct {
	rules    []workRule
	messages []workFacts
	distinct int
}

func newWorkload(rules int) *workload {
	r := rand.New(rand.NewPCG(7, 11))
	w := &workload{}
	seen := map[string]bool{}
	for range rules {
		parts := make([]condition, 2+r.IntN(3))
		for i := range parts {
			parts[i] = someCondition(r)
			seen[parts[i].ours] = true
		}
		w.rules = append(w.rules, joinConditions(parts, r.IntN(100) < 72))
	}
	w.distinct = len(seen)
	for range 64 {
		w.messages = append(w.messages, someFacts(r))
	}
	return w
}

func someFacts(r *rand.Rand) (f workFacts) {
	for i := range f.num {
		f.num[i] = float64(r.IntN(1000)) / 10
	}
	for i := range f.text {
		f.text[i] = int32(r.IntN(workValues))
	}
	for i := range f.ver {
		f.ver[i] = packed(1+r.IntN(5), r.IntN(20))
	}
	for i := range f.yes {
		f.yes[i] = r.IntN(2) == 0
	}
	for i := range f.set {
		f.set[i] = r.Uint64N(1 << workValues)
	}
	return f
}

func packed(major, minor int) uint32 { return uint32(major)<<16 | uint32(minor) }

// joinConditions makes a and b and c, or a and (b or c).
func joinConditions(parts []condition, plain bool) workRule {
	ours, text := make([]string, len(parts)), make([]string, len(parts))
	for i, p := range parts {
		ours[i], text[i] = p.ours, p.expr
	}
	if plain {
		closures := make([]func(*workFacts) bool, len(parts))
		for i, p := range parts {
			closures[i] = p.closure
		}
		return workRule{strings.Join(ours, " and "), strings.Join(text, " and "), allOf(closures)}
	}
	n := len(parts)
	either := func(s []string) string {
		return strings.Join(append(s[:n-2:n-2], "("+s[n-2]+" or "+s[n-1]+")"), " and ")
	}
	a, b := parts[n-2].closure, parts[n-1].closure
	closures := []func(*workFacts) bool{}
	for _, p := range parts[:n-2] {
		closures = append(closures, p.closure)
	}
	closures = append(closures, func(f *workFacts) bool { return a(f) || b(f) })
	return workRule{either(ours), either(text), allOf(closures)}
}

// allOf writes the common lengths out, as one would by hand.
func allOf(c []func(*workFacts) bool) func(*workFacts) bool {
	switch len(c) {
	case 1:
		return c[0]
	case 2:
		a, b := c[0], c[1]
		return func(f *workFacts) bool { return a(f) && b(f) }
	case 3:
		a, b, c := c[0], c[1], c[2]
		return func(f *workFacts) bool { return a(f) && b(f) && c(f) }
	}
	a, b, d, e := c[0], c[1], c[2], c[3]
	return func(f *workFacts) bool { return a(f) && b(f) && d(f) && e(f) }
}

func someCondition(r *rand.Rand) condition {
	switch k := r.IntN(1000); {
	case k < 380:
		return someComparison(r)
	case k < 460:
		return someArithmetic(r)
	case k < 660:
		return someChoice(r)
	case k < 775:
		i := r.IntN(workBools)
		if r.IntN(2) == 0 {
			return condition{fmt.Sprintf("yes.r%d", i), fmt.Sprintf("yes_%d", i), func(f *workFacts) bool { return f.yes[i] }}
		}
		return condition{fmt.Sprintf("not yes.r%d", i), fmt.Sprintf("not yes_%d", i), func(f *workFacts) bool { return !f.yes[i] }}
	case k < 895:
		i, major, minor := r.IntN(workVersions), 1+r.IntN(5), r.IntN(12)
		limit := packed(major, minor)
		return condition{fmt.Sprintf("ver.r%d < %q", i, fmt.Sprintf("%d.%d", major, minor)),
			fmt.Sprintf("ver_%d < %d", i, limit), func(f *workFacts) bool { return f.ver[i] < limit }}
	}
	i, m := r.IntN(workSets), r.IntN(workValues)
	return condition{fmt.Sprintf("%q in set.r%d", member(m), i), fmt.Sprintf("%q in set_%d", member(m), i),
		func(f *workFacts) bool { return f.set[i]>>m&1 == 1 }}
}

func member(m int) string { return fmt.Sprintf("m%d", m) }

func someComparison(r *rand.Rand) condition {
	i, c := r.IntN(workNumbers), float64(r.IntN(20))*5
	op := []string{"<", "<=", ">", ">="}[r.IntN(4)]
	closure := map[string]func(*workFacts) bool{
		"<":  func(f *workFacts) bool { return f.num[i] < c },
		"<=": func(f *workFacts) bool { return f.num[i] <= c },
		">":  func(f *workFacts) bool { return f.num[i] > c },
		">=": func(f *workFacts) bool { return f.num[i] >= c },
	}[op]
	return condition{fmt.Sprintf("num.r%d %s %v", i, op, c), fmt.Sprintf("num_%d %s %v", i, op, floatSource(c)), closure}
}

func someArithmetic(r *rand.Rand) condition {
	i := r.IntN(workNumbers)
	j, k, c := (i+1)%workNumbers, float64(1+r.IntN(2))/2, float64(500*r.IntN(12))
	return condition{fmt.Sprintf("num.r%d * %v * num.r%d > %v", i, k, j, c), fmt.Sprintf("num_%d * %v * num_%d > %v", i, floatSource(k), j, floatSource(c)),
		func(f *workFacts) bool { return f.num[i]*k*f.num[j] > c }}
}

func someChoice(r *rand.Rand) condition {
	i, v := r.IntN(workChoices), int32(r.IntN(workValues))
	switch r.IntN(3) {
	case 0:
		return condition{fmt.Sprintf("text.r%d == %q", i, member(int(v))), fmt.Sprintf("text_%d == %q", i, member(int(v))),
			func(f *workFacts) bool { return f.text[i] == v }}
	case 1:
		return condition{fmt.Sprintf("text.r%d != %q", i, member(int(v))), fmt.Sprintf("text_%d != %q", i, member(int(v))),
			func(f *workFacts) bool { return f.text[i] != v }}
	}
	w := int32(r.IntN(workValues))
	return condition{fmt.Sprintf("text.r%d in [%q, %q]", i, member(int(v)), member(int(w))), fmt.Sprintf("text_%d in [%q, %q]", i, member(int(v)), member(int(w))),
		func(f *workFacts) bool { return f.text[i] == v || f.text[i] == w }}
}

// pack builds the vocabulary and the rules for this package.
func (w *workload) pack(t testing.TB) *knowledge.Pack {
	t.Helper()
	var b strings.Builder
	b.WriteString("equipment: [{model: Oak, class: hub, scheme: dotted, source: invented}]\nreadings:\n")
	ask := "subject: site, ask: What is it?, place: panel, minutes: 1, source: invented}\n"
	b.WriteString("  - {reading: hub.model, title: hub, kind: choice, subject: hub, ask: Which hub?, place: hub, minutes: 1, source: invented}\n")
	var choices []string
	for m := range workValues {
		choices = append(choices, "{choice: "+member(m)+"}")
	}
	list := ", choices: [" + strings.Join(choices, ", ") + "], "
	write := func(n int, prefix, kind, more string) {
		for i := range n {
			fmt.Fprintf(&b, "  - {reading: %s.r%d, title: reading, kind: %s%s%s", prefix, i, kind, more, ask)
		}
	}
	write(workNumbers, "num", "number", ", ")
	write(workChoices, "text", "choice", list)
	write(workVersions, "ver", "version", ", scheme_from: hub.model, ")
	write(workBools, "yes", "yes/no", ", ")
	write(workSets, "set", "set", list)
	p, err := knowledge.Load(fstest.MapFS{"work.yaml": {Data: []byte(b.String())}})
	if err != nil {
		t.Fatal(err)
	}
	for i, r := range w.rules {
		p.Rules = append(p.Rules, knowledge.Rule{Name: knowledge.Str{S: fmt.Sprintf("r%d", i)}, When: knowledge.Expr{S: r.ours}, Says: knowledge.Str{S: "So."}})
	}
	return p
}

// named is a value of a message for a reading.
type named struct {
	slot    int
	reading string
	subject Subject
	value   Value
}

// values are a message as this package takes it.
func (m *workFacts) values(p *Program) []named {
	var out []named
	add := func(prefix string, i int, v Value) {
		name := fmt.Sprintf("%s.r%d", prefix, i)
		slot, _ := p.Slot(name)
		out = append(out, named{slot, name, Subject{knowledge.Site, 1}, v})
	}
	slot, _ := p.Slot("hub.model")
	out = append(out, named{slot, "hub.model", Subject{knowledge.Hub, 1}, Named("Oak")})
	for i, x := range m.num {
		add("num", i, Num(x))
	}
	for i, x := range m.text {
		add("text", i, Named(member(int(x))))
	}
	for i, x := range m.ver {
		add("ver", i, Named(fmt.Sprintf("%d.%d", x>>16, x&0xffff)))
	}
	for i, x := range m.yes {
		add("yes", i, Yes(x))
	}
	for i, x := range m.set {
		has, hasNot := setMembers(x)
		add("set", i, Members(has, hasNot))
	}
	return out
}

func setMembers(x uint64) (has, hasNot []string) {
	for m := range workValues {
		if x>>m&1 == 1 {
			has = append(has, member(m))
		} else {
			hasNot = append(hasNot, member(m))
		}
	}
	return has, hasNot
}

// environment is a message as an expr program takes it: versions packed, a
// set as a map.
func (m *workFacts) environment() map[string]any {
	env := map[string]any{}
	for i, x := range m.num {
		env[fmt.Sprintf("num_%d", i)] = x
	}
	for i, x := range m.text {
		env[fmt.Sprintf("text_%d", i)] = member(int(x))
	}
	for i, x := range m.ver {
		env[fmt.Sprintf("ver_%d", i)] = int(x)
	}
	for i, x := range m.yes {
		env[fmt.Sprintf("yes_%d", i)] = x
	}
	for i, x := range m.set {
		set := map[string]bool{}
		has, _ := setMembers(x)
		for _, name := range has {
			set[name] = true
		}
		env[fmt.Sprintf("set_%d", i)] = set
	}
	return env
}
