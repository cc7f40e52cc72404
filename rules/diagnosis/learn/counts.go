package learn

// counts holds numbers of cases by how they were confirmed. They are whole, so
// that a sum does not depend on the order of the cases, and another weight can
// be given to the same cases.
type counts struct {
	Measurement int `json:"measurement,omitempty"`
	SwapBack    int `json:"swap_back,omitempty"`
	SymptomGone int `json:"symptom_gone,omitempty"`
	Unproven    int `json:"unproven,omitempty"`
}

// grade returns the counts of one case.
func grade(confirmed string) (one counts, ok bool) {
	switch confirmed {
	case Measurement:
		one.Measurement = 1
	case SwapBack:
		one.SwapBack = 1
	case SymptomGone:
		one.SymptomGone = 1
	case Unproven:
		one.Unproven = 1
	default:
		return one, false
	}
	return one, true
}

func (c counts) plus(d counts) counts {
	return counts{c.Measurement + d.Measurement, c.SwapBack + d.SwapBack, c.SymptomGone + d.SymptomGone, c.Unproven + d.Unproven}
}

func (c counts) minus(d counts) counts {
	return counts{c.Measurement - d.Measurement, c.SwapBack - d.SwapBack, c.SymptomGone - d.SymptomGone, c.Unproven - d.Unproven}
}

// number is the number of cases.
func (c counts) number() int { return c.Measurement + c.SwapBack + c.SymptomGone + c.Unproven }

// weight is what the cases count together.
func (c counts) weight(s Settings) float64 {
	return float64(c.Measurement)*s.Measurement + float64(c.SwapBack)*s.SwapBack +
		float64(c.SymptomGone)*s.SymptomGone + float64(c.Unproven)*s.Unproven
}

// shrunk adds cases to a mean that counts as so many of them: the mean of the
// posterior Dirichlet.
func shrunk(mean []float64, strength float64, cases []counts, s Settings) []float64 {
	total := 0.0
	weights := make([]float64, len(mean))
	for i, c := range cases {
		weights[i] = c.weight(s)
		total += weights[i]
	}
	if total == 0 {
		copy(weights, mean)
		return weights
	}
	for i, w := range weights {
		weights[i] = (strength*mean[i] + w) / (strength + total)
	}
	return weights
}
