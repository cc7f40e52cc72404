package cable

import (
	"math"

	"ferrule/knowledge/units"
)

// Point is a place on a bus with the cable that leads to it.
type Point struct {
	Parent int     // the point on the side of the source; less than the point's own number
	Run    Run     // the cable to the parent; of point 0, the source's terminals, it isn't used
	Least  float64 // least voltage in V at which the device here works; 0 for a joint
}

// State is a state of the source with what each point draws in it. What happens
// on mains is one, on the battery at its lowest with the alarm on another.
type State struct {
	Source Source
	Loads  []Load // by point
}

// Bus is a bus as it is wired and used. A bus works when each device has its
// least voltage in each state; usually there are two, the charger's voltage with
// standby loads, and the lowest battery voltage with alarm loads.
type Bus struct {
	Points []Point
	States []State
}

// Outcome is what a state does to a bus.
type Outcome struct {
	Volts    []float64 // by point; nil when the bus collapses
	Collapse *Collapse // nil when it doesn't
	Weakest  int       // the device with the least margin, or the worst point of a collapse
	Margin   float64   // in V over its least voltage; of a collapse, the whole of it is missing
}

// Works says whether each device has its least voltage.
func (o Outcome) Works() bool { return o.Collapse == nil && o.Margin >= 0 }

// Report is what its states do to a bus, in their order.
type Report []Outcome

// Works says whether each device has its least voltage in each state.
func (r Report) Works() bool {
	for i := range r {
		if !r[i].Works() {
			return false
		}
	}
	return true
}

// Check returns the voltages of each state and the weakest device, the first to
// fall below its least voltage: with constant currents all voltages sink by as
// much as the source's does, so that the device with the least margin is the
// first to go. Where no point names a least voltage the lowest one counts. Source:
// Solver. It fails with a *NodeError or a *units.OutOfRange.
func (b Bus) Check() (Report, error) {
	t, err := b.trial()
	if err != nil {
		return nil, err
	}
	return t.report(), nil
}

// LeastSource returns the voltage in V to which the source of a state may sink,
// to within 0.001 V upward, and the device that then is the first to fall below
// its least voltage. Up to 10000 V are tried; it fails with a *Collapse when they
// aren't enough, else as Check does. Source: Solver and bisection.
func (b Bus) LeastSource(state int) (volts float64, first int, err error) {
	t, err := b.trial()
	if err != nil {
		return 0, 0, err
	}
	if err := units.Within("number of the state", float64(state), "", 0, float64(len(b.States)-1)); err != nil {
		return 0, 0, err
	}
	low, high := leastVolts, mostVolts
	at := func(v float64) Outcome {
		source := b.States[state].Source
		source.Voltage = v
		return t.outcome(source, b.States[state].Loads)
	}
	if o := at(high); !o.Works() {
		return 0, 0, &Collapse{Node: o.Weakest}
	}
	for high-low > 0.001 {
		if mid := (low + high) / 2; at(mid).Works() {
			high = mid
		} else {
			low = mid
		}
	}
	return high, at(high).Weakest, nil
}

// trial is a bus in numbers, with the changes that are tried on it. Its methods
// take a checked bus and can only find that it collapses.
type trial struct {
	tree   Tree
	least  []float64
	states []State
	local  int      // the point that has a supply of its own, 0 for none
	locals []Source // its source in each state
	solver Solver
}

// trial checks the bus. The loads are copied, since a change may move them.
func (b Bus) trial() (*trial, error) {
	if err := units.Above("number of points", float64(len(b.Points)), "", 0); err != nil {
		return nil, err
	}
	if err := units.Above("number of states", float64(len(b.States)), "", 0); err != nil {
		return nil, err
	}
	t := &trial{tree: make(Tree, len(b.Points)), least: make([]float64, len(b.Points))}
	for i, p := range b.Points {
		n, err := p.node(i)
		if err != nil {
			return nil, &NodeError{Node: i, Err: err}
		}
		t.tree[i], t.least[i] = n, p.Least
	}
	for _, s := range b.States {
		if err := s.check(len(b.Points)); err != nil {
			return nil, err
		}
		t.states = append(t.states, State{Source: s.Source, Loads: append([]Load(nil), s.Loads...)})
	}
	return t, nil
}

func (p Point) node(i int) (Node, error) {
	if err := parentOf(p.Parent, i); err != nil {
		return Node{}, err
	}
	if err := units.Within("least voltage of the device", p.Least, "V", 0, mostVolts); err != nil {
		return Node{}, err
	}
	if i == 0 {
		return Node{}, nil
	}
	return p.Run.Segment(p.Parent)
}

func (s State) check(points int) error {
	if err := s.Source.check(); err != nil {
		return err
	}
	if err := units.Within("number of loads", float64(len(s.Loads)), "", float64(points), float64(points)); err != nil {
		return err
	}
	for i, l := range s.Loads {
		if err := l.problem(); err != nil {
			return &NodeError{Node: i, Err: err}
		}
	}
	return nil
}

func (t *trial) report() Report {
	r := make(Report, len(t.states))
	for i, s := range t.states {
		if t.local > 0 {
			r[i] = t.split(s, t.locals[i])
		} else {
			r[i] = t.outcome(s.Source, s.Loads)
		}
	}
	return r
}

func (t *trial) outcome(source Source, loads []Load) Outcome {
	for i := range t.tree {
		t.tree[i].Load = loads[i]
	}
	volts, err := t.solver.Solve(nil, t.tree, source)
	return t.judge(volts, err)
}

// judge takes voltages, or the collapse that Solve fails with.
func (t *trial) judge(volts []float64, err error) Outcome {
	if c, ok := err.(*Collapse); ok {
		return Outcome{Collapse: c, Weakest: c.Node, Margin: -t.least[c.Node]}
	}
	o := Outcome{Volts: volts, Margin: math.Inf(1)}
	devices := t.devices()
	for i, v := range volts {
		if margin := v - t.least[i]; margin < o.Margin && (t.least[i] > 0 || !devices) {
			o.Weakest, o.Margin = i, margin
		}
	}
	return o
}

// devices says whether any point names a least voltage.
func (t *trial) devices() bool {
	for _, v := range t.least {
		if v > 0 {
			return true
		}
	}
	return false
}

// split solves the bus with the feed to the local point cut and a source of its
// own there, which feeds that point and all behind it.
func (t *trial) split(s State, local Source) Outcome {
	here := make([]int, len(t.tree)) // number behind the cut, from 1
	near, far := make(Tree, len(t.tree)), Tree{}
	for i, n := range t.tree {
		near[i] = n
		if i != t.local && here[n.Parent] == 0 {
			near[i].Load = s.Loads[i]
			continue
		}
		near[i].Load, n.Load = Load{}, s.Loads[i]
		n.Parent = max(0, here[n.Parent]-1)
		if i == t.local {
			n.Resistance = 0
		}
		far = append(far, n)
		here[i] = len(far)
	}
	volts, err := t.solver.Solve(nil, near, s.Source)
	behind, farErr := t.solver.Solve(nil, far, local)
	if c, ok := farErr.(*Collapse); ok && err == nil {
		for i, h := range here {
			if h == c.Node+1 {
				err = &Collapse{Node: i}
			}
		}
	}
	if err == nil {
		for i, h := range here {
			if h > 0 {
				volts[i] = behind[h-1]
			}
		}
	}
	return t.judge(volts, err)
}
