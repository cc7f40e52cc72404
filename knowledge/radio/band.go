package radio

import (
	"math"

	"ferrule/knowledge/units"
)

// Use is what a band is meant for.
type Use uint8

// The uses.
const (
	NonSpecific  Use = iota + 1 // any short-range device
	Alarms                      // intruder and similar alarms
	SocialAlarms                // calls for help by people who live alone
)

// Band is a sub-band with the conditions under which it may be used without a
// licence. It is known by its limits: the letters that documents give to bands
// differ between editions.
type Band struct {
	Low, High float64 // Hz
	ERP       float64 // W, the greatest effective radiated power
	DutyCycle float64 // the greatest share of an hour on the air; 1: no limit
	Channel   float64 // Hz, the widest channel; 0: not laid down here
	Whole     bool    // the whole band may be one channel
	OrAccess  bool    // listening before sending, or the like, may replace the duty cycle
	Use       Use
}

var bands = [...]Band{
	{Low: 863e6, High: 865e6, ERP: 0.025, DutyCycle: 0.001, Use: NonSpecific},
	{Low: 865e6, High: 868e6, ERP: 0.025, DutyCycle: 0.01, Use: NonSpecific},
	{Low: 868e6, High: 868.6e6, ERP: 0.025, DutyCycle: 0.01, OrAccess: true, Use: NonSpecific},
	{Low: 868.6e6, High: 868.7e6, ERP: 0.010, DutyCycle: 0.01, Channel: 25e3, Whole: true, Use: Alarms},
	{Low: 868.7e6, High: 869.2e6, ERP: 0.025, DutyCycle: 0.001, Use: NonSpecific},
	{Low: 869.2e6, High: 869.25e6, ERP: 0.010, DutyCycle: 0.001, Channel: 25e3, Use: SocialAlarms},
	{Low: 869.25e6, High: 869.3e6, ERP: 0.010, DutyCycle: 0.001, Channel: 25e3, Use: Alarms},
	{Low: 869.3e6, High: 869.4e6, ERP: 0.010, DutyCycle: 0.01, Channel: 25e3, Use: Alarms},
	{Low: 869.4e6, High: 869.65e6, ERP: 0.5, DutyCycle: 0.1, Use: NonSpecific},
	{Low: 869.65e6, High: 869.7e6, ERP: 0.025, DutyCycle: 0.1, Channel: 25e3, Use: Alarms},
	{Low: 869.7e6, High: 870e6, ERP: 0.005, DutyCycle: 1, Use: NonSpecific},
	{Low: 869.7e6, High: 870e6, ERP: 0.025, DutyCycle: 0.01, Use: NonSpecific},
}

// Bands returns the sub-bands that hold a frequency in hertz: mostly one, two at a
// common limit, and two from 869.7 to 870 MHz, where either set of conditions may be
// chosen. A signal must lie in its band with its whole width, so a frequency at a
// limit belongs to neither.
//
// Errors: *units.OutOfRange outside 863 to 870 MHz.
//
// Source: CEPT ERC/REC 70-03, annex 1 and the annex on alarms, by public pages.
// National rules may differ and have the last word.
func Bands(hz float64) ([]Band, error) {
	if err := units.Within("frequency", hz, "Hz", bands[0].Low, bands[len(bands)-1].High); err != nil {
		return nil, err
	}
	from := 0
	for bands[from].High < hz {
		from++
	}
	to := from
	for to < len(bands) && bands[to].Low <= hz {
		to++
	}
	return append([]Band(nil), bands[from:to]...), nil
}

// OnAir returns the seconds in an hour for which a device may send. That the duty
// cycle is taken over an hour is from memory.
func (b Band) OnAir() float64 { return math.Round(3600*b.DutyCycle*1e6) / 1e6 }
