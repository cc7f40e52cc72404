package power_test

import (
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"ferrule/knowledge/octavetest"
	"ferrule/knowledge/power"
)

const (
	referenceScript = "../../testdata/power/reference.m"
	referenceFile   = "../../testdata/power/reference.csv"

	// The file has 12 significant digits.
	digits = 1e-11
	// The discharge is counted there in 60000 steps whose rounding adds up.
	counted = 1e-8
)

// kinds says how each kind of row is worked out here, how many results it has,
// how many rows the file holds at least, and to which relative difference they
// agree.
var kinds = map[string]struct {
	results, rows int
	tolerance     float64
	work          func(in []float64) ([]float64, error)
}{
	"capacity": {1, 144, digits, func(in []float64) ([]float64, error) {
		ah, err := power.Capacity(power.Load{Standby: in[0], StandbyHours: in[1], Alarm: in[2], AlarmHours: in[3]}, derating(in[4:]))
		return []float64{ah}, err
	}},
	"autonomy": {1, 72, digits, func(in []float64) ([]float64, error) {
		a, err := power.StandbyAutonomy(in[0], in[1], in[2], in[3], derating(in[4:]))
		return []float64{a.Hours}, err
	}},
	"peukert": {2, 300, digits, func(in []float64) ([]float64, error) {
		hours, err := power.PeukertHours(in[0], in[1], in[2], in[3])
		if err != nil {
			return nil, err
		}
		ah, err := power.PeukertCapacity(in[0], in[1], in[2], in[3])
		return []float64{hours, ah}, err
	}},
	"peukert1": {1, 48, digits, func(in []float64) ([]float64, error) {
		hours, err := power.PeukertHoursAtOneAmpere(in[0], in[1], in[2])
		return []float64{hours}, err
	}},
	"bs5839":    {3, 45, digits, bs5839},
	"discharge": {4, 480, counted, discharge},
	"cell":      {6, 49, digits, cell},
}

func derating(in []float64) power.Derating {
	return power.Derating{Ageing: in[0], Temperature: in[1], Usable: in[2]}
}

// bs5839 rounds the least capacity up to the step in which the script tries.
func bs5839(in []float64) ([]float64, error) {
	b, err := power.BS5839Capacity(in[0], in[1], in[2])
	return []float64{b.LowRate, b.HighRate, math.Ceil(b.Least*1000-1e-6) / 1000}, err
}

func discharge(in []float64) ([]float64, error) {
	table := power.FloodedOCV()
	if in[0] == 2 {
		table = power.SealedOCV()
	}
	d := power.Discharge{OCV: table, Capacity: in[1], RateHours: in[2], Exponent: in[3], Resistance: in[4], Rise: in[5], Current: in[6], Start: in[7], CutOff: in[8]}
	var points [5]power.CurvePoint
	end, err := d.Curve(points[:])
	p := points[int(4*in[9])]
	out := []float64{p.Hours, p.Volts, p.Share, 0}
	if end.Empty {
		out[3] = 1
	}
	return out, err
}

func cell(in []float64) ([]float64, error) {
	d := power.Duty{Sleep: in[3], Report: power.Pulse{Current: in[4], Seconds: in[5]}, ReportSeconds: in[6],
		Event: power.Pulse{Current: in[7], Seconds: in[8]}, EventsPerDay: in[9], Alarm: power.Pulse{Current: in[10], Seconds: in[11]}, AlarmsPerDay: in[12]}
	l, err := d.Life(power.Cell{Capacity: in[0], Usable: in[1], SelfDischarge: in[2]})
	return []float64{l.Years, l.Sleep, l.Reports, l.Events, l.Alarms, l.SelfDischarge}, err
}

// Source: reference.m, which works the same models out in another way (see its
// header), run by GNU Octave.
func TestReference(t *testing.T) {
	data, err := os.ReadFile(referenceFile)
	if err != nil {
		t.Fatal(err)
	}
	rows := map[string]int{}
	for line := range strings.Lines(string(data)) {
		line = strings.TrimSpace(line)
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		fields := strings.Split(line, ",")
		kind, known := kinds[fields[0]]
		if !known {
			t.Fatalf("%s: unknown kind", line)
		}
		rows[fields[0]]++
		values := make([]float64, len(fields)-1)
		for i, f := range fields[1:] {
			if values[i], err = strconv.ParseFloat(f, 64); err != nil {
				t.Fatalf("%s: %v", line, err)
			}
		}
		inputs := len(values) - kind.results
		got, err := kind.work(values[:inputs])
		if err != nil {
			t.Errorf("%s: %v", line, err)
			continue
		}
		for i, want := range values[inputs:] {
			if !(math.Abs(got[i]-want) <= kind.tolerance*math.Max(math.Abs(want), 1e-3)) {
				t.Errorf("%s: result %d is %.13g", line, i+1, got[i])
			}
		}
	}
	for name, kind := range kinds {
		if rows[name] < kind.rows {
			t.Errorf("%d rows of %s, want %d", rows[name], name, kind.rows)
		}
	}
}

// The committed file is what the script prints.
func TestReferenceIsCurrent(t *testing.T) {
	octavetest.Current(t, referenceScript, referenceFile)
}
