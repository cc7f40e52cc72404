package learn

import (
	"errors"

	"ferrule/knowledge/units"
)

// Settings say how much the pack counts against the cases.
type Settings struct {
	PackCases      float64 `json:"pack_cases"`      // the shares of a symptom count as so many cases
	PackCasesEach  float64 `json:"pack_cases_each"` // and as so many more for each cause beyond five
	EquipmentCases float64 `json:"equipment_cases"` // and what is above a kind or a model
	RowCases       float64 `json:"row_cases"`       // and a row of an evidence table
	MendCases      float64 `json:"mend_cases"`      // and MendPrior
	MendPrior      float64 `json:"mend_prior"`      // how often a repair mends the cause it is for
	MinutesCases   float64 `json:"minutes_cases"`   // and the minutes of the pack, with their spread
	MinutesSpread  float64 `json:"minutes_spread"`  // standard deviation of the log of the minutes

	// What a case counts, by how its cause was confirmed.
	Measurement float64 `json:"measurement"`
	SwapBack    float64 `json:"swap_back"`
	SymptomGone float64 `json:"symptom_gone"`
	Unproven    float64 `json:"unproven"`
}

// Default returns the usual settings. The pack counts as 20 cases; a symptom of
// many causes needs more, or the noise of a few cases would cost more than they
// teach: N cases that agree with the pack cost about N (K-1) / (2 (P+N)^2) nats
// for K causes and a pack that counts as P. A spread of 0.5 says that two of three
// repairs take between 0.6 and 1.65 times the usual time. Common practice, no
// source.
func Default() Settings {
	return Settings{
		PackCases: 20, PackCasesEach: 5, EquipmentCases: 20, RowCases: 20, MendCases: 20, MendPrior: 0.9, MinutesCases: 4, MinutesSpread: 0.5,
		Measurement: 1, SwapBack: 1, SymptomGone: 0.5, Unproven: 0.25,
	}
}

// check returns a *units.OutOfRange for each setting that is at fault. The pack
// always counts for something: numbers that rest on three cases alone are none.
func (s Settings) check() error {
	const least, most = 0.1, 1e6
	return errors.Join(
		units.Within("number of cases that the pack counts as", s.PackCases, "", least, most),
		units.Within("number of cases that the pack counts as for each cause", s.PackCasesEach, "", 0, most),
		units.Within("number of cases that other equipment counts as", s.EquipmentCases, "", least, most),
		units.Within("number of cases that a row of the pack counts as", s.RowCases, "", least, most),
		units.Within("number of repairs that the prior counts as", s.MendCases, "", least, most),
		units.Within("share of repairs that mend", s.MendPrior, "", 0.01, 0.99),
		units.Within("number of repairs that the minutes of the pack count as", s.MinutesCases, "", 1, most),
		units.Within("spread of the log of the minutes", s.MinutesSpread, "", 0.01, 3),
		units.Within("weight of a case confirmed by measurement", s.Measurement, "", 0, 1),
		units.Within("weight of a case confirmed by swapping back", s.SwapBack, "", 0, 1),
		units.Within("weight of a case whose symptom is gone", s.SymptomGone, "", 0, 1),
		units.Within("weight of an unproven case", s.Unproven, "", 0, 1),
	)
}
