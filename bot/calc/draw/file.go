package draw

import (
	"bytes"
	"errors"
	"fmt"
	"image/color"
	"math"
	"os"
	"path/filepath"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"ferrule/bot/calc"
)

// ErrFormat says that a format is none of svg and png.
var ErrFormat = errors.New("a chart is drawn as svg or png")

// The size of a drawn chart, for a phone held upright and a page alike.
const (
	fileWidth  = 16 * vg.Centimeter
	fileHeight = 10 * vg.Centimeter
)

// Colours that can be told apart with the common kinds of colour blindness;
// dashes and names tell the lines apart without any.
var inks = []color.Color{
	color.RGBA{0x00, 0x72, 0xb2, 0xff}, color.RGBA{0xd5, 0x5e, 0x00, 0xff}, color.RGBA{0x00, 0x9e, 0x73, 0xff}, color.RGBA{0xcc, 0x79, 0xa7, 0xff},
}

var (
	grey  = color.Gray{0x80}
	shade = color.RGBA{0xd0, 0xe4, 0xf2, 0xff}
)

// Bytes draws a chart as a file of a format, svg or png. The error is
// ErrFormat, or that of the drawing.
func Bytes(c *calc.Chart, format string) ([]byte, error) {
	if format != "svg" && format != "png" {
		return nil, fmt.Errorf("%q: %w", format, ErrFormat)
	}
	p, err := paint(c)
	if err != nil {
		return nil, fmt.Errorf("drawing the chart: %w", err)
	}
	to, err := p.WriterTo(fileWidth, fileHeight, format)
	if err != nil {
		return nil, fmt.Errorf("drawing the chart: %w", err)
	}
	var b bytes.Buffer
	if _, err := to.WriteTo(&b); err != nil {
		return nil, fmt.Errorf("drawing the chart: %w", err)
	}
	return b.Bytes(), nil
}

// File writes a chart to a file, whole or not at all.
func File(c *calc.Chart, path, format string) error {
	data, err := Bytes(c, format)
	if err != nil {
		return err
	}
	beside, err := os.CreateTemp(filepath.Dir(path), ".chart-*")
	if err != nil {
		return fmt.Errorf("writing the chart: %w", err)
	}
	_, err = beside.Write(data)
	err = errors.Join(err, beside.Chmod(0o644), beside.Close())
	if err == nil {
		err = os.Rename(beside.Name(), path)
	}
	if err != nil {
		return fmt.Errorf("writing the chart: %w", errors.Join(err, os.Remove(beside.Name())))
	}
	return nil
}

func paint(c *calc.Chart) (*plot.Plot, error) {
	p := plot.New()
	p.Title.Text = c.Title
	p.X.Label.Text, p.Y.Label.Text = axis(c.X), axis(c.Y)
	p.Title.Padding = vg.Points(6)
	for _, f := range []*font.Font{&p.Title.TextStyle.Font, &p.X.Label.TextStyle.Font, &p.Y.Label.TextStyle.Font, &p.X.Tick.Label.Font, &p.Y.Tick.Label.Font, &p.Legend.TextStyle.Font} {
		f.Variant = "Sans"
	}
	p.Legend.Top = true
	p.Add(plotter.NewGrid())
	for i, s := range c.Series {
		if err := addSeries(p, s, inks[i%len(inks)]); err != nil {
			return nil, err
		}
	}
	low, high := ends(c)
	for i, l := range c.Limits {
		line, err := plotter.NewLine(plotter.XYs{{X: low, Y: l.Y}, {X: high, Y: l.Y}})
		if err != nil {
			return nil, err
		}
		line.Color = inks[(i+1)%len(inks)]
		line.Dashes = []vg.Length{vg.Points(6), vg.Points(3)}
		line.Width = vg.Points(1.5)
		p.Add(line)
		p.Legend.Add(l.Name, line)
	}
	if err := addMarks(p, c.Marks); err != nil {
		return nil, err
	}
	return p, addPoints(p, c)
}

func addSeries(p *plot.Plot, s calc.Series, ink color.Color) error {
	if s.Low != nil {
		var around plotter.XYs
		for i := range s.X {
			around = append(around, plotter.XY{X: s.X[i], Y: s.High[i]})
		}
		for i := len(s.X) - 1; i >= 0; i-- {
			around = append(around, plotter.XY{X: s.X[i], Y: s.Low[i]})
		}
		band, err := plotter.NewPolygon(around)
		if err != nil {
			return err
		}
		band.Color, band.LineStyle.Width = shade, 0
		p.Add(band)
	}
	points := make(plotter.XYs, len(s.X))
	for i := range s.X {
		points[i] = plotter.XY{X: s.X[i], Y: s.Y[i]}
	}
	line, err := plotter.NewLine(points)
	if err != nil {
		return err
	}
	line.Color, line.Width = ink, vg.Points(2)
	p.Add(line)
	p.Legend.Add(s.Name, line)
	return nil
}

// addMarks draws a thin upright line for each place, with its name along it.
func addMarks(p *plot.Plot, marks []calc.Mark) error {
	for _, m := range marks {
		line, err := plotter.NewLine(plotter.XYs{{X: m.X, Y: p.Y.Min}, {X: m.X, Y: p.Y.Max}})
		if err != nil {
			return err
		}
		line.Color, line.Width = grey, vg.Points(1)
		label, err := plotter.NewLabels(plotter.XYLabels{XYs: plotter.XYs{{X: m.X, Y: p.Y.Min}}, Labels: []string{m.Name}})
		if err != nil {
			return err
		}
		label.TextStyle[0].Rotation = math.Pi / 2
		label.TextStyle[0].Font.Variant = "Sans"
		label.Offset = vg.Point{X: vg.Points(-3), Y: vg.Points(4)}
		p.Add(line, label)
	}
	return nil
}

func addPoints(p *plot.Plot, c *calc.Chart) error {
	for _, m := range c.Points {
		dot, err := plotter.NewScatter(plotter.XYs{{X: m.X, Y: m.Y}})
		if err != nil {
			return err
		}
		dot.Shape, dot.Radius, dot.Color = draw.CrossGlyph{}, vg.Points(5), color.Black
		p.Add(dot)
		p.Legend.Add(m.Name, dot)
	}
	return nil
}
