package cable

import "slices"

// better is a cable that could take the place of one that is there.
type better struct {
	point int
	ohms  float64 // with it
	saved float64 // volts it is worth while the bus collapses, roughly
}

// strengthen replaces cables on the paths, each time the one that brings most,
// until the bus works; then it leaves out those that it works without. The bus
// is as before when it returns. It is false when all of them together don't
// mend the bus.
func (m *mender) strengthen(replace func(point int) (Run, bool)) ([]int, Report, bool) {
	kept := slices.Clone(m.tree)
	defer func() { copy(m.tree, kept) }()
	open := m.candidates(replace)
	var used []int
	after := m.before
	for !after.Works() {
		if len(open) == 0 {
			return nil, nil, false
		}
		best := m.best(open, &after)
		m.tree[open[best].point].Resistance = open[best].ohms
		used = append(used, open[best].point)
		open = slices.Delete(open, best, best+1)
	}
	for i := 0; i < len(used) && len(used) > 1; {
		n := &m.tree[used[i]]
		ohms := n.Resistance
		n.Resistance = kept[used[i]].Resistance
		if without := m.report(); without.Works() {
			after, used = without, slices.Delete(used, i, i+1)
			continue
		}
		n.Resistance = ohms
		i++
	}
	slices.Sort(used)
	return used, after, true
}

// candidates lists the cables that are worse than what would replace them.
func (m *mender) candidates(replace func(point int) (Run, bool)) []better {
	demand := m.demand()
	var open []better
	for _, i := range m.paths {
		r, ok := replace(i)
		if !ok {
			continue
		}
		// The bus was checked and the sizes were; a refused run is no candidate.
		if ohms, err := r.Ohms(); err == nil && ohms < m.tree[i].Resistance {
			open = append(open, better{point: i, ohms: ohms, saved: (m.tree[i].Resistance - ohms) * demand[i]})
		}
	}
	return open
}

// demand is the current in A through the cable of each point in the most
// demanding state, were there no drop at all.
func (m *mender) demand() []float64 {
	most := make([]float64, len(m.tree))
	for _, s := range m.states {
		drawn := make([]float64, len(m.tree))
		for i := len(m.tree) - 1; i >= 0; i-- {
			drawn[i] += s.Loads[i].Current + s.Loads[i].Power/s.Source.Voltage
			most[i] = max(most[i], drawn[i])
			if i > 0 {
				drawn[m.tree[i].Parent] += drawn[i]
			}
		}
	}
	return most
}

// best returns which of the cables brings most, and what the bus does with it.
func (m *mender) best(open []better, after *Report) int {
	best, score := -1, [3]float64{}
	for k, c := range open {
		n := &m.tree[c.point]
		ohms := n.Resistance
		n.Resistance = c.ohms
		r := m.report()
		n.Resistance = ohms
		if s := r.score(c.saved); best < 0 || slices.Compare(s[:], score[:]) > 0 {
			best, score, *after = k, s, r
		}
	}
	return best
}

// score is the greater the better: states that don't collapse, then, with a
// collapse, what the cable saves, else the least margin.
func (r Report) score(saved float64) [3]float64 {
	stands, margin := 0.0, r[0].Margin
	for _, o := range r {
		if o.Collapse == nil {
			stands++
		}
		margin = min(margin, o.Margin)
	}
	if stands < float64(len(r)) {
		return [3]float64{stands, saved}
	}
	return [3]float64{stands, margin, saved}
}
