package diagnosis

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	lru "github.com/hashicorp/golang-lru/v2"

	"ferrule/rules/diagnosis/plan"
)

// mostRemembered is how many cases the next step is remembered for: a good
// deal more than are under way at once.
const mostRemembered = 4096

// remembered is the step of a case, and how far was looked for it.
type remembered struct {
	step      Step
	positions int
}

// memory holds steps that were planned before. Cases begin alike, and planning
// is by far the longest part of an answer.
type memory struct {
	steps *lru.Cache[string, remembered]
}

func newMemory() memory {
	steps, err := lru.New[string, remembered](mostRemembered)
	if err != nil {
		panic(fmt.Sprintf("a cache of %d steps: %v", mostRemembered, err)) // unreachable: only a size below 1 is refused
	}
	return memory{steps}
}

// Next chooses the next step. A blocker that holds is mended first, and one that
// the technician has begun to tell of is decided first; for the rest the planner
// weighs up what leads to the fewest minutes. With a measurement goes what else
// is worth reading at the same place.
//
// The assessment is that of the input. The step of a case that was planned
// before at least as thoroughly, or at all while others wait, is taken from
// memory; it is shared and must not be changed.
func (m *Model) Next(in Input, a *Assessment) (Step, error) {
	positions := in.positions()
	key := in.key()
	// Whoever makes others wait is content with what is there.
	if known, ok := m.memory.steps.Get(key); ok && (known.positions >= positions || in.Waiting > 0) {
		return known.step, nil
	}
	s, err := m.plan(in, a, positions)
	if err == nil {
		m.memory.steps.Add(key, remembered{s, positions})
	}
	return s, err
}

// positions is how many positions the planner may look at.
func (in Input) positions() int { return max(1, plan.Budget/(1+in.Waiting)) }

// key is the same for inputs that lead to the same step.
func (in Input) key() string {
	var b strings.Builder
	part := func(ss ...string) {
		for _, s := range ss {
			b.WriteString(strconv.Quote(s))
		}
		b.WriteByte('\n')
	}
	part(in.Symptoms...)
	part(in.Equipment, string(in.Place), strconv.FormatBool(in.OnTest))
	part(in.Failed...)
	part(in.Beyond...)
	for _, place := range in.Opened {
		part(string(place))
	}
	part("asked")
	for _, name := range sortedKeys(in.Asked) {
		part(name, strconv.Itoa(in.Asked[name]))
	}
	part("focus")
	for _, class := range sortedKeys(in.Focus) {
		part(string(class), strconv.Itoa(in.Focus[class]))
	}
	part("observed")
	if in.Observed != nil {
		in.Observed.WriteKey(&b)
	}
	return b.String()
}

func sortedKeys[K ~string, V any](m map[K]V) []K {
	keys := make([]K, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}
