package rules

import (
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

// formulas are the functions of the trade's arithmetic that rules and derived
// readings may call.
var formulas = []formula{
	{
		name:   "path_level",
		says:   "the level that a way through walls and floors gives at 868 MHz, by the COST 231 multi-wall model",
		source: "COST 231 final report (1999), 4.7, fitted at 1800 MHz; ITU-R P.525",
		takes: []parameter{
			{"radiated power", "mW", rises}, {"aerial loss", "dB", falls}, {"distance", "m", falls},
			{"heavy walls", "", falls}, {"light walls", "", falls}, {"floors", "", falls},
		},
		unit: "dBm", compute: pathLevel,
	},
	{
		name:   "level_of_percent",
		says:   "the level behind a displayed per cent, on a scale of even steps",
		source: "the scale is the model's",
		takes:  []parameter{{"displayed", "%", rises}, {"level at 0 %", "dBm", rises}, {"level at 100 %", "dBm", rises}},
		unit:   "dBm", compute: levelOfPercent,
	},
	{
		name:   "percent_of_level",
		says:   "what a level is displayed as, on a scale of even steps that ends at 0 and 100 %",
		source: "the scale is the model's",
		takes:  []parameter{{"level", "dBm", rises}, {"level at 0 %", "dBm", falls}, {"level at 100 %", "dBm", falls}},
		unit:   "%", compute: percentOfLevel,
	},
	{
		name:   "cable_drop",
		says:   "the voltage that a copper cable loses, both ways, at 20 °C",
		source: "Ohm's law; IACS copper, 1/58 ohm mm2/m",
		takes:  []parameter{{"length one way", "m", rises}, {"section of a core", "mm2", falls}, {"current", "A", rises}},
		unit:   "V", compute: cableDrop,
	},
	{
		name:   "free_space_loss",
		says:   "what distance alone takes at 868 MHz",
		source: "ITU-R P.525, exact form",
		takes:  []parameter{{"distance", "m", rises}},
		unit:   "dB", compute: freeSpaceLoss,
	},
	{
		name:   "greatest_length",
		says:   "the length of a copper cable, one way, at which a current leaves the least voltage, at 20 °C",
		source: "Ohm's law; IACS copper, 1/58 ohm mm2/m",
		takes:  []parameter{{"source", "V", rises}, {"least", "V", falls}, {"section of a core", "mm2", rises}, {"drawn", "A", falls}},
		unit:   "m", compute: greatestLength,
	},
	{
		name:   "recharge_hours",
		says:   "how long a charger takes to bring an empty battery to 80 % while it feeds a load",
		source: "80 % C / ((charger - load) x 0.85): common practice",
		takes:  []parameter{{"capacity", "Ah", rises}, {"charger", "A", falls}, {"load", "A", rises}},
		unit:   "h", compute: rechargeHours,
	},
	{
		name:   "resistance_inside",
		says:   "the resistance inside a battery or cell",
		source: "Ohm's law",
		takes:  []parameter{{"voltage at rest", "V", rises}, {"voltage under load", "V", falls}, {"current", "A", falls}},
		unit:   "ohm", compute: resistanceInside,
	},
	{
		name:   "standby_hours",
		says:   "how long a battery at the end of its life carries a current",
		source: "capacity over current, four fifths of the capacity left: common practice",
		takes:  []parameter{{"capacity", "Ah", rises}, {"current", "A", falls}},
		unit:   "h", compute: standbyHours,
	},
	{
		name:   "capacity_needed",
		says:   "the capacity on the label that a standby time and an alarm load need",
		source: "(I T + I alarm t) / 0.8: common practice",
		takes:  []parameter{{"standby time", "h", rises}, {"current", "A", rises}, {"alarm current", "A", rises}, {"alarm time", "h", rises}},
		unit:   "Ah", compute: capacityNeeded,
	},
	{
		name:   "charge_of_volts",
		says:   "how full a rested 12 V lead-acid battery is by its voltage",
		source: "table that handbooks commonly print, from memory",
		takes:  []parameter{{"voltage at rest", "V", rises}},
		unit:   "%", compute: chargeOfVolts,
	},
	{
		name:   "ohms_outside",
		says:   "how far a loop's resistance is outside what a resistor of a tolerance and the cable can give: below 0 it is too low, 0 is inside",
		source: "series resistance, worst case",
		takes:  []parameter{{"measured", "ohm", rises}, {"resistor", "ohm", falls}, {"tolerance", "%", neither}, {"cable both ways", "ohm", falls}},
		unit:   "ohm", compute: ohmsOutside,
	},
}

func pathLevel(x []float64) (float64, error) {
	if err := units.Within("number of floors", x[5], "", 0, 100); err != nil {
		return 0, err
	}
	loss, err := radio.MultiWall(alarmBand, x[2], radio.Crossing{
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
	return x[1] + x[0]/100*(x[2]-x[1]), nil
}

func percentOfLevel(x []float64) (float64, error) {
	return min(100, max(0, (x[0]-x[1])/(x[2]-x[1])*100)), nil
}

func cableDrop(x []float64) (float64, error) {
	conductor, err := cable.OfArea(x[1], cable.Copper)
	if err != nil {
		return 0, err
	}
	return cable.Run{Length: x[0], Conductor: conductor, Cores: 1, Temperature: 20}.Drop(x[2])
}

func freeSpaceLoss(x []float64) (float64, error) { return radio.FreeSpace(alarmBand, x[0]) }

func greatestLength(x []float64) (float64, error) {
	conductor, err := cable.OfArea(x[2], cable.Copper)
	if err != nil {
		return 0, err
	}
	return cable.Run{Conductor: conductor, Cores: 1, Temperature: 20}.GreatestLength(x[0], x[1], x[3])
}

func rechargeHours(x []float64) (float64, error) {
	const share = 0.8
	return power.RechargeHours(x[0], share, x[1], x[2], power.ChargeEfficiency)
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
