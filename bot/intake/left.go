package intake

import (
	"slices"
	"strconv"
)

// mostLeft bounds the list of what was not understood.
const mostLeft = 32

// leastLog is how many lines make a pasted log.
const leastLog = 8

// passedOver counts the lines of a log from which nothing was taken.
func (s *scan) passedOver() int {
	lines, used := s.lines(), 0
	if lines < leastLog {
		return 0
	}
	places := make([]bool, len(s.text)+1)
	for _, g := range s.out.Readings {
		places[g.Start] = true
	}
	for _, x := range s.out.Symptoms {
		places[x.Start] = true
	}
	hit := false
	for i := range s.tokens {
		if s.tokens[i].line && i > 0 {
			used += one(hit)
			hit = false
		}
		hit = hit || places[s.tokens[i].start]
	}
	return lines - used - one(hit)
}

func (s *scan) lines() int {
	lines := 1
	for i := range s.tokens {
		if s.tokens[i].line && i > 0 {
			lines++
		}
	}
	return lines
}

// mostAlike is of how many things a log may say the same and still mean
// something: what it says of every zone is its routine.
const mostAlike = 4

// dropRoutine drops from a log what it says of many things alike.
func (s *scan) dropRoutine() {
	if s.lines() < leastLog {
		return
	}
	alike := map[string]int{}
	key := func(g Given) string {
		return g.Reading + "=" + g.Value.Text + strconv.FormatFloat(g.Value.Low, 'g', -1, 64)
	}
	for _, g := range s.out.Readings {
		alike[key(g)]++
	}
	s.out.Readings = slices.DeleteFunc(s.out.Readings, func(g Given) bool { return alike[key(g)] > mostAlike })
}

func one(b bool) int {
	if b {
		return 1
	}
	return 0
}

// leftOver lists the words that nothing was made of, neighbours together.
func (s *scan) leftOver() {
	open := false
	for i := range s.tokens {
		t := &s.tokens[i]
		if t.kind == mark {
			continue
		}
		if s.taken[i] || s.roleOf(i).has(filler) || t.kind == number && s.partOfMore(i) {
			open = false // a clock time or a date says nothing by itself
			continue
		}
		if open && !t.line {
			s.out.Left[len(s.out.Left)-1].End = t.end
			continue
		}
		if len(s.out.Left) == mostLeft {
			return
		}
		s.out.Left = append(s.out.Left, Span{t.start, t.end})
		open = true
	}
}
