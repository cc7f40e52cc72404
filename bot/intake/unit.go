package intake

// dimension is what a unit measures.
type dimension uint8

const (
	share dimension = iota + 1
	voltage
	current
	resistance
	length
	area
	gain
	level
	duration
	charge
	temperature
	rate
	noScale // bars, points: understood, but no scale defines them
)

// unit is what people write for a measure: a value less the zero, times num,
// over den, is in the dimension's base. Numerator and denominator are whole,
// so that 72 mV becomes 0.072 V and not its neighbour.
type unit struct {
	dim      dimension
	num, den float64
	zero     float64
}

// The exact definitions are those of NIST SP 811 (2008), appendix B.8: the
// foot is 0.3048 m, the inch 25.4 mm, the yard 0.9144 m, the degree Fahrenheit
// (t - 32) / 1.8 in degrees Celsius; the multiples are the SI prefixes.
var (
	percent = unit{share, 1, 1, 0}
	volt    = unit{voltage, 1, 1, 0}
	ampere  = unit{current, 1, 1, 0}
	mA      = unit{current, 1, 1000, 0}
	ohm     = unit{resistance, 1, 1, 0}
	kohm    = unit{resistance, 1000, 1, 0}
	metre   = unit{length, 1, 1, 0}
	mm      = unit{length, 1, 1000, 0}
	mm2     = unit{area, 1, 1, 0}
	foot    = unit{length, 3048, 10000, 0}
	inch    = unit{length, 254, 10000, 0}
	yard    = unit{length, 9144, 10000, 0}
	second  = unit{duration, 1, 1, 0}
	minute  = unit{duration, 60, 1, 0}
	hour    = unit{duration, 3600, 1, 0}
	day     = unit{duration, 86400, 1, 0}
	ampHour = unit{charge, 1, 1, 0}
	celsius = unit{temperature, 1, 1, 0}
)

// canonical are the units of the pack.
var canonical = map[string]unit{
	"%": percent, "V": volt, "A": ampere, "mA": mA, "ohm": ohm, "kohm": kohm, "m": metre, "mm": mm,
	"mm2": mm2, "dB": {gain, 1, 1, 0}, "dBm": {level, 1, 1, 0}, "min": minute, "h": hour, "d": day, "s": second,
	"Ah": ampHour, "C": celsius, "kbit/s": {rate, 1, 1, 0},
}

// units by how they are written, folded. A word may stand for two: m is a
// metre or a minute, and the reading decides.
var units = map[string][]unit{
	"%": {percent}, "percent": {percent}, "pct": {percent}, "perc": {percent}, "prozent": {percent}, "procent": {percent}, "proc": {percent},
	"v": {volt}, "volt": {volt}, "volts": {volt}, "vdc": {volt}, "vac": {volt}, "wolt": {volt}, "woltow": {volt}, "voltios": {volt}, "dcv": {volt},
	"mv": {{voltage, 1, 1e3, 0}}, "millivolt": {{voltage, 1, 1e3, 0}}, "millivolts": {{voltage, 1, 1e3, 0}}, "kv": {{voltage, 1e3, 1, 0}},
	"a": {ampere}, "amp": {ampere}, "amps": {ampere}, "ampere": {ampere}, "amperes": {ampere},
	"ma": {mA}, "milliamp": {mA}, "milliamps": {mA},
	"ohm": {ohm}, "ohms": {ohm}, "omow": {ohm}, "ohmios": {ohm}, "r": {ohm}, "k": {kohm}, "kohm": {kohm}, "kohms": {kohm}, "kilohm": {kohm},
	"kiloohm": {kohm}, "kr": {kohm}, "meg": {{resistance, 1e6, 1, 0}}, "mohm": {{resistance, 1e6, 1, 0}}, "megohm": {{resistance, 1e6, 1, 0}},
	"m": {metre, minute}, "metre": {metre}, "metres": {metre}, "meter": {metre}, "meters": {metre}, "mtr": {metre}, "mtrs": {metre},
	"metrow": {metre}, "metros": {metre}, "metri": {metre}, "cm": {{length, 1, 1e2, 0}}, "mm": {mm, mm2}, "km": {{length, 1e3, 1, 0}},
	"ft": {foot}, "foot": {foot}, "feet": {foot},
	"in": {inch}, "inch": {inch}, "inches": {inch}, "\"": {inch},
	"yd": {yard}, "yard": {yard}, "yards": {yard},
	"sqmm": {mm2}, "qmm": {mm2},
	"db": {{gain, 1, 1, 0}}, "dbm": {{level, 1, 1, 0}},
	"s": {second}, "sec": {second}, "secs": {second}, "second": {second}, "seconds": {second}, "sek": {second}, "sekunden": {second},
	"sekund": {second}, "segundos": {second}, "secondes": {second}, "secondi": {second}, "seconden": {second},
	"min": {minute}, "mins": {minute}, "minute": {minute}, "minutes": {minute}, "minuten": {minute}, "minut": {minute}, "minuty": {minute},
	"minutos": {minute}, "minuti": {minute}, "ms": {{duration, 1, 1e3, 0}},
	"h": {hour}, "hr": {hour}, "hrs": {hour}, "hour": {hour}, "hours": {hour}, "std": {hour}, "stunden": {hour}, "stunde": {hour}, "godz": {hour},
	"godzin": {hour}, "horas": {hour}, "hora": {hour}, "heures": {hour}, "heure": {hour}, "ore": {hour}, "uur": {hour},
	"d": {day}, "day": {day}, "days": {day}, "tage": {day}, "dni": {day}, "dias": {day}, "jours": {day}, "giorni": {day}, "dagen": {day},
	"week": {{duration, 7 * 86400, 1, 0}}, "weeks": {{duration, 7 * 86400, 1, 0}},
	"ah": {ampHour}, "mah": {{charge, 1, 1e3, 0}}, "c": {celsius}, "degc": {celsius}, "celsius": {celsius}, "°": {celsius},
	"f": {{temperature, 5, 9, 32}}, "kbit": {{rate, 1, 1, 0}}, "kbps": {{rate, 1, 1, 0}}, "mbit": {{rate, 1e3, 1, 0}}, "mbps": {{rate, 1e3, 1, 0}},
	"bar": {{noScale, 1, 1, 0}}, "bars": {{noScale, 1, 1, 0}}, "points": {{noScale, 1, 1, 0}}, "balken": {{noScale, 1, 1, 0}}, "barres": {{noScale, 1, 1, 0}},
}

// letterUnits are single letters that are units in front of a space too; the
// others have to touch their number, since "12 a day" is no current.
var letterUnits = map[string]bool{"v": true, "m": true, "h": true, "s": true, "k": true}

// in converts a value into a canonical unit, if the dimensions agree.
func (u unit) in(canonicalUnit string, x float64) (float64, bool) {
	c, ok := canonical[canonicalUnit]
	if !ok || c.dim != u.dim {
		return 0, false
	}
	if u == c {
		return x, true
	}
	return (x - u.zero) * (u.num * c.den) / (u.den * c.num), true
}
