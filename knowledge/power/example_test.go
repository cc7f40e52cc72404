package power_test

import (
	"errors"
	"fmt"

	"ferrule/knowledge/power"
)

// The hours are the list's; the arithmetic is that of the products in the
// tests beside.
func ExampleCapacity() {
	r, err := power.Find(power.StandbyTimes(), power.Query{Standard: power.EN50131, Grade: 2, Supply: power.TypeA})
	if err != nil {
		fmt.Println(err)
		return
	}
	ah, err := power.Capacity(power.Load{Standby: 0.35, StandbyHours: r.Hours}, power.CommonDerating())
	fmt.Printf("%g h (%s): %.2f Ah, %v\n", r.Hours, r.Source.Sure, ah, err)
	// Output: 12 h (confirmed): 5.25 Ah, <nil>
}

func ExampleBS5839Capacity() {
	b, err := power.BS5839Capacity(0.25, 24, 0.75)
	fmt.Printf("D = 1: %.4f Ah, D = 1.75: %.4f Ah, %v\n", b.LowRate, b.HighRate, err)
	// Output: D = 1: 7.9688 Ah, D = 1.75: 8.3203 Ah, <nil>
}

func ExampleRechargeHours() {
	_, err := power.RechargeHours(7, 0.8, 0.5, 0.65, power.ChargeEfficiency)
	var never *power.NeverCharges
	fmt.Println(errors.As(err, &never), err)
	// Output: true the charger gives 0.5 A and the load takes 0.65 A: the battery never charges
}

func ExamplePeukertHours() {
	for _, current := range []float64{5, 10, 20} {
		hours, err := power.PeukertHours(100, 20, current, 1.2)
		fmt.Printf("%g A: %.4f h, %v\n", current, hours, err)
	}
	// Output:
	// 5 A: 20.0000 h, <nil>
	// 10 A: 8.7055 h, <nil>
	// 20 A: 3.7893 h, <nil>
}

// A cell of 3.0 V that reads good without load; its resistance is invented.
func ExampleCellResistance_Under() {
	r := power.CellResistance{Ohms: 10, Reference: 20, Growth: 2}
	for _, degrees := range []float64{20, 0} {
		u, err := r.Under(3.0, 0.030, degrees, 2.2)
		fmt.Printf("%g °C: %.1f V, resets %t, %v\n", degrees, u.Volts, u.Resets, err)
	}
	// Output:
	// 20 °C: 2.7 V, resets false, <nil>
	// 0 °C: 1.8 V, resets true, <nil>
}

func ExampleDischarge_Curve() {
	d := power.Discharge{OCV: power.FloodedOCV(), Capacity: 10, RateHours: 20, Exponent: 1.2, Resistance: 0.4, Current: 0.5, Start: 1}
	var points [3]power.CurvePoint
	end, err := d.Curve(points[:])
	for _, p := range points {
		fmt.Printf("%2.0f h %.1f V %3.0f %%\n", p.Hours, p.Volts, 100*p.Share)
	}
	fmt.Println(end.Empty, err)
	// Output:
	//  0 h 12.4 V 100 %
	// 10 h 12.0 V  50 %
	// 20 h 11.4 V   0 %
	// true <nil>
}
