package radio

import (
	"cmp"
	"strconv"

	"ferrule/knowledge/units"
)

// Point is a level in dBm and what an equipment model displays for it.
type Point struct{ DBm, Percent float64 }

// Scale is how one equipment model turns a level into its own percent: straight
// between points, standing still beyond the first and the last. Models differ, so a
// percent says nothing without its scale. The zero Scale has no points and answers
// nothing.
type Scale struct{ points []Point }

// Interval is a range of levels in dBm, or of percents, with ends that may be open:
// a display at its end shows 'that or beyond'.
type Interval struct {
	Low, High      float64
	OrLess, OrMore bool // it may also be below Low, above High
}

// NewScale makes a scale from points with rising level and rising percent, at least
// two.
//
// Errors: *units.OutOfRange for fewer points, a level outside -200 to 100 dBm, a
// percent outside 0 to 100, or a level or percent that is not above the one of the
// point before.
//
// Source: the points are the equipment model's own; no standard defines a percent.
func NewScale(points ...Point) (*Scale, error) {
	if err := inPoints(len(points)); err != nil {
		return nil, err
	}
	for i, p := range points {
		level, percent := "level of point "+strconv.Itoa(i+1), "percent of point "+strconv.Itoa(i+1)
		if err := cmp.Or(units.Within(level, p.DBm, "dBm", -200, 100), units.Within(percent, p.Percent, "%", 0, 100)); err != nil {
			return nil, err
		}
		if i == 0 {
			continue
		}
		last := points[i-1]
		if err := cmp.Or(units.Above(level, p.DBm, "dBm", last.DBm), units.Above(percent, p.Percent, "%", last.Percent)); err != nil {
			return nil, err
		}
	}
	return &Scale{points: append([]Point(nil), points...)}, nil
}

func inPoints(n int) error {
	return units.Within("number of points of the scale", float64(n), "", 2, 1000)
}

// Percent returns what the model displays for a level in dBm, with no rounding.
//
// Errors: *units.OutOfRange for a level outside -1e5 to 1e5 dBm, or a scale without
// points.
func (s *Scale) Percent(dBm float64) (float64, error) {
	if err := s.check(dBm); err != nil {
		return 0, err
	}
	return s.percent(dBm), nil
}

func (s *Scale) check(dBm float64) error {
	if s == nil {
		return inPoints(0)
	}
	return cmp.Or(inPoints(len(s.points)), units.Within("level", dBm, "dBm", -1e5, 1e5))
}

func (s *Scale) percent(dBm float64) float64 {
	bottom, top := s.points[0], s.points[len(s.points)-1]
	switch {
	case dBm <= bottom.DBm:
		return bottom.Percent
	case dBm >= top.DBm:
		return top.Percent
	}
	i := 1
	for s.points[i].DBm < dBm {
		i++
	}
	a, b := s.points[i-1], s.points[i]
	return between(dBm, a.DBm, b.DBm, a.Percent, b.Percent)
}

// between stays between y0 and y1, which a rounding could pass.
func between(x, x0, x1, y0, y1 float64) float64 {
	return min(y1, max(y0, y0+(x-x0)/(x1-x0)*(y1-y0)))
}

// Percents returns what the model displays for levels from low to high in dBm. An
// end that reaches the display's end is open.
//
// Errors: as Percent, and *units.OutOfRange when high is below low.
func (s *Scale) Percents(low, high float64) (Interval, error) {
	if err := cmp.Or(s.check(low), units.Within("upper level", high, "dBm", low, 1e5)); err != nil {
		return Interval{}, err
	}
	return Interval{
		Low: s.percent(low), High: s.percent(high),
		OrLess: low <= s.points[0].DBm, OrMore: high >= s.points[len(s.points)-1].DBm,
	}, nil
}

// Level returns the level in dBm behind a displayed percent, as an interval of one
// value; at an end of the display the true level may lie beyond.
//
// Errors: *units.OutOfRange for a percent that the scale cannot display, or a scale
// without points.
func (s *Scale) Level(percent float64) (Interval, error) {
	if err := s.check(0); err != nil {
		return Interval{}, err
	}
	bottom, top := s.points[0], s.points[len(s.points)-1]
	if err := units.Within("percent", percent, "%", bottom.Percent, top.Percent); err != nil {
		return Interval{}, err
	}
	i := 1
	for s.points[i].Percent < percent {
		i++
	}
	a, b := s.points[i-1], s.points[i]
	x := between(percent, a.Percent, b.Percent, a.DBm, b.DBm)
	return Interval{Low: x, High: x, OrLess: percent == bottom.Percent, OrMore: percent == top.Percent}, nil
}
