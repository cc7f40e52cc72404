package plan

import "math/bits"

// position is what the value of a case depends on besides the weights: the
// actions left, where one stands and what is set up.
type position struct {
	repairs, tests uint64
	place          int
	ready          uint16
}

// bounds of the least expected minutes from a position on, times its weight.
type bounds struct{ upper, lower float64 }

func (b bounds) gap() float64 { return b.upper - b.lower }

// cost is what an action takes from a position on, with walk and set-ups.
func (s *search) cost(minutes float64, at Spot, p *position) float64 {
	if at.Place != 0 && at.Place != p.place {
		minutes += s.walk
	}
	for need := at.Setups &^ p.ready; need != 0; need &= need - 1 {
		minutes += s.setups[bits.TrailingZeros16(need)]
	}
	return minutes
}

func (p *position) stand(at Spot) {
	if at.Place != 0 {
		p.place = at.Place
	}
	p.ready |= at.Setups
}

// value bounds a position from both sides. The weights are probabilities of
// cause and of everything seen so far together; all values are theirs times
// minutes, so a case's outcomes simply add up.
//
// The upper bound is that of a way that can be gone: no more tests, repairs by
// probability over cost, and the best point to hand over. It is the least
// possible when no test is left and nothing depends on the place.
func (s *search) value(w []float64, p position) bounds {
	s.nodes++
	n := s.rank(w, p.repairs)
	if s.spots {
		s.route(w, n, p)
	} else {
		for k, i := range s.order[:n] {
			s.costs[k] = s.minutes[i]
		}
	}
	// Backwards, so that what remains is summed from the smallest on and the
	// best point to hand over falls out.
	rest := s.rest
	upper := s.never * rest
	s.hands = true
	for k := n - 1; k >= 0; k-- {
		i := s.order[k]
		rest += w[i] * s.mends[i]
		upper += s.costs[k] * rest
		s.hands = s.canHand && s.handOver*rest < upper
		if s.hands {
			upper = s.handOver * rest
		}
	}
	if p.tests == 0 && !s.spots {
		return bounds{upper, upper}
	}
	return bounds{upper, min(upper, s.told+s.blind(p, n, rest))}
}

// rank puts the repairs that can mend something into order, by probability
// over cost, and returns how many they are. On the way it sums what no repair
// mends (rest), what would do if the cause were known (told), and finds the
// two greatest weights.
func (s *search) rank(w []float64, repairs uint64) int {
	n, rest, told, top, next := 0, 0.0, 0.0, 0.0, 0.0
	for i, x := range w {
		if x == 0 {
			continue
		}
		if x > top {
			top, next = x, top
		} else if x > next {
			next = x
		}
		if repairs>>i&1 == 0 {
			told += x * s.never
			rest += x
			continue
		}
		told += x * s.known[i]
		gain := x * s.mends[i]
		if gain == 0 { // it is too small to be a number
			rest += x
			continue
		}
		rest += x - gain
		rate := x * s.rate[i]
		k := n
		for ; k > 0 && s.rates[k-1] < rate; k-- {
			s.rates[k], s.order[k] = s.rates[k-1], s.order[k-1]
		}
		s.rates[k], s.order[k] = rate, uint8(i)
		n++
	}
	s.rest, s.told, s.top, s.next = rest, told, top, next
	return n
}

// blind is the least that not knowing the cause costs on top: whoever tests
// next pays for a test, and whoever repairs before that pays for the repair
// where it isn't the cause. Weight is that of the whole position, n the number
// of repairs.
func (s *search) blind(p position, n int, weight float64) float64 {
	if n == 0 {
		return inf // the upper bound is the only way
	}
	repair := s.minutes[first(s.cheapRepairs, p.repairs)]
	after1 := max(0, weight-s.top)
	after2 := max(0, after1-s.next)
	extra := inf
	if p.tests != 0 {
		// No repair before the test, one, or more.
		test := s.tests[first(s.cheapTests, p.tests)].minutes
		extra = min(test*weight, (repair+test)*after1, repair*(after1+after2))
	}
	if s.spots { // without another test; else that is the upper bound
		extra = min(extra, repair*after1)
		if s.canHand {
			extra = min(extra, s.handOver*weight-s.told)
		}
	}
	return extra
}

// first is the first of an order that is in a set.
func first(order []uint8, set uint64) uint8 {
	for _, i := range order {
		if set>>i&1 != 0 {
			return i
		}
	}
	return 0 // not reached: the set isn't empty
}

// free is a lower bound: the value when every test left is done for nothing.
// Depth counts the tests.
func (s *search) free(w []float64, p position, depth int) float64 {
	if p.tests == 0 {
		return s.value(w, p).upper
	}
	t := &s.tests[bits.TrailingZeros64(p.tests)]
	p.tests &= p.tests - 1
	n := len(w)
	row, sum := s.rows[depth*n:depth*n+n], 0.0
	for _, given := range t.given {
		for i, l := range given {
			row[i] = w[i] * l
		}
		sum += s.free(row, p, depth+1)
	}
	return sum
}

// outcomes is how many ways the tests of a set can come out together, or any
// number above most when they are more.
func (s *search) outcomes(tests uint64, most int) int {
	n := 1
	for ; tests != 0 && n <= most; tests &= tests - 1 {
		n *= len(s.tests[bits.TrailingZeros64(tests)].given)
	}
	return n
}

// route orders the first n repairs by probability over what they cost from
// where the one before them leaves one, and sets the costs.
func (s *search) route(w []float64, n int, p position) {
	for k := range n {
		best, bestAt, bestCost := -1.0, k, 0.0
		for l := k; l < n; l++ {
			i := s.order[l]
			c := s.cost(s.minutes[i], s.repairAt[i], &p)
			if rate := w[i] * s.mends[i] / max(c, least); rate > best {
				best, bestAt, bestCost = rate, l, c
			}
		}
		chosen := s.order[bestAt]
		copy(s.order[k+1:bestAt+1], s.order[k:bestAt]) // the others keep their order
		s.order[k], s.costs[k] = chosen, bestCost
		p.stand(s.repairAt[chosen])
	}
}

// opening is the first action of the way whose minutes value gives as the upper
// bound.
func (s *search) opening(w []float64, p position) Action {
	s.value(w, p)
	switch {
	case !s.hands:
		return Action{DoRepair, int(s.order[0])}
	case s.canHand:
		return Action{DoHandOver, 0}
	}
	return Action{}
}
