package cable

const (
	// mostSteps bounds the iteration. A few steps do far from collapse; at its
	// very edge each step halves the rest, and forty settle.
	mostSteps = 100

	// settled is the fall of every voltage, as a part of the source's, at which
	// the iteration ends. Away from the edge the steps converge quadratically,
	// so that what is left then lies below the last digit.
	settled = 1e-12
)

// Solver solves buses and keeps its work space from one to the next. The zero
// Solver is ready. It isn't safe for use by several goroutines at once.
type Solver struct{ work []row }

// row is a node in the elimination. The node and all behind it draw a + b, with
// a the amperes for each volt at the node and b those at 0 V; seen from the far
// end of its segment they draw gain times that.
type row struct{ a, b, gain float64 }

// Solve appends the voltage in V of each node of a tree to dst[:0] and returns
// it; with room in dst nothing is allocated. Constant currents alone are solved
// exactly in one pass (Kirchhoff's laws).
//
// With constant power the equations f(V) = G V + I + P/V - G Vs = 0 are solved
// by Newton's method from the voltages without the powers, which are an upper
// bound. f is convex, and above the largest solution its Jacobian is an
// M-matrix, so the voltages fall from step to step and stop at the largest
// solution, the one at which real equipment settles (monotone Newton theorem,
// Ortega and Rheinboldt 1970, 13.3, from memory). A pivot that isn't positive or
// a voltage that falls to 0 proves that no solution exists. Each step is an
// elimination from the leaves to the root and back, in time proportional to the
// number of nodes.
//
// It fails with a *Collapse when there is no solution, or none that the
// arithmetic can tell from there being none; with a *NodeError for a quantity of
// a node; and with a *units.OutOfRange for the source or an empty tree.
func (s *Solver) Solve(dst []float64, t Tree, source Source) ([]float64, error) {
	if err := source.check(); err != nil {
		return nil, err
	}
	power, err := t.check()
	if err != nil {
		return nil, err
	}
	s.grow(len(t))
	v := append(dst[:0], make([]float64, len(t))...)
	s.currents(t)
	if _, ok := s.step(v, t, source); !ok {
		return nil, &Collapse{Node: lowest(v)}
	}
	if !power {
		return v, nil
	}
	for range mostSteps {
		s.tangents(v, t)
		fall, ok := s.step(v, t, source)
		if !ok {
			break
		}
		if fall <= settled*source.Voltage {
			return v, nil
		}
	}
	return nil, &Collapse{Node: s.worst(v, t, source)}
}

// worst is the node of the least voltage. After a pivot that wasn't positive v is
// still the upper bound of the step before; what the loads would draw at it
// tells where the drop is.
func (s *Solver) worst(v []float64, t Tree, source Source) int {
	if low := lowest(v); !(v[low] > 0) {
		return low
	}
	for i := range t {
		s.work[i] = row{b: t[i].Current + t[i].Power/v[i]}
	}
	s.step(v, t, source)
	return lowest(v)
}

func (s *Solver) grow(n int) {
	if cap(s.work) < n {
		s.work = make([]row, n)
	}
	s.work = s.work[:n]
}

// currents leaves the powers out.
func (s *Solver) currents(t Tree) {
	for i := range t {
		s.work[i] = row{b: t[i].Current}
	}
}

// tangents puts the tangent of P/V at the present voltage in the place of each
// constant power: 2P/V at 0 V, falling by P/V^2 for each volt.
func (s *Solver) tangents(v []float64, t Tree) {
	for i := range t {
		drawn := t[i].Power / v[i]
		s.work[i] = row{a: -drawn / v[i], b: t[i].Current + 2*drawn}
	}
}

// step solves the linear bus in the rows into v, and returns the largest fall
// of a voltage. It is false, with v as far as it came, when a pivot or a voltage
// isn't positive. Written in resistances and not in conductances it takes
// segments without resistance as they are.
func (s *Solver) step(v []float64, t Tree, source Source) (fall float64, ok bool) {
	rows := s.work[:len(t)]
	for i := len(t) - 1; i > 0; i-- {
		r, up := &rows[i], &rows[t[i].Parent]
		pivot := 1 + r.a*t[i].Resistance
		if !(pivot > 0) {
			return 0, false
		}
		r.gain = 1 / pivot
		up.a += r.a * r.gain
		up.b += r.b * r.gain
	}
	pivot := 1 + rows[0].a*source.Resistance
	if !(pivot > 0) {
		return 0, false
	}
	above, ohms := source.Voltage, source.Resistance
	rows[0].gain = 1 / pivot
	ok = true
	for i := range rows {
		if i > 0 {
			above, ohms = v[t[i].Parent], t[i].Resistance
		}
		now := (above - ohms*rows[i].b) * rows[i].gain
		fall = max(fall, v[i]-now)
		// No load feeds the bus, so that more than the source's is an overflow.
		ok = ok && now > 0 && now < 2*source.Voltage
		v[i] = now
	}
	return fall, ok
}

func lowest(v []float64) int {
	low := 0
	for i := range v {
		if v[i] < v[low] {
			low = i
		}
	}
	return low
}
