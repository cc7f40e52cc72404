package intake

import (
	"strings"

	"ferrule/knowledge/units"
)

// unitsWritten are units by how they are written, folded. A word may stand for
// two: m is a metre or a minute, and the reading decides.
var unitsWritten = func() map[string][]units.Unit {
	m := map[string][]units.Unit{}
	for _, row := range []struct {
		unit  units.Unit
		words string
	}{
		{units.Percent, `% percent pct perc prozent procent proc`},
		{units.Volt, `v volt volts vdc vac wolt woltow voltios dcv`},
		{units.Millivolt, `mv millivolt millivolts`},
		{units.Kilovolt, `kv`},
		{units.Ampere, `a amp amps ampere amperes`},
		{units.Milliampere, `ma milliamp milliamps`},
		{units.Microampere, `ua µa μa microamp microamps`},
		{units.Milliwatt, `mw milliwatt milliwatts`},
		{units.Watt, `watt watts`},
		{units.Megahertz, `mhz`},
		{units.Ohm, `ohm ohms omow ohmios r`},
		{units.Kiloohm, `k kohm kohms kilohm kiloohm kr`},
		{units.Megaohm, `meg mohm megohm`},
		{units.Metre, `m metre metres meter meters mtr mtrs metrow metros metri`},
		{units.Centimetre, `cm`},
		{units.Millimetre, `mm`},
		{units.Kilometre, `km`},
		{units.Foot, `ft foot feet`},
		{units.Inch, `in inch inches "`},
		{units.Yard, `yd yard yards`},
		{units.SquareMillimetre, `mm sqmm qmm`},
		{units.Decibel, `db`},
		{units.DecibelMilliwatt, `dbm`},
		{units.Second, `s sec secs second seconds sek sekunden sekund segundos secondes secondi seconden`},
		{units.Millisecond, `ms`},
		{units.Minute, `m min mins minute minutes minuten minut minuty minutos minuti`},
		{units.Hour, `h hr hrs hour hours std stunden stunde godz godzin horas hora heures heure ore uur`},
		{units.Day, `d day days tage dni dias jours giorni dagen`},
		{units.Week, `week weeks`},
		{units.AmpereHour, `ah`},
		{units.MilliampereHour, `mah`},
		{units.Celsius, `c degc celsius °`},
		{units.Fahrenheit, `f`},
		{units.KilobitPerSecond, `kbit kbps`},
		{units.MegabitPerSecond, `mbit mbps`},
		{units.Bar, `bar bars points balken barres`},
	} {
		for _, w := range strings.Fields(row.words) {
			m[w] = append(m[w], row.unit)
		}
	}
	return m
}()

// letterUnits are single letters that are units in front of a space too; the
// others have to touch their number, since "12 a day" is no current.
var letterUnits = map[string]bool{"v": true, "m": true, "h": true, "s": true, "k": true}
