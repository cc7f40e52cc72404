package plan

// tie is how near, as a part of the minutes, two actions have to be to count
// as equally good.
const tie = 1e-12

// best is the action that is best known at a node; ties by kind, then number.
func (s *search) best(n int32) Action {
	nd := &s.all[n]
	if nd.from == nd.to {
		return s.opening(s.node(n), nd.position)
	}
	least := inf
	for _, e := range s.edges[nd.from:nd.to] {
		least = min(least, e.upper)
	}
	out := Action{Kind: DoHandOver + 1}
	for _, e := range s.edges[nd.from:nd.to] {
		a := Action{e.kind, int(e.which)}
		if e.upper <= least*(1+tie) && (a.Kind < out.Kind || a.Kind == out.Kind && a.Index < out.Index) {
			out = a
		}
	}
	return out
}

// edge is the edge of an action at an expanded node.
func (s *search) edge(n int32, a Action) *edge {
	for k := s.all[n].from; k < s.all[n].to; k++ {
		if e := &s.edges[k]; e.kind == a.Kind && int(e.which) == a.Index {
			return e
		}
	}
	return nil
}

// then is what comes after each outcome of a test at an expanded node.
func (s *search) then(n int32, test int) []Action {
	e := s.edge(n, Action{DoTest, test})
	if e.kids < 0 {
		s.look(n, e)
	}
	out := make([]Action, e.outs)
	for o, kid := range s.kids[e.kids : e.kids+int32(e.outs)] {
		if kid >= 0 {
			out[o] = s.best(kid)
		}
	}
	return out
}

// choose is the action to take at the root. No measurement comes first that
// can't change what is done next: while the best known way begins with tests
// that lead to one and the same repair whatever they show, that repair is
// valued before them. The way is the same, but whom the repair helps needs no
// tests, so the repair wins unless the exchange costs a walk or a set-up.
func (s *search) choose() Action {
	a := s.best(0)
	for range s.all[0].to - s.all[0].from { // each turn makes one repair better
		if a.Kind != DoTest {
			break
		}
		group, next := s.leadsTo(a)
		if next.Kind == DoHandOver {
			return next // the tests can't have been worth anything
		}
		if next.Kind != DoRepair || !s.exchange(group, next) || s.best(0) == a {
			break
		}
		a = s.best(0)
	}
	return a
}

// leadsTo returns the tests that the best known way from the root begins
// with, whatever they show, and the one action that comes after all of them,
// or Nothing when that depends on what they show.
func (s *search) leadsTo(a Action) ([]Action, Action) {
	var group []Action
	level := []int32{0}
	for a.Kind == DoTest {
		group = append(group, a)
		next, same := Action{}, true
		var below []int32
		for _, n := range level {
			e := s.edge(n, a)
			if e.kids < 0 {
				s.look(n, e)
			}
			for _, kid := range s.kids[e.kids : e.kids+int32(e.outs)] {
				if kid < 0 {
					continue
				}
				b := s.best(kid)
				same = same && (len(below) == 0 || b == next)
				next = b
				below = append(below, kid)
			}
		}
		if !same {
			return group, Action{}
		}
		a, level = next, below
	}
	return group, a
}

// exchange values a repair before a group of tests that it comes after in the
// best known way. It tells whether that is an improvement on what was known
// of beginning with the repair.
func (s *search) exchange(group []Action, repair Action) bool {
	root := &s.all[0]
	before := s.edge(0, group[0])
	after := s.edge(0, repair)
	if after == nil {
		return false
	}
	gain := s.node(0)[repair.Index] * s.mends[repair.Index]
	minutes, at := s.minutes[repair.Index], s.repairAt[repair.Index]
	was, is := root.position, root.position
	upper := before.upper + root.weight*s.cost(minutes, at, &is)
	is.stand(at)
	for _, a := range group {
		t := &s.tests[a.Index]
		upper -= root.weight * s.cost(t.minutes, t.at, &was)
		was.stand(t.at)
		upper += (root.weight - gain) * s.cost(t.minutes, t.at, &is)
		is.stand(t.at)
	}
	upper -= root.weight * s.cost(minutes, at, &was)
	was.stand(at)
	if was.place != is.place {
		upper += (root.weight - gain) * s.walk // back to where the rest goes on
	}
	if upper >= after.upper {
		return false
	}
	after.upper = upper
	root.upper = min(root.upper, upper)
	return true
}
