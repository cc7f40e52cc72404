package rules

import (
	"errors"
	"math"

	"ferrule/knowledge/cable"
	"ferrule/knowledge/loop"
	"ferrule/knowledge/power"
	"ferrule/knowledge/radio"
	"ferrule/knowledge/units"
)

// Middle of the band in which wireless alarm devices mostly send.
// Source: ERC/REC 70-03, 868.0-868.6 MHz.
const alarmBand = 868.3e6

// nearest is the distance in m that stands for everything closer by: nearer to an
// aerial than about a third of a wavelength no model holds.
const nearest = 0.1

// never is what takes longer than anybody waits, in h.
const never = 100000

// formulas are the functions of the trade's arithmetic that rules and derived
// readings may call.
var formulas = []formula{
	{
		name:   "path_level",
		says:   "the level that a way through walls and floors gives at 868 MHz, by the COST 231 multi-wall model",
		source: "COST 231 final report (1999), 4.7, fitted at 1800 MHz; ITU-R P.525",
		takes: []parameter{
			{"radiated power", "mW", rises, 0.001, 500}, {"aerial loss", "dB", falls, 0, 60}, {"distance", "m", falls, 0, 10000},
			{"heavy walls", "", falls, 0, 30}, {"light walls", "", falls, 0, 30}, {"floors", "", falls, 0, 20},
		},
		unit: "dBm", compute: pathLevel,
	},
	{
		name:   "level_of_percent",
		says:   "the level behind a displayed per cent, on a scale of even steps",
		source: "the scale is the model's",
		takes:  []parameter{{"displayed", "%", rises, 0, 100}, {"level at 0 %", "dBm", rises, -150, 20}, {"level at 100 %", "dBm", rises, -150, 20}},
		unit:   "dBm", compute: levelOfPercent,
	},
	{
		name:   "percent_of_level",
		says:   "what a level is displayed as, on a scale of even steps that ends at 0 and 100 %",
		source: "the scale is the model's",
		takes:  []parameter{{"level", "dBm", rises, -200, 50}, {"level at 0 %", "dBm", falls, -150, 20}, {"level at 100 %", "dBm", falls, -150, 20}},
		unit:   "%", compute: percentOfLevel,
	},
	{
		name:   "cable_drop",
		says:   "the voltage that a copper cable loses, both ways, at 20 °C",
		source: "Ohm's law; IACS copper, 1/58 ohm mm2/m",
		takes:  []parameter{{"length one way", "m", rises, 0, 5000}, {"section of a core", "mm2", falls, 0.01, 50}, {"current", "A", rises, 1e-06, 100}},
		unit:   "V", compute: cableDrop,
	},
	{
		name:   "free_space_loss",
		says:   "what distance alone takes at 868 MHz",
		source: "ITU-R P.525, exact form",
		takes:  []parameter{{"distance", "m", rises, 0, 10000}},
		unit:   "dB", compute: freeSpaceLoss,
	},
	{
		name:   "greatest_length",
		says:   "the length of a copper cable, one way, at which a current leaves the least voltage, at 20 °C; 0 where the source has no more than that",
		source: "Ohm's law; IACS copper, 1/58 ohm mm2/m",
		takes:  []parameter{{"source", "V", rises, 0, 60}, {"least", "V", falls, 0, 60}, {"section of a core", "mm2", rises, 0.01, 50}, {"drawn", "A", falls, 1e-06, 100}},
		unit:   "m", compute: greatestLength,
	},
	{
		name:   "recharge_hours",
		says:   "how long a charger takes to bring an empty battery to 80 % while it feeds a load; 100000 h where it never does",
		source: "80 % C / ((charger - load) x 0.85): common practice",
		takes:  []parameter{{"capacity", "Ah", rises, 0.01, 1000}, {"charger", "A", falls, 0, 100}, {"load", "A", rises, 0, 100}},
		unit:   "h", compute: rechargeHours,
	},
	{
		name:   "resistance_inside",
		says:   "the resistance inside a battery or cell",
		source: "Ohm's law",
		takes:  []parameter{{"voltage at rest", "V", rises, 0, 60}, {"voltage under load", "V", falls, 0, 60}, {"current", "A", falls, 1e-06, 100}},
		unit:   "ohm", compute: resistanceInside,
	},
	{
		name:   "standby_hours",
		says:   "how long a battery at the end of its life carries a current",
		source: "capacity over current, four fifths of the capacity left: common practice",
		takes:  []parameter{{"capacity", "Ah", rises, 0.01, 1000}, {"current", "A", falls, 1e-06, 100}},
		unit:   "h", compute: standbyHours,
	},
	{
		name:   "capacity_needed",
		says:   "the capacity on the label that a standby time and an alarm load need",
		source: "(I T + I alarm t) / 0.8: common practice",
		takes:  []parameter{{"standby time", "h", rises, 0, 1000}, {"current", "A", rises, 1e-06, 100}, {"alarm current", "A", rises, 0, 100}, {"alarm time", "h", rises, 0, 100}},
		unit:   "Ah", compute: capacityNeeded,
	},
	{
		name:   "charge_of_volts",
		says:   "how full a rested 12 V lead-acid battery is by its voltage",
		source: "table that handbooks commonly print, from memory",
		takes:  []parameter{{"voltage at rest", "V", rises, 0, 60}},
		unit:   "%", compute: chargeOfVolts,
	},
	{
		name:   "ohms_outside",
		says:   "how far a loop's resistance is outside what a resistor of a tolerance and the cable can give: below 0 it is too low, 0 is inside",
		source: "series resistance, worst case",
		takes:  []parameter{{"measured", "ohm", rises, 0, 1e+09}, {"resistor", "ohm", falls, 1, 1e+07}, {"tolerance", "%", neither, 0, 50}, {"cable both ways", "ohm", falls, 0, 100000}},
		unit:   "ohm", compute: ohmsOutside,
	},
}

func pathLevel(x []float64) (float64, error) {
	if err := units.Within("number of floors", x[5], "", 0, 100); err != nil {
		return 0, err
	}
	loss, err := radio.MultiWall(alarmBand, max(x[2], nearest), radio.Crossing{
		Walls:     x[3]*radio.HeavyWall + x[4]*radio.LightWall,
		Floors:    int(math.Round(x[5])),
		FloorLoss: radio.Floor, Exponent: radio.FloorExponent,
	})
	if err != nil {
		return 0, err
	}
	power, err := radio.DBm(x[0] / 1000)
	if err != nil {
		return 0, err
	}
	return radio.Link{ERP: power, Losses: x[1], PathLoss: loss}.Level()
}

func levelOfPercent(x []float64) (float64, error) {
	if err := units.Above("level at 100 %", x[2], "dBm", x[1]); err != nil {
		return 0, err
	}
	return x[1] + x[0]/100*(x[2]-x[1]), nil
}

func percentOfLevel(x []float64) (float64, error) {
	if err := units.Above("level at 100 %", x[2], "dBm", x[1]); err != nil {
		return 0, err
	}
	return min(100, max(0, (x[0]-x[1])/(x[2]-x[1])*100)), nil
}

func cableDrop(x []float64) (float64, error) {
	conductor, err := cable.OfArea(x[1], cable.Copper)
	if err != nil {
		return 0, err
	}
	return cable.Run{Length: x[0], Conductor: conductor, Cores: 1, Temperature: 20}.Drop(x[2])
}

func freeSpaceLoss(x []float64) (float64, error) {
	return radio.FreeSpace(alarmBand, max(x[0], nearest))
}

func greatestLength(x []float64) (float64, error) {
	conductor, err := cable.OfArea(x[2], cable.Copper)
	if err != nil {
		return 0, err
	}
	if x[0] <= x[1] {
		return 0, nil // not even at the source
	}
	return cable.Run{Conductor: conductor, Cores: 1, Temperature: 20}.GreatestLength(x[0], x[1], x[3])
}

func rechargeHours(x []float64) (float64, error) {
	const share = 0.8
	hours, err := power.RechargeHours(x[0], share, x[1], x[2], power.ChargeEfficiency)
	if errors.As(err, new(*power.NeverCharges)) {
		return never, nil
	}
	return min(hours, never), err
}

func resistanceInside(x []float64) (float64, error) {
	return power.InternalResistance(x[0], x[1], x[2])
}

func standbyHours(x []float64) (float64, error) {
	a, err := power.StandbyAutonomy(x[0], x[1], 0, 0, power.CommonDerating())
	return a.Hours, err
}

func capacityNeeded(x []float64) (float64, error) {
	return power.Capacity(power.Load{StandbyHours: x[0], Standby: x[1], Alarm: x[2], AlarmHours: x[3]}, power.CommonDerating())
}

func chargeOfVolts(x []float64) (float64, error) {
	table := power.HandbookOCV()
	full, err := table.StateOfCharge(power.Reading{Volts: x[0], RestHours: table.RestHours, Temperature: 20})
	return 100 * full.Share, err
}

func ohmsOutside(x []float64) (float64, error) {
	single := loop.Single(loop.Resistor{Ohms: x[1], Tolerance: x[2]})
	single.Cable = x[3]
	states, err := single.States()
	if err != nil {
		return 0, err
	}
	for _, s := range states {
		if r := s.Resistance; s.State == loop.Normal {
			// A meter's leads and the cable's own length are not known so well that
			// less than the cable's resistance would mean anything.
			return max(x[0]-r.High, min(0, x[0]-r.Low+x[3])), nil
		}
	}
	return 0, nil
}
