package plan

// Problem is what is known about one fault and what can be done about it.
// Minutes are at most 1e9 each. Plan and After only read it.
type Problem struct {
	Causes   []Cause   // at most 64; the probabilities sum to 1
	Tests    []Test    // at most 64
	HandOver float64   // minutes until it is somebody else's; +Inf: not possible
	Walk     float64   // minutes to another place
	Place    int       // where one stands; 0: at none of the places
	Setups   []float64 // minutes of each set-up, paid once; at most 16
	Ready    uint16    // set-ups that are done, by bit
}

// Cause is one possible fault with its repair.
type Cause struct {
	P      float64
	Repair float64 // minutes; +Inf: there is none, or it was tried
	Mends  float64 // chance that the repair mends this cause
	At     Spot
}

// Test is one measurement.
type Test struct {
	Minutes float64     // +Inf: can't be done, or was done
	Given   [][]float64 // P(outcome | cause) by cause, then outcome; rows sum to 1
	At      Spot
}

// Spot is where an action happens and what it needs.
type Spot struct {
	Place  int    // 0: anywhere
	Setups uint16 // bit k: Problem.Setups[k] has to be done
}

// Kind is a kind of action.
type Kind uint8

// The kinds, in the order in which ties are decided.
const (
	Nothing Kind = iota // the case has ended
	DoRepair
	DoTest
	DoHandOver
)

// Action is one thing to do: the repair of cause Index, or test Index.
type Action struct {
	Kind  Kind
	Index int
}

// Option is an action with the expected minutes until the end when it is done
// first and the best known afterwards.
type Option struct {
	Action
	Minutes float64
}

// Plan is what was found.
type Plan struct {
	// Options holds every action that can serve, best first: repairs that may
	// mend something, tests, handing over. It is never empty: where nothing
	// can serve it holds Nothing.
	Options []Option
	// Then is what the plan would do next, by outcome, when the first option
	// is a test. Nothing stands where the case has ended, and where an outcome
	// can't happen.
	Then  []Action
	Nodes int // positions valued
	Depth int // the longest chain of actions looked at
	// Exact tells that the minutes of the first option are the least possible
	// ones (to 1e-10 of them).
	Exact bool
}

// After returns the problem that remains when the action was done and the
// fault is still there: after outcome of a test, or after a repair that
// failed. Indexes stay; what was done has +Inf minutes. An outcome that the
// model holds impossible teaches nothing: the probabilities stay. Any other
// action, and an index or outcome that isn't there, leaves the problem as it is.
//
// SOURCE: Bayes' rule.
func (p *Problem) After(a Action, outcome int) Problem {
	q := *p
	switch {
	case a.Kind == DoRepair && a.Index >= 0 && a.Index < len(p.Causes):
		q.Causes = append([]Cause(nil), p.Causes...)
		c := &q.Causes[a.Index]
		q.stand(c.At)
		c.P *= 1 - c.Mends
		c.Repair = inf
		if !q.normalise() {
			c.P = p.Causes[a.Index].P
		}
	case a.Kind == DoTest && a.Index >= 0 && a.Index < len(p.Tests):
		t := p.Tests[a.Index]
		if !t.has(outcome, len(p.Causes)) {
			break
		}
		q.Causes = append([]Cause(nil), p.Causes...)
		q.Tests = append([]Test(nil), p.Tests...)
		q.Tests[a.Index].Minutes = inf
		q.stand(t.At)
		q.learn(t, outcome)
	}
	return q
}

func (t *Test) has(outcome, causes int) bool {
	if outcome < 0 || len(t.Given) != causes {
		return false
	}
	for _, row := range t.Given {
		if outcome >= len(row) {
			return false
		}
	}
	return true
}

// stand moves to where an action happens and does its set-ups.
func (p *Problem) stand(at Spot) {
	if at.Place != 0 {
		p.Place = at.Place
	}
	p.Ready |= at.Setups
}

// learn applies Bayes' rule. Both factors are scaled by their greatest first,
// so that products of very small ones don't vanish.
func (p *Problem) learn(t Test, outcome int) {
	topP, topL := 0.0, 0.0
	for i := range p.Causes {
		if l := t.Given[i][outcome]; l > 0 && p.Causes[i].P > 0 {
			topP, topL = max(topP, p.Causes[i].P), max(topL, l)
		}
	}
	if topP == 0 {
		return
	}
	before := append([]Cause(nil), p.Causes...)
	for i := range p.Causes {
		if l := t.Given[i][outcome]; l > 0 {
			p.Causes[i].P = p.Causes[i].P / topP * (l / topL)
		} else {
			p.Causes[i].P = 0
		}
	}
	if !p.normalise() {
		copy(p.Causes, before)
	}
}

// normalise makes the probabilities sum to 1; it tells whether they can.
func (p *Problem) normalise() bool {
	top, sum := 0.0, 0.0
	for i := range p.Causes {
		top = max(top, p.Causes[i].P)
	}
	if !(top > 0) {
		return false
	}
	for i := range p.Causes {
		p.Causes[i].P /= top
		sum += p.Causes[i].P
	}
	for i := range p.Causes {
		p.Causes[i].P /= sum
	}
	return true
}
