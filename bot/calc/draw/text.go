// Package draw draws the charts of calculations: as text for a terminal, and
// as SVG or PNG files.
package draw

import (
	"fmt"
	"math"
	"strings"

	"github.com/guptarohit/asciigraph"

	"ferrule/bot/calc"
)

// The size of a text chart that is told no width.
const (
	textWidth  = 60
	textHeight = 12
)

// Text draws a chart in characters, with what the lines, limits and marks are
// in words below it.
func Text(c *calc.Chart, width int) string {
	if width <= 0 || width > textWidth {
		width = textWidth
	}
	low, high := ends(c)
	var lines [][]float64
	var names []string
	for _, s := range c.Series {
		lines, names = append(lines, even(s.X, s.Y, low, high, width)), append(names, s.Name)
		if s.Low != nil {
			lines, names = append(lines, even(s.X, s.Low, low, high, width)), append(names, s.Name+", at worst")
		}
	}
	for _, l := range c.Limits {
		lines, names = append(lines, level(l.Y, width)), append(names, l.Name)
	}
	sets := []asciigraph.CharSet{asciigraph.DefaultCharSet}
	for i := range lines[1:] {
		sets = append(sets, asciigraph.CreateCharSet(string(signs[i%len(signs)])))
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%s (%s)\n", c.Title, axis(c.Y))
	b.WriteString(asciigraph.PlotMany(lines, asciigraph.Height(textHeight), asciigraph.Width(width), asciigraph.SeriesChars(sets...),
		asciigraph.XAxisRange(low, high), asciigraph.XAxisTickCount(5), asciigraph.XAxisValueFormatter(tick), asciigraph.YAxisValueFormatter(tick)))
	fmt.Fprintf(&b, "\n%s\n", axis(c.X))
	for i, name := range names {
		sign := "─"
		if i > 0 {
			sign = string(signs[(i-1)%len(signs)])
		}
		fmt.Fprintf(&b, "%s  %s\n", sign, name)
	}
	for _, m := range c.Marks {
		fmt.Fprintf(&b, "|  %s: %s\n", m.Name, calc.Show(m.X, c.X.Unit))
	}
	for _, p := range c.Points {
		fmt.Fprintf(&b, "x  %s: %s at %s\n", p.Name, calc.Show(p.Y, c.Y.Unit), calc.Show(p.X, c.X.Unit))
	}
	return strings.TrimRight(b.String(), "\n")
}

// signs draw the second line and those behind it.
var signs = []rune{'.', '=', '~', '+', ':'}

func axis(a calc.Axis) string {
	if a.Unit == "" {
		return a.Name
	}
	return a.Name + " in " + a.Unit
}

func tick(x float64) string { return calc.Show(x, "") }

func level(y float64, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = y
	}
	return out
}

// even samples a line at n places that are equally far apart; beyond its ends
// it is not drawn.
func even(x, y []float64, low, high float64, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = at(x, y, low+(high-low)*float64(i)/float64(n-1))
	}
	return out
}

// at is the height of a line at a place, between its points in proportion.
func at(x, y []float64, place float64) float64 {
	const near = 1e-9
	for i := 1; i < len(x); i++ {
		if place >= x[i-1]-near && place <= x[i]+near {
			if x[i] == x[i-1] {
				return y[i]
			}
			return y[i-1] + (y[i]-y[i-1])*(place-x[i-1])/(x[i]-x[i-1])
		}
	}
	return math.NaN()
}

// ends is how far the x axis reaches.
func ends(c *calc.Chart) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, s := range c.Series {
		for _, x := range s.X {
			low, high = min(low, x), max(high, x)
		}
	}
	return low, high
}
