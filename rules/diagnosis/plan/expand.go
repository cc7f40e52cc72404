package plan

import "math/bits"

// afterRepair sets the scratch weights to those after repair i failed.
func (s *search) afterRepair(w []float64, p position, i int) position {
	copy(s.scratch, w)
	s.scratch[i] *= 1 - s.mends[i]
	p.repairs &^= 1 << i
	p.stand(s.repairAt[i])
	return p
}

// afterTest sets the scratch weights to those after an outcome; it returns
// their sum.
func (s *search) afterTest(w []float64, t *test, outcome int) float64 {
	sum := 0.0
	for i, l := range t.given[outcome] {
		x := w[i] * l
		s.scratch[i] = x
		sum += x
	}
	return sum
}

// telling tells whether a test can shift the weights at all.
func (s *search) telling(w []float64, t *test) bool {
	for _, row := range t.given {
		seen := -1.0
		for i, l := range row {
			switch {
			case w[i] == 0:
			case seen < 0:
				seen = l
			case l-seen > 1e-12 || seen-l > 1e-12:
				return true
			}
		}
	}
	return false
}

// expand lays out the actions of a node and bounds each by looking one step
// ahead. At the root every test is an action; further down only those that
// can tell something.
func (s *search) expand(n int32, root bool) {
	nd := &s.all[n]
	nd.expanded = true
	nd.from = int32(len(s.edges))
	w := s.node(n)
	told := s.expandTests(nd, w, root)
	if !told && !s.spots && !root {
		s.edges = s.edges[:nd.from]
		nd.lower = nd.upper
		nd.to = nd.from
		return
	}
	for left := nd.repairs; left != 0; left &= left - 1 {
		i := bits.TrailingZeros64(left)
		if w[i]*s.mends[i] == 0 {
			continue
		}
		cost := nd.weight * s.cost(s.minutes[i], s.repairAt[i], &nd.position)
		b := s.value(s.scratch, s.afterRepair(w, nd.position, i))
		s.link(DoRepair, i, 1, cost, b)
	}
	if s.canHand {
		s.link(DoHandOver, 0, 0, nd.weight*s.handOver, bounds{})
	}
	nd.to = int32(len(s.edges))
	s.refresh(n)
}

func (s *search) expandTests(nd *node, w []float64, root bool) bool {
	told := false
	for left := nd.tests; left != 0; left &= left - 1 {
		j := bits.TrailingZeros64(left)
		t := &s.tests[j]
		if !root && !s.telling(w, t) {
			continue
		}
		told = true
		p := nd.position
		p.tests &^= 1 << j
		p.stand(t.at)
		var sum bounds
		for o := range t.given {
			if s.afterTest(w, t, o) > 0 {
				b := s.value(s.scratch, p)
				sum.upper += b.upper
				sum.lower += b.lower
			}
		}
		s.link(DoTest, j, len(t.given), nd.weight*s.cost(t.minutes, t.at, &nd.position), sum)
	}
	return told
}

func (s *search) link(kind Kind, which, outs int, cost float64, b bounds) {
	b.upper += cost
	b.lower += cost
	s.edges = append(s.edges, edge{bounds: b, cost: cost, kids: -1, outs: uint8(outs), kind: kind, which: uint8(which)})
}

// look makes the nodes that an edge leads to.
func (s *search) look(n int32, e *edge) {
	from := int32(len(s.kids))
	nd := s.all[n]
	if e.kind == DoRepair {
		p := s.afterRepair(s.node(n), nd.position, int(e.which))
		s.kids = append(s.kids, s.add(s.scratch, p, s.key(&nd, &p, DoRepair, e.which, 0)))
	} else {
		t := &s.tests[e.which]
		p := nd.position
		p.tests &^= 1 << e.which
		p.stand(t.at)
		for o := range t.given {
			kid := int32(-1)
			if s.afterTest(s.node(n), t, o) > 0 {
				kid = s.add(s.scratch, p, s.key(&nd, &p, DoTest, e.which, o))
			}
			s.kids = append(s.kids, kid)
		}
	}
	e.kids = from
}
