package plan

// least stands for no minutes at all where something is divided by minutes.
const least = 1e-9

// search holds one run. Nodes, edges and weights lie in slices that only
// grow; nothing else is allocated while it runs.
type search struct {
	minutes, mends, rate []float64 // of repairs
	known                []float64 // least minutes to the end when this is known to be the cause
	never                float64   // and when its repair is gone
	handOver             float64
	canHand              bool
	repairAt             []Spot
	tests                []test
	cheapRepairs         []uint8 // by minutes
	cheapTests           []uint8
	walk                 float64
	setups               []float64
	spots                bool // costs depend on the place or on set-ups
	close                float64

	all     []node
	weights []float64 // of all nodes, one after the other
	edges   []edge
	kids    []int32
	index   index
	scratch []float64
	path    []int32

	// Of the position that is being valued.
	order                 [mostCauses]uint8
	rates, costs          [mostCauses]float64
	rest, told, top, next float64
	hands                 bool      // the known way begins with handing over, or nothing is left
	rows                  []float64 // of free

	nodes, depth int
}

// test is a Test with its numbers by outcome, then cause.
type test struct {
	minutes float64
	at      Spot
	given   [][]float64
}

// node is a position that was reached.
type node struct {
	position
	bounds
	weight   float64
	key      uint64
	from, to int32 // edges
	expanded bool
}

// edge is an action at a node.
type edge struct {
	bounds
	cost  float64 // minutes times weight
	kids  int32   // of search.kids, one for each outcome, -1 where it can't happen; -1: not looked at
	outs  uint8
	kind  Kind
	which uint8
}

// freeOutcomes is up to how many outcomes of all tests left together a node is
// bounded by what they would be worth for nothing.
const freeOutcomes = 16

func (s *search) node(n int32) []float64 {
	k := len(s.minutes)
	return s.weights[int(n)*k : int(n)*k+k]
}

// closed tells whether bounds for a weight are as good as one number.
func (s *search) closed(b bounds, weight float64) bool { return b.gap() <= s.close*weight }

// add returns the node of a position, which may have been reached before.
func (s *search) add(w []float64, p position, key uint64) int32 {
	slot := s.index.find(s.all, key)
	if n := s.index.slots[slot]; n != 0 {
		return n - 1
	}
	nd := node{position: p, key: key}
	for _, x := range w {
		nd.weight += x
	}
	nd.bounds = s.value(w, p)
	if p.tests != 0 && !s.spots && nd.gap() > 0 && s.outcomes(p.tests, freeOutcomes) <= freeOutcomes {
		nd.lower = min(nd.upper, max(nd.lower, s.free(w, p, 0)))
	}
	s.all = append(s.all, nd)
	s.weights = append(s.weights, w...)
	s.index.put(s.all, slot)
	return int32(len(s.all) - 1)
}

// refresh takes a node's bounds from its edges, and theirs from the nodes that
// they lead to.
func (s *search) refresh(n int32) {
	nd := &s.all[n]
	if nd.from == nd.to {
		return
	}
	lower := inf
	for k := nd.from; k < nd.to; k++ {
		e := &s.edges[k]
		if e.kids >= 0 {
			b := bounds{e.cost, e.cost}
			for _, kid := range s.kids[e.kids : e.kids+int32(e.outs)] {
				if kid >= 0 {
					c := &s.all[kid]
					b.upper += c.upper
					b.lower += c.lower
				}
			}
			e.bounds = b
		}
		nd.upper = min(nd.upper, e.upper)
		lower = min(lower, e.lower)
	}
	nd.lower = max(nd.lower, min(lower, nd.upper))
}

// run searches until the root is closed or the budget is used up.
func (s *search) run(budget int) {
	if s.all[0].repairs == 0 && !s.canHand {
		return // tests alone end nothing
	}
	s.expand(0, true)
	for s.nodes < budget && !s.closed(s.all[0].bounds, s.all[0].weight) {
		s.descend()
	}
}

// descend follows the most promising actions, and from each the outcome whose
// bounds are furthest apart, to a node that wasn't expanded; it expands that
// one and carries the news back up.
func (s *search) descend() {
	s.path = s.path[:0]
	n := int32(0)
	for {
		s.nodes++
		s.path = append(s.path, n)
		if !s.all[n].expanded {
			s.expand(n, false)
			break
		}
		s.refresh(n)
		e := s.promising(n)
		if e == nil {
			break
		}
		if e.kids < 0 {
			s.look(n, e)
		}
		next, widest := int32(-1), -1.0
		for _, kid := range s.kids[e.kids : e.kids+int32(e.outs)] {
			if kid >= 0 && s.all[kid].gap() > widest && !s.closed(s.all[kid].bounds, s.all[kid].weight) {
				next, widest = kid, s.all[kid].gap()
			}
		}
		if next < 0 {
			break
		}
		n = next
	}
	s.depth = max(s.depth, len(s.path))
	for k := len(s.path) - 1; k >= 0; k-- {
		s.refresh(s.path[k])
	}
}

// promising is the edge of the least lower bound among those that are open and
// could still beat the best known; nil when the node is closed. (On random
// models a guess between the bounds served no better.)
func (s *search) promising(n int32) *edge {
	nd := &s.all[n]
	if s.closed(nd.bounds, nd.weight) {
		return nil
	}
	var best *edge
	for k := nd.from; k < nd.to; k++ {
		e := &s.edges[k]
		if e.lower < nd.upper && !s.closed(e.bounds, nd.weight) && (best == nil || e.lower < best.lower) {
			best = e
		}
	}
	return best
}
