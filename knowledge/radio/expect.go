package radio

import (
	"cmp"
	"math"

	"ferrule/knowledge/units"
)

// DefaultSigma is the spread in dB that a path has where its Path gives none: 95 % of
// levels lie within 9.8, say 10 dB, of what is expected. Our setting, no source; it is
// what can honestly be said indoors.
const DefaultSigma = 5

// spread is the z of a two-sided interval of 95 %.
const spread = 1.959963984540054

// Obstacle is something on a path that weakens the wave.
type Obstacle struct {
	Name string
	Loss float64 // dB, 0 to 1000; from MultiWall's classes, Slab, Stack or a measurement
}

// Path is a radio path with what stands on it and what sends along it. Zero
// heights, floors, losses and gain mean that there is nothing of the kind.
type Path struct {
	Hz, Metres float64
	// Heights of both aerials over level ground, in metres, for an open area; both 0
	// indoors.
	SendHeight, ReceiveHeight float64
	Obstacles                 []Obstacle
	Floors                    int
	FloorLoss                 float64 // dB of the first floor; 0: Floor

	ERP    float64 // dBm, effective radiated power
	Losses float64 // dB of aerials and installation at both ends
	Gain   float64 // dBi of the receiving aerial
	Sigma  float64 // dB, the spread of levels; 0: DefaultSigma
	Scale  *Scale  // the receiver's display; nil: none
}

// Expected is the level that should arrive. Of 100 installations like the path 95
// should have a level from Low to High.
type Expected struct {
	Loss      float64 // dB between isotropic aerials
	Level     float64 // dBm
	Low, High float64 // dBm, the interval of 95 %
	Sigma     float64 // dB

	HasScale bool     // Percent and Display hold
	Percent  float64  // what the display should show
	Display  Interval // what it shows from Low to High
}

// Expect returns the level that should arrive over a path: free space, or open area
// where heights are given, with the obstacles' losses and the term of the floors.
//
// It takes no memory of its own.
//
// Errors: *units.OutOfRange for a frequency, distance, floors or heights as in
// MultiWall and OpenArea, an obstacle outside 0 to 1000 dB, obstacles above 10000 dB
// together, a spread outside 0.1 to 30 dB, and the quantities of Link.
//
// Source: COST 231 final report (1999), 4.7, with obstacles of any origin, over
// free space (ITU-R P.525) or plane earth (textbook); log-normal spread.
func Expect(p Path) (Expected, error) { return expect(&p, -1) }

// expect leaves one obstacle out; -1 is none.
func expect(p *Path, without int) (Expected, error) {
	loss, err := p.loss(without)
	if err != nil {
		return Expected{}, err
	}
	level, err := Link{ERP: p.ERP, Losses: p.Losses, PathLoss: loss, Gain: p.Gain}.Level()
	if err != nil {
		return Expected{}, err
	}
	sigma, err := p.sigma()
	if err != nil {
		return Expected{}, err
	}
	e := Expected{Loss: loss, Level: level, Low: level - spread*sigma, High: level + spread*sigma, Sigma: sigma}
	if p.Scale == nil {
		return e, nil
	}
	e.HasScale = true
	if e.Percent, err = p.Scale.Percent(level); err != nil {
		return Expected{}, err
	}
	if e.Display, err = p.Scale.Percents(e.Low, e.High); err != nil {
		return Expected{}, err
	}
	return e, nil
}

func (p *Path) sigma() (float64, error) {
	if p.Sigma == 0 {
		return DefaultSigma, nil
	}
	return p.Sigma, inSigma(p.Sigma)
}

func (p *Path) loss(without int) (float64, error) {
	c := Crossing{Floors: p.Floors, FloorLoss: p.FloorLoss, Exponent: FloorExponent}
	if c.FloorLoss == 0 {
		c.FloorLoss = Floor
	}
	for i := range p.Obstacles {
		loss := p.Obstacles[i].Loss
		if err := units.Within("loss of an obstacle", loss, "dB", 0, mostLoss); err != nil {
			return 0, err
		}
		if i != without {
			c.Walls += loss
		}
	}
	loss, err := MultiWall(p.Hz, p.Metres, c)
	if err != nil || p.SendHeight == 0 && p.ReceiveHeight == 0 {
		return loss, err
	}
	ground, err := PlaneEarth(p.Metres, p.SendHeight, p.ReceiveHeight)
	if err != nil {
		return 0, err
	}
	return loss + max(0, ground-freeSpace(p.Hz, p.Metres)), nil
}

// Surprise is how far a measured level lies from the expected one.
type Surprise struct {
	Z        float64 // measured less expected, in spreads; below -2 something is wrong
	OrLower  float64 // probability of such a level or a lower one
	OrHigher float64 // probability of such a level or a higher one
}

// Surprise returns how surprising a measured level in dBm is. Behind a display at
// its lower end stands a level 'that or lower', so OrLower is the probability of
// what was seen; at its upper end OrHigher is.
//
// Errors: *units.OutOfRange for a level outside -300 to 300 dBm, and for the spread
// of an Expected that Expect did not make.
//
// Source: log-normal shadowing.
func (e Expected) Surprise(measured float64) (Surprise, error) {
	if err := cmp.Or(
		inLevel("measured level", measured),
		units.Within("expected level", e.Level, "dBm", -1e5, 1e5),
		inSigma(e.Sigma),
	); err != nil {
		return Surprise{}, err
	}
	z := (measured - e.Level) / e.Sigma
	return Surprise{Z: z, OrLower: normal(z), OrHigher: normal(-z)}, nil
}

// Reach returns the greatest distance in metres, everything else on the path as it
// is, at which the expected level still exceeds the lowest usable one in dBm by a
// margin in dB; the path's own distance does not matter. For a share of places take
// the margin from FadeMargin, with the path's spread. It never says more than 1e9 m.
//
// Errors: as Expect; *units.OutOfRange for a lowest level outside -300 to 300 dBm or
// a margin outside -1000 to 1000 dB, and for the level close by the sender when even
// that is too low.
//
// Source: halving; the loss grows with distance.
func Reach(p Path, lowest, margin float64) (float64, error) {
	if err := cmp.Or(inRadio(p.Hz), inLevel("lowest usable level", lowest), units.Within("margin", margin, "dB", -mostLoss, mostLoss)); err != nil {
		return 0, err
	}
	near, far := p.nearest(), farthest
	p.Metres = near
	e, err := expect(&p, -1)
	if err != nil {
		return 0, err
	}
	if err := units.Within("level close by the sender", e.Level, "dBm", lowest+margin, math.Inf(1)); err != nil {
		return 0, err
	}
	if p.Metres = far; p.reaches(lowest + margin) {
		return far, nil
	}
	for range 64 { // halves the ratio, which is 1e14 at most
		p.Metres = math.Sqrt(near) * math.Sqrt(far)
		if p.reaches(lowest + margin) {
			near = p.Metres
		} else {
			far = p.Metres
		}
	}
	return near, nil
}

// nearest is the least distance that neither free space nor plane earth refuses.
func (p *Path) nearest() float64 { return max(nearest(p.Hz), 0.01) }

func (p *Path) reaches(level float64) bool {
	e, err := expect(p, -1)
	return err == nil && e.Level >= level
}
