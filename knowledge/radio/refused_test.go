package radio_test

import (
	"math"
	"testing"

	"ferrule/knowledge/radio"
)

// bad is outside every range of the package.
var bad = []float64{math.NaN(), math.Inf(1), math.Inf(-1), -1e300, 1e300}

// refusals takes each quantity of each function in turn, the others being good.
var refusals = []struct {
	name, quantity string
	call           func(x float64) error
}{
	{"Wavelength", "frequency", func(x float64) error { _, err := radio.Wavelength(x); return err }},
	{"FreeSpace", "frequency", func(x float64) error { _, err := radio.FreeSpace(x, 10); return err }},
	{"FreeSpace", "distance", func(x float64) error { _, err := radio.FreeSpace(868e6, x); return err }},
	{"Indoor", "frequency", func(x float64) error { _, err := radio.Indoor(radio.Office, x, 10, 0); return err }},
	{"Indoor", "distance", func(x float64) error { _, err := radio.Indoor(radio.Office, 868e6, x, 0); return err }},
	{"FloorsLoss", "loss of a floor", func(x float64) error { _, err := radio.FloorsLoss(2, x, 0.46); return err }},
	{"FloorsLoss", "exponent of the floors", func(x float64) error { _, err := radio.FloorsLoss(2, 18.3, x); return err }},
	{"MultiWall", "frequency", func(x float64) error { _, err := radio.MultiWall(x, 10, radio.Crossing{}); return err }},
	{"MultiWall", "distance", func(x float64) error { _, err := radio.MultiWall(868e6, x, radio.Crossing{}); return err }},
	{"MultiWall", "constant of the multi-wall model", func(x float64) error {
		_, err := radio.MultiWall(868e6, 10, radio.Crossing{Constant: x})
		return err
	}},
	{"MultiWall", "sum of the wall losses", func(x float64) error { _, err := radio.MultiWall(868e6, 10, radio.Crossing{Walls: x}); return err }},
	{"MultiWall", "loss of a floor", func(x float64) error {
		_, err := radio.MultiWall(868e6, 10, radio.Crossing{Floors: 1, FloorLoss: x})
		return err
	}},
	{"TwoRay", "frequency", func(x float64) error { _, err := radio.TwoRay(x, 10, 3, 1.5, -1); return err }},
	{"TwoRay", "distance", func(x float64) error { _, err := radio.TwoRay(868e6, x, 3, 1.5, -1); return err }},
	{"TwoRay", "height of the sending aerial", func(x float64) error { _, err := radio.TwoRay(868e6, 10, x, 1.5, -1); return err }},
	{"TwoRay", "height of the receiving aerial", func(x float64) error { _, err := radio.TwoRay(868e6, 10, 3, x, -1); return err }},
	{"TwoRay", "reflection coefficient of the ground", func(x float64) error { _, err := radio.TwoRay(868e6, 10, 3, 1.5, x); return err }},
	{"PlaneEarth", "distance", func(x float64) error { _, err := radio.PlaneEarth(x, 3, 1.5); return err }},
	{"PlaneEarth", "height of the sending aerial", func(x float64) error { _, err := radio.PlaneEarth(10, x, 1.5); return err }},
	{"Breakpoint", "frequency", func(x float64) error { _, err := radio.Breakpoint(x, 3, 1.5); return err }},
	{"Crossover", "height of the receiving aerial", func(x float64) error { _, err := radio.Crossover(868e6, 3, x); return err }},
	{"OpenArea", "distance", func(x float64) error { _, err := radio.OpenArea(868e6, x, 3, 1.5); return err }},
	{"OpenArea", "height of the sending aerial", func(x float64) error { _, err := radio.OpenArea(868e6, 10, x, 1.5); return err }},
	{"FresnelRadius", "frequency", func(x float64) error { _, err := radio.FresnelRadius(x, 10, 10, 1); return err }},
	{"FresnelRadius", "distance to the sending aerial", func(x float64) error { _, err := radio.FresnelRadius(868e6, x, 10, 1); return err }},
	{"FresnelRadius", "distance to the receiving aerial", func(x float64) error { _, err := radio.FresnelRadius(868e6, 10, x, 1); return err }},
	{"FirstZone", "height of the obstacle", func(x float64) error { _, err := radio.FirstZone(868e6, 10, 10, 3, 3, x); return err }},
	{"FirstZone", "height of the sending aerial", func(x float64) error { _, err := radio.FirstZone(868e6, 10, 10, x, 3, 1); return err }},
	{"Quantile", "share of places", func(x float64) error { _, err := radio.Quantile(x); return err }},
	{"FadeMargin", "share of places", func(x float64) error { _, err := radio.FadeMargin(8, x); return err }},
	{"FadeMargin", "standard deviation of the level", func(x float64) error { _, err := radio.FadeMargin(x, 0.9); return err }},
	{"ShareAbove", "margin", func(x float64) error { _, err := radio.ShareAbove(x, 8); return err }},
	{"ShareAbove", "standard deviation of the level", func(x float64) error { _, err := radio.ShareAbove(3, x); return err }},
	{"AreaCoverage", "margin", func(x float64) error { _, err := radio.AreaCoverage(x, 8, 3); return err }},
	{"AreaCoverage", "standard deviation of the level", func(x float64) error { _, err := radio.AreaCoverage(3, x, 3); return err }},
	{"AreaCoverage", "exponent of distance", func(x float64) error { _, err := radio.AreaCoverage(3, 8, x); return err }},
	{"Bands", "frequency", func(x float64) error { _, err := radio.Bands(x); return err }},
	{"DBm", "power", func(x float64) error {
		if x == 1e300 {
			x = 0 // any finite power has a level
		}
		_, err := radio.DBm(x)
		return err
	}},
	{"Watts", "power", func(x float64) error { _, err := radio.Watts(x); return err }},
	{"EIRP", "effective radiated power", func(x float64) error { _, err := radio.EIRP(x); return err }},
	{"ERP", "equivalent isotropic radiated power", func(x float64) error { _, err := radio.ERP(x); return err }},
	{"NoiseFloor", "temperature of the receiver", func(x float64) error { _, err := radio.NoiseFloor(x, 25e3, 6); return err }},
	{"NoiseFloor", "bandwidth", func(x float64) error { _, err := radio.NoiseFloor(290, x, 6); return err }},
	{"NoiseFloor", "noise figure", func(x float64) error { _, err := radio.NoiseFloor(290, 25e3, x); return err }},
	{"Link", "effective radiated power", func(x float64) error { _, err := radio.Link{ERP: x}.Level(); return err }},
	{"Link", "losses of aerials and installation", func(x float64) error { _, err := radio.Link{Losses: x}.Level(); return err }},
	{"Link", "path loss", func(x float64) error { _, err := radio.Link{PathLoss: x}.Level(); return err }},
	{"Link", "gain of the receiving aerial", func(x float64) error { _, err := radio.Link{Gain: x}.Level(); return err }},
	{"Link", "sensitivity of the receiver", func(x float64) error { _, err := radio.Link{}.Margin(x); return err }},
}

func TestRefusals(t *testing.T) {
	for _, r := range refusals {
		for _, x := range bad {
			refused(t, r.name, r.quantity, r.call(x))
		}
	}
	path := func(alter func(p *radio.Path, x float64)) func(x float64) error {
		return func(x float64) error {
			p := house()
			alter(&p, x)
			_, err := radio.Expect(p)
			return err
		}
	}
	for quantity, call := range map[string]func(x float64) error{
		"frequency":                          path(func(p *radio.Path, x float64) { p.Hz = x }),
		"distance":                           path(func(p *radio.Path, x float64) { p.Metres = x }),
		"loss of an obstacle":                path(func(p *radio.Path, x float64) { p.Obstacles[1].Loss = x }),
		"loss of a floor":                    path(func(p *radio.Path, x float64) { p.Floors, p.FloorLoss = 1, x }),
		"effective radiated power":           path(func(p *radio.Path, x float64) { p.ERP = x }),
		"losses of aerials and installation": path(func(p *radio.Path, x float64) { p.Losses = x }),
		"gain of the receiving aerial":       path(func(p *radio.Path, x float64) { p.Gain = x }),
		"standard deviation of the level":    path(func(p *radio.Path, x float64) { p.Sigma = x }),
		"height of the sending aerial":       path(func(p *radio.Path, x float64) { p.SendHeight, p.ReceiveHeight = x, 2 }),
		"height of the receiving aerial":     path(func(p *radio.Path, x float64) { p.SendHeight, p.ReceiveHeight = 2, x }),
		"measured level":                     func(x float64) error { e, _ := radio.Expect(house()); _, err := e.Surprise(x); return err },
		"lowest usable level":                func(x float64) error { _, err := radio.Reach(house(), x, 0); return err },
		"margin":                             func(x float64) error { _, err := radio.Reach(house(), -100, x); return err },
	} {
		for _, x := range bad {
			refused(t, "path", quantity, call(x))
		}
	}
}

func TestWallRefusals(t *testing.T) {
	brick, water := rev3(t, radio.Brick), radio.FreshWater()
	stack := func(l ...radio.Layer) error { _, err := radio.Stack(868e6, l...); return err }
	for _, x := range append([]float64{0}, bad...) {
		_, err := radio.Slab(brick, x, 0.1)
		refused(t, "Slab", "frequency", err)
		_, err = radio.Slab(brick, 868e6, x)
		refused(t, "Slab", "thickness of the layer", err)
		_, err = radio.Stack(x, radio.Gap(1))
		refused(t, "Stack", "frequency", err)
		_, err = water.Permittivity(x)
		refused(t, "Water", "frequency", err)
		refused(t, "Solid", "thickness of the layer", stack(radio.Solid(brick, x)))
		refused(t, "Gap", "thickness of the layer", stack(radio.Gap(x)))
		refused(t, "Foil", "thickness of the layer", stack(radio.Foil(3.5e7, x)))
		refused(t, "Foil", "conductivity of the foil", stack(radio.Foil(x, 1e-5)))
		refused(t, "Coating", "sheet resistance of the coating", stack(radio.Coating(x)))
		refused(t, "Mesh", "spacing of the mesh", stack(radio.Mesh(x, 1e-3)))
		refused(t, "Mesh", "radius of the mesh's wires", stack(radio.Mesh(0.05, x)))
		if x != 0 {
			refused(t, "Damp", "share of water in the layer", stack(radio.Damp(brick, 0.1, x, water)))
		}
		m := brick
		m.A = x
		refused(t, "own fit", "permittivity of the material", stack(radio.Solid(m, 0.1)))
		if m = brick; x != 0 {
			m.C = x
			refused(t, "own fit", "conductivity of the material", stack(radio.Solid(m, 0.1)))
		}
		for quantity, w := range map[string]radio.Water{
			"static permittivity of the water":            {Static: x, Infinite: 5, RelaxationHz: 17e9},
			"permittivity of the water at high frequency": {Static: 80, Infinite: x, RelaxationHz: 17e9},
			"relaxation frequency of the water":           {Static: 80, Infinite: 5, RelaxationHz: x},
			"conductivity of the water":                   {Static: 80, Infinite: 5, RelaxationHz: 17e9, Conductivity: x},
		} {
			if x != 0 || quantity != "conductivity of the water" { // none is allowed
				refused(t, "Water", quantity, stack(radio.Damp(brick, 0.1, 0.1, w)))
			}
		}
	}
	concrete := rev3(t, radio.Concrete)
	wide := radio.Reinforced(concrete, 0.2, 0.2, 0.005) // a wave in concrete is 151 mm long
	refused(t, "wide mesh", "spacing of the mesh", stack(wide[:]...))
	refused(t, "no layer", "number of layers", stack())
	refused(t, "many layers", "number of layers", stack(make([]radio.Layer, 33)...))
	refused(t, "zero layer", "kind of the layer", stack(radio.Layer{}))
	refused(t, "433 MHz of a fit from 2 GHz", "frequency for this material", func() error {
		_, err := radio.Material{A: 2, LowHz: 2e9, HighHz: 3e9}.Permittivity(433e6)
		return err
	}())
}

func TestCountsRefused(t *testing.T) {
	for _, n := range []int{-1, 101, math.MaxInt, math.MinInt} {
		_, err := radio.Indoor(radio.Residential, 1.9e9, 10, n)
		refused(t, "Indoor", "number of floors", err)
		_, err = radio.FloorsLoss(n, 18.3, 0.46)
		refused(t, "FloorsLoss", "number of floors", err)
		_, err = radio.Cost231(n, 0, 0)
		refused(t, "Cost231", "number of light walls", err)
		_, err = radio.Cost231(0, n, 0)
		refused(t, "Cost231", "number of heavy walls", err)
		_, err = radio.Cost231(0, 0, n)
		refused(t, "Cost231", "number of floors", err)
		_, err = radio.FresnelRadius(868e6, 10, 10, n*11)
		refused(t, "FresnelRadius", "number of the Fresnel zone", err)
		_, err = radio.WithFloors(house(), n)
		refused(t, "WithFloors", "number of floors", err)
		_, err = radio.WithoutObstacle(house(), n)
		refused(t, "WithoutObstacle", "number of the obstacle", err)
	}
	for _, b := range []radio.Building{0, 4, 255} {
		_, err := radio.Indoor(b, 868e6, 10, 0)
		refused(t, "Indoor", "kind of building", err)
	}
	for _, s := range []radio.Substance{0, 14, 255} {
		_, err := radio.P2040Rev3(s)
		refused(t, "P2040Rev3", "place of the substance in the table", err)
	}
	_, err := radio.AtDistance(house(), 0.05) // lambda/(2 pi) is 55 mm
	refused(t, "AtDistance", "distance", err)
}
