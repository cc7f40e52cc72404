package cable

import (
	"slices"

	"ferrule/knowledge/units"
)

// Kind is a kind of change to a bus, in order of effort.
type Kind uint8

// The kinds. That order and the kinds themselves are common practice, no source.
const (
	DoubleCores  Kind = iota + 1 // spare cores of the cable in parallel
	ThickerCable                 // a cable of a thicker conductor
	LocalSupply                  // a supply with a battery of its own at a point
	MoveLoad                     // a device connected nearer to the source
)

// Change is a change that mends a bus, with what it leads to.
type Change struct {
	Kind   Kind
	Points []int     // whose cable to the parent changes; or the one that is supplied or moved
	Size   Conductor // of ThickerCable
	To     int       // the point to which MoveLoad goes
	After  Report    // of the bus with the change, solved again
}

// Means says what there is to mend a bus with. The zero Means leaves doubled
// cores and moved loads.
type Means struct {
	Sizes []Conductor // thicker conductors, the thinnest first
	Local []Source    // a local supply's source in each state; none is one kind less
}

// Mend returns what Check does, and the smallest change of each kind that makes
// the bus work, in order of effort; none when it works already, or when nothing
// mends it. Every change was solved again.
//
// Cables are changed one after the other, each time the one that brings most,
// on the paths to the devices that fail; then those that turned out needless
// are left out again. A local supply goes to the weakest device or, failing
// that, nearer to the source, and feeds all behind it. A moved load is a single
// device, taken towards the source over the least length of cable; at its new
// place it needs what it needed at the old one.
//
// The search isn't exhaustive: what it returns mends the bus, but another choice
// of cables of the same kind may do with fewer. Source: Solver. It fails as
// Check does, and with a *units.OutOfRange for the means.
func (b Bus) Mend(means Means) (Report, []Change, error) {
	t, err := b.trial()
	if err != nil {
		return nil, nil, err
	}
	if err := means.check(len(b.States)); err != nil {
		return nil, nil, err
	}
	m := mender{trial: t, bus: b, before: t.report()}
	if m.before.Works() {
		return m.before, nil, nil
	}
	m.findPaths()
	var changes []Change
	for _, try := range []func(Means) (Change, bool){m.doubled, m.thicker, m.supplied, m.moved} {
		if c, ok := try(means); ok {
			changes = append(changes, c)
		}
	}
	return m.before, changes, nil
}

func (m Means) check(states int) error {
	if len(m.Local) > 0 {
		if err := units.Within("number of local sources", float64(len(m.Local)), "", float64(states), float64(states)); err != nil {
			return err
		}
	}
	for _, s := range m.Local {
		if err := s.check(); err != nil {
			return err
		}
	}
	for _, c := range m.Sizes {
		if _, err := c.OhmsPerMetre(20); err != nil {
			return err
		}
	}
	return nil
}

type mender struct {
	*trial
	bus    Bus
	before Report
	ends   []int // the points that fail, the weakest of the first failing state first
	paths  []int // all points on the way to them but point 0
}

func (m *mender) findPaths() {
	on := make([]bool, len(m.tree))
	for _, o := range m.before {
		if o.Works() {
			continue
		}
		m.ends = append(m.ends, o.Weakest)
		for i, v := range o.Volts {
			if v < m.least[i] {
				m.ends = append(m.ends, i)
			}
		}
		// Of a collapse only the worst point is known: all that draws takes part.
		for i := range m.tree {
			if o.Collapse != nil && m.draws(i) {
				m.ends = append(m.ends, i)
			}
		}
	}
	for _, i := range m.ends {
		for ; i > 0 && !on[i]; i = m.tree[i].Parent {
			on[i] = true
			m.paths = append(m.paths, i)
		}
	}
}

func (m *mender) draws(point int) bool {
	for _, s := range m.states {
		if s.Loads[point] != (Load{}) {
			return true
		}
	}
	return false
}

func (m *mender) doubled(Means) (Change, bool) {
	points, after, ok := m.strengthen(func(point int) (Run, bool) {
		r := m.bus.Points[point].Run
		r.Cores *= 2
		return r, r.Cores <= mostCores
	})
	return Change{Kind: DoubleCores, Points: points, After: after}, ok
}

// thicker keeps the number of cores. It takes the first size that does.
func (m *mender) thicker(means Means) (Change, bool) {
	for _, size := range means.Sizes {
		points, after, ok := m.strengthen(func(point int) (Run, bool) {
			r := m.bus.Points[point].Run
			r.Conductor = size
			return r, true
		})
		if ok {
			return Change{Kind: ThickerCable, Points: points, Size: size, After: after}, true
		}
	}
	return Change{}, false
}

// supplied tries the points that fail and then, one step nearer to the source
// each time, those on the way to them.
func (m *mender) supplied(means Means) (Change, bool) {
	if len(means.Local) == 0 {
		return Change{}, false
	}
	defer func() { m.local, m.locals = 0, nil }()
	m.locals = means.Local
	for near := slices.Clone(m.ends); len(near) > 0; {
		next := near[:0:0]
		for _, i := range near {
			if i == 0 {
				continue
			}
			m.local = i
			if after := m.report(); after.Works() {
				return Change{Kind: LocalSupply, Points: []int{i}, After: after}, true
			}
			if up := m.tree[i].Parent; !slices.Contains(next, up) {
				next = append(next, up)
			}
		}
		near = next
	}
	return Change{}, false
}

// moved takes each device that draws on the paths to the nearest point towards
// the source that mends the bus, and returns the shortest of these moves.
func (m *mender) moved(Means) (Change, bool) {
	best, shortest := Change{}, -1.0
	for _, from := range m.paths {
		if !m.draws(from) {
			continue
		}
		length := 0.0
		for to := from; to > 0; {
			length += m.bus.Points[to].Run.Length
			to = m.tree[to].Parent
			if shortest >= 0 && length >= shortest {
				break
			}
			if after, ok := m.move(from, to); ok {
				best, shortest = Change{Kind: MoveLoad, Points: []int{from}, To: to, After: after}, length
				break
			}
		}
	}
	return best, shortest >= 0
}

// move reports on the bus with a device moved, and puts it back. It is false
// when the bus doesn't work then.
func (m *mender) move(from, to int) (after Report, ok bool) {
	needed, there := m.least[from], m.least[to]
	m.least[from], m.least[to] = 0, max(needed, there)
	loads := make([][2]Load, len(m.states))
	ok = true
	for i, s := range m.states {
		a, b := &s.Loads[from], &s.Loads[to]
		loads[i] = [2]Load{*a, *b}
		*b = Load{Current: a.Current + b.Current, Power: a.Power + b.Power}
		*a = Load{}
		ok = ok && b.good() // two loads at the bound are one beyond it
	}
	if ok {
		after = m.report()
	}
	for i, s := range m.states {
		s.Loads[from], s.Loads[to] = loads[i][0], loads[i][1]
	}
	m.least[from], m.least[to] = needed, there
	return after, ok && after.Works()
}
