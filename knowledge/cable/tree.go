package cable

import (
	"fmt"

	"ferrule/knowledge/units"
)

// Load is what a device draws. Both may be 0: a joint draws nothing.
type Load struct {
	Current float64 // A whatever the voltage, as behind a linear regulator; 0 to 10000
	Power   float64 // W whatever the voltage, as behind a switching regulator; 0 to 1000000
}

// Node is a place on a bus: a device, a joint, or, as node 0, the terminals of
// the source.
type Node struct {
	Parent     int     // the node on the side of the source; less than the node's own number
	Resistance float64 // of the segment to the parent, out and back, ohm; 0 to 1e9
	Load
}

// Tree is a bus of any shape without rings: daisy chain, star, branches. Node 0
// stands for the source's terminals; its Parent and Resistance are 0.
// Parents come before their children, so that no bus can go round in a circle.
type Tree []Node

// Source feeds node 0 of a bus: the charger, or the battery at its lowest.
type Source struct {
	Voltage    float64 // V without load; 0.001 to 10000
	Resistance float64 // inside, ohm; 0 to 1e9
}

// NodeError says which node of a tree, or point of a bus, has a quantity for
// which there is no answer; errors.As finds the *units.OutOfRange in it.
type NodeError struct {
	Node int
	Err  error
}

func (e *NodeError) Error() string { return fmt.Sprintf("node %d: %v", e.Node, e.Err) }

// Unwrap gives the refused quantity.
func (e *NodeError) Unwrap() error { return e.Err }

// Collapse says that no voltages exist at which every load gets what it draws.
// Node is the one with the least voltage where the search ended.
type Collapse struct{ Node int }

func (e *Collapse) Error() string {
	return fmt.Sprintf("this bus cannot work: it collapses (worst at node %d)", e.Node)
}

// Segment returns the node without a load that hangs on a parent by this run.
// It fails with a *units.OutOfRange.
func (r Run) Segment(parent int) (Node, error) {
	ohms, err := r.Ohms()
	return Node{Parent: parent, Resistance: ohms}, err
}

func (s Source) check() error {
	if err := sourceVolts(s.Voltage); err != nil {
		return err
	}
	return units.Within("internal resistance of the source", s.Resistance, "ohm", 0, mostOhms)
}

// check tells a good tree from a bad one, and whether it has constant power.
func (t Tree) check() (power bool, err error) {
	if len(t) == 0 {
		return false, units.Above("number of nodes", 0, "", 0)
	}
	for i := range t {
		n := &t[i]
		if !n.good(i) {
			return false, &NodeError{Node: i, Err: n.problem(i)}
		}
		power = power || n.Power > 0
	}
	return power, nil
}

// good is problem in comparisons alone; it is on the path of every solution.
func (n *Node) good(i int) bool {
	return n.Parent >= 0 && n.Parent <= max(0, i-1) && n.Resistance >= 0 && n.Resistance <= mostOhms && (i > 0 || n.Resistance == 0) && n.Load.good()
}

func (l Load) good() bool {
	return l.Current >= 0 && l.Current <= mostCurrent && l.Power >= 0 && l.Power <= mostPower
}

func (n *Node) problem(i int) error {
	if err := parentOf(n.Parent, i); err != nil {
		return err
	}
	most := mostOhms
	if i == 0 {
		most = 0
	}
	if err := units.Within("resistance of the segment", n.Resistance, "ohm", 0, most); err != nil {
		return err
	}
	return n.Load.problem()
}

func (l Load) problem() error {
	if err := units.Within("current of the load", l.Current, "A", 0, mostCurrent); err != nil {
		return err
	}
	return units.Within("power of the load", l.Power, "W", 0, mostPower)
}

func parentOf(parent, i int) error {
	return units.Within("parent of the node", float64(parent), "", 0, float64(max(0, i-1)))
}
