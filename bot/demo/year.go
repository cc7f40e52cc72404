package demo

import (
	"math/rand/v2"
	"slices"
	"time"

	"ferrule/knowledge"
	"ferrule/store"
)

// Visits of the year, and when it ends: on a Sunday, in the evening.
const visitsOfTheYear = 2500

// Ends is the midnight at which the invented year is over.
func Ends() time.Time {
	where, err := time.LoadLocation("Europe/Dublin")
	if err != nil {
		where = time.UTC // Dublin is on it in November
	}
	return time.Date(2026, 11, 23, 0, 0, 0, 0, where)
}

// shares are how often a complaint is called in: invented.
var shares = map[string]float64{
	"supply_or_battery": 17, "loop_fault": 14, "false_alarm": 11, "keypad_dead": 10, "tamper": 8, "intermittent_loss": 8, "reporting_path": 7,
	"weak_signal": 6, "enrolment_failure": 5, "not_detected": 5, "siren": 5, "setting_fault": 3, "configuration_link": 2, "firmware_question": 2,
	"after_power_cut": 2, "remote_access": 2, "interference": 2, "hold_up": 1, "compatibility_question": 1, "other": 1,
}

// visit is a case to be.
type visit struct {
	at      time.Time
	site    store.SiteRef
	symptom string
	cause   string
	actor   string
}

// year draws the visits, in order of time.
func year(p *knowledge.Pack, r *rand.Rand, register []store.Site) []visit {
	sums := sumsOf(p)
	end := Ends()
	begin := end.AddDate(-1, 0, 0)
	var out []visit
	for len(out) < visitsOfTheYear {
		v := visit{at: workingTime(r, begin, end), site: register[r.IntN(len(register))].Ref, actor: pseudonym(technicians[r.IntN(len(technicians))])}
		v.symptom, v.cause = fault(p, sums, r, v.at)
		if v.cause == "" {
			continue
		}
		out = append(out, v)
		if again := r.Float64(); again < comesBack(v.cause) && len(out) < visitsOfTheYear {
			back := v
			back.at = workingTime(r, v.at.AddDate(0, 0, 4), v.at.AddDate(0, 0, 28))
			if back.at.Before(end) {
				out = append(out, back)
			}
		}
	}
	for at := begin.AddDate(0, 0, 5); at.Before(end); at = at.AddDate(0, 0, 18+r.IntN(7)) {
		v := visit{at: workingTime(r, at, at.AddDate(0, 0, 2)), site: trouble, actor: pseudonym(technicians[r.IntN(len(technicians))])}
		if v.symptom, v.cause = fault(p, sums, r, v.at); v.cause != "" && v.at.Before(end) {
			out = append(out, v)
		}
	}
	// The last call of the year is on its last evening.
	last := visit{at: end.Add(-5 * time.Hour), site: register[0].Ref, actor: pseudonym(technicians[0])}
	if last.symptom, last.cause = fault(p, sums, r, last.at); last.cause != "" {
		out = append(out, last)
	}
	slices.SortStableFunc(out, func(a, b visit) int { return a.at.Compare(b.at) })
	return out
}

// workingTime is mostly a working day between seven and six, at times a
// weekend.
func workingTime(r *rand.Rand, from, to time.Time) time.Time {
	days := max(1, int(to.Sub(from).Hours()/24))
	for {
		day := from.AddDate(0, 0, r.IntN(days))
		weekend := day.Weekday() == time.Saturday || day.Weekday() == time.Sunday
		if weekend && r.IntN(8) > 0 {
			continue
		}
		return time.Date(day.Year(), day.Month(), day.Day(), 7+r.IntN(11), r.IntN(60), r.IntN(60), 0, day.Location())
	}
}

// fault draws a complaint and a cause of it.
func fault(p *knowledge.Pack, sums map[string]float64, r *rand.Rand, at time.Time) (symptom, cause string) {
	type option struct {
		symptom, cause string
		weight         float64
	}
	var all []option
	total := 0.0
	for i := range p.Causes {
		c := &p.Causes[i]
		for _, s := range c.Symptoms {
			w := shares[s.Name.S] * s.Value / sums[s.Name.S] * season(c.Name.S, at)
			all = append(all, option{s.Name.S, c.Name.S, w})
			total += w
		}
	}
	x := r.Float64() * total
	for _, o := range all {
		if x -= o.weight; x < 0 {
			return o.symptom, o.cause
		}
	}
	return "", ""
}

// sumsOf are the sums of the shares that the causes of each complaint have.
func sumsOf(p *knowledge.Pack) map[string]float64 {
	sums := map[string]float64{}
	for i := range p.Causes {
		for _, s := range p.Causes[i].Symptoms {
			sums[s.Name.S] += s.Value
		}
	}
	return sums
}

// season are the planted effects over time: see the package's description.
func season(cause string, at time.Time) float64 {
	day := func(month time.Month, d int) time.Time { return time.Date(2026, month, d, 0, 0, 0, 0, at.Location()) }
	switch cause {
	case "foliage_or_wet":
		if m := at.Month(); m >= time.June && m <= time.September {
			return 3
		}
	case "battery_worn_out":
		if at.After(day(time.November, 2)) {
			return 6
		}
	case "mobile_network_retired":
		switch {
		case at.Before(day(time.September, 1)):
			return 0
		case at.Before(day(time.October, 15)):
			return 12
		}
		return 4
	case "update_steps_missed", "update_interrupted":
		if at.After(day(time.October, 26)) {
			return 8
		}
	}
	return 1
}

// comesBack is how often a repair is followed by another visit for it.
func comesBack(cause string) float64 {
	switch cause {
	case "keypad_spring_corroded", "loose_core", "loose_contact_in_loop":
		return 1.0 / 3
	}
	return 1.0 / 14
}
