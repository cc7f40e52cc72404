package radio_test

import (
	"fmt"

	"ferrule/knowledge/radio"
)

func ExampleExpect() {
	p := radio.Path{
		Hz: 868e6, Metres: 20, ERP: 10,
		Obstacles: []radio.Obstacle{{Name: "stud wall", Loss: radio.LightWall}, {Name: "brick wall", Loss: radio.HeavyWall}},
		Floors:    1,
	}
	e, err := radio.Expect(p)
	if err != nil {
		fmt.Println(err)
		return
	}
	s, err := e.Surprise(-84)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("expected %.0f dBm (%.0f to %.0f); -84 dBm or less: %.0f %% of installations\n", e.Level, e.Low, e.High, 100*s.OrLower)
	// Output: expected -74 dBm (-83 to -64); -84 dBm or less: 2 % of installations
}

func ExampleSlab() {
	brick, err := radio.P2040Rev3(radio.Brick)
	if err != nil {
		fmt.Println(err)
		return
	}
	p, err := radio.Slab(brick, 868e6, 0.1)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f dB, extrapolated: %t\n", p.Transmission, brick.Extrapolated(868e6))
	// Output: 2.6 dB, extrapolated: true
}

func ExampleBands() {
	bands, err := radio.Bands(868.65e6)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, b := range bands {
		fmt.Printf("%.1f to %.1f MHz, %.0f mW e.r.p., %.0f s in an hour\n", b.Low/1e6, b.High/1e6, b.ERP*1e3, b.OnAir())
	}
	// Output: 868.6 to 868.7 MHz, 10 mW e.r.p., 36 s in an hour
}

func ExampleIndoor() {
	_, err := radio.Indoor(radio.Residential, 868e6, 10, 0)
	fmt.Println(err)
	// Output: frequency for a residential building is 8.68e+08 Hz; it must be 1.8e+09 Hz to 2e+09 Hz
}
