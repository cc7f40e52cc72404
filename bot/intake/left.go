package intake

// mostLeft bounds the list of what was not understood.
const mostLeft = 32

// leftOver lists the words that nothing was made of, neighbours together.
func (s *scan) leftOver() {
	open := false
	for i := range s.tokens {
		t := &s.tokens[i]
		if t.kind == mark {
			continue
		}
		if s.taken[i] || s.roleOf(i).has(filler) {
			open = false
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
