package plan

import (
	"cmp"
	"slices"
)

// closeTo is how near to each other, as a part of the whole, the bounds have
// to be to count as one number.
const closeTo = 1e-11

// Plan looks for the next action that takes the fewest expected minutes to the
// end. It values about budget positions (at least every action once) and then
// takes the best known; the same problem and budget always give the same
// answer. An invalid problem gives an *Invalid.
//
// SOURCE: the bounds are those of the package comment; the search is common
// practice (best first in a graph of actions and outcomes).
func (p *Problem) Plan(budget int) (Plan, error) {
	if err := p.check(); err != nil {
		return Plan{}, err
	}
	s := newSearch(p)
	s.run(budget)
	return s.plan(), nil
}

func newSearch(p *Problem) *search {
	n := len(p.Causes)
	s := &search{
		minutes: make([]float64, n), mends: make([]float64, n), rate: make([]float64, n), known: make([]float64, n),
		repairAt: make([]Spot, n), scratch: make([]float64, n),
		handOver: p.HandOver, canHand: p.HandOver < inf, walk: p.Walk, setups: p.Setups,
		index: index{make([]int32, 256)},
	}
	if s.canHand {
		s.never = p.HandOver
	}
	root := position{place: p.Place, ready: p.Ready}
	sum := 0.0
	for i := range p.Causes {
		sum += p.Causes[i].P
	}
	w := make([]float64, n)
	for i := range p.Causes {
		c := &p.Causes[i]
		w[i] = c.P / sum
		if c.Repair < inf && c.Mends > 0 && c.P > 0 {
			s.addRepair(i, c, &root)
		}
	}
	s.tests = make([]test, len(p.Tests))
	for j := range p.Tests {
		if p.Tests[j].Minutes < inf {
			s.tests[j] = byOutcome(&p.Tests[j])
			root.tests |= 1 << j
			s.spots = s.spots || s.cost(0, p.Tests[j].At, &root) > 0
		}
	}
	s.cheapRepairs = cheapest(n, func(i int) float64 { return s.minutes[i] })
	s.cheapTests = cheapest(len(s.tests), func(j int) float64 { return s.tests[j].minutes })
	s.rows = make([]float64, len(s.tests)*n)
	s.add(w, root, 0)
	s.close = closeTo * s.all[0].upper
	return s
}

func (s *search) addRepair(i int, c *Cause, root *position) {
	s.minutes[i], s.mends[i], s.repairAt[i] = c.Repair, c.Mends, c.At
	s.rate[i] = c.Mends / max(c.Repair, least)
	s.known[i] = c.Repair + (1-c.Mends)*s.never
	if s.canHand {
		s.known[i] = min(s.known[i], s.handOver)
	}
	root.repairs |= 1 << i
	s.spots = s.spots || s.cost(0, c.At, root) > 0
}

// cheapest puts the numbers below n into order of their minutes.
func cheapest(n int, minutes func(int) float64) []uint8 {
	order := make([]uint8, n)
	for i := range order {
		order[i] = uint8(i)
	}
	slices.SortStableFunc(order, func(a, b uint8) int { return cmp.Compare(minutes(int(a)), minutes(int(b))) })
	return order
}

func byOutcome(t *Test) test {
	out := test{minutes: t.Minutes, at: t.At, given: make([][]float64, len(t.Given[0]))}
	n := len(t.Given)
	all := make([]float64, len(out.given)*n)
	for o := range out.given {
		out.given[o] = all[o*n : o*n+n]
	}
	for i, row := range t.Given {
		sum := 0.0
		for _, l := range row {
			sum += l
		}
		for o, l := range row {
			out.given[o][i] = l / sum
		}
	}
	return out
}

// plan reads the answer off the root.
func (s *search) plan() Plan {
	if root := &s.all[0]; root.from == root.to {
		return Plan{Options: []Option{{}}, Nodes: s.nodes, Exact: true}
	}
	best := s.choose()
	root := &s.all[0]
	out := Plan{Nodes: s.nodes, Depth: max(s.depth, 1), Exact: s.closed(root.bounds, root.weight)}
	for _, e := range s.edges[root.from:root.to] {
		out.Options = append(out.Options, Option{Action{e.kind, int(e.which)}, e.upper})
	}
	slices.SortFunc(out.Options, func(a, b Option) int {
		if a.Action == best || b.Action == best {
			return cmp.Compare(order(a.Action == best), order(b.Action == best))
		}
		return cmp.Or(cmp.Compare(a.Minutes, b.Minutes), cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Index, b.Index))
	})
	if best.Kind == DoTest {
		out.Then = s.then(0, best.Index)
	}
	return out
}

// order puts what is best first.
func order(best bool) int {
	if best {
		return 0
	}
	return 1
}
