package calc

import "ferrule/knowledge/cable"

func (b *bus) chart(report cable.Report) *Chart {
	c := &Chart{Title: "Voltage along the cable", X: Axis{"distance from the panel", "m"}, Y: Axis{"voltage", "V"}}
	for n, o := range report {
		if o.Volts == nil {
			continue
		}
		for _, line := range b.branches() {
			s := Series{Name: b.state(n)}
			if len(b.Points) > 2 {
				s.Name += ", to " + b.names[line[len(line)-1]]
			}
			for _, i := range line {
				s.X, s.Y = append(s.X, b.far[i]), append(s.Y, o.Volts[i])
			}
			c.Series = append(c.Series, s)
		}
	}
	if b.least > 0 {
		c.Limits = append(c.Limits, Limit{"least voltage of the device", b.least})
	}
	if len(b.Points) > 2 {
		for i := 1; i < len(b.Points); i++ {
			c.Marks = append(c.Marks, Mark{b.names[i], b.far[i]})
		}
	}
	return c
}

// branches lists the way from the panel to each end.
func (b *bus) branches() [][]int {
	ends := make([]bool, len(b.Points))
	for i := range ends {
		ends[i] = true
	}
	for i := 1; i < len(b.Points); i++ {
		ends[b.Points[i].Parent] = false
	}
	var out [][]int
	for i := range ends {
		if !ends[i] {
			continue
		}
		line := []int{}
		for at := i; ; at = b.Points[at].Parent {
			line = append([]int{at}, line...)
			if at == 0 {
				break
			}
		}
		out = append(out, line)
	}
	return out
}
