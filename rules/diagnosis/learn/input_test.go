package learn_test

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"ferrule/knowledge/units"
	"ferrule/rules/diagnosis/learn"
)

func TestBadSettings(t *testing.T) {
	for _, tt := range []struct {
		quantity string
		set      func(*learn.Settings) *float64
		bad      []float64
	}{
		{"number of cases that the pack counts as", func(s *learn.Settings) *float64 { return &s.PackCases }, []float64{0, -1}},
		{"number of cases that other equipment counts as", func(s *learn.Settings) *float64 { return &s.EquipmentCases }, []float64{0}},
		{"number of cases that a row of the pack counts as", func(s *learn.Settings) *float64 { return &s.RowCases }, []float64{0}},
		{"number of repairs that the prior counts as", func(s *learn.Settings) *float64 { return &s.MendCases }, []float64{0}},
		{"share of repairs that mend", func(s *learn.Settings) *float64 { return &s.MendPrior }, []float64{0, 1}},
		{"number of repairs that the minutes of the pack count as", func(s *learn.Settings) *float64 { return &s.MinutesCases }, []float64{0, 0.5}},
		{"spread of the log of the minutes", func(s *learn.Settings) *float64 { return &s.MinutesSpread }, []float64{0, 4}},
		{"weight of a case confirmed by measurement", func(s *learn.Settings) *float64 { return &s.Measurement }, []float64{-0.1, 1.1}},
		{"weight of a case confirmed by swapping back", func(s *learn.Settings) *float64 { return &s.SwapBack }, []float64{-0.1}},
		{"weight of a case whose symptom is gone", func(s *learn.Settings) *float64 { return &s.SymptomGone }, []float64{2}},
		{"weight of an unproven case", func(s *learn.Settings) *float64 { return &s.Unproven }, []float64{-1}},
	} {
		for _, x := range append(tt.bad, math.NaN(), math.Inf(1), math.Inf(-1), 1e9) {
			s := learn.Default()
			*tt.set(&s) = x
			_, err := learn.Learn(invented(), slices.Values([]learn.Case{}), s)
			var out *units.OutOfRange
			if !errors.As(err, &out) || out.Quantity != tt.quantity {
				t.Errorf("%s %g: got %v", tt.quantity, x, err)
			}
		}
	}
}

func TestBadCases(t *testing.T) {
	for _, tt := range []struct {
		spoil    func(*learn.Case)
		quantity string // of a *units.OutOfRange
		says     string
	}{
		{func(c *learn.Case) { c.Bands = []learn.Observed{{"level", 0}} }, "band of the evidence table level", ""},
		{func(c *learn.Case) { c.Bands = []learn.Observed{{"level", 33}} }, "band of the evidence table level", ""},
		{func(c *learn.Case) { c.Repairs = []learn.Tried{{Cause: "x", Minutes: -1}} }, "time for the repair of x", ""},
		{func(c *learn.Case) { c.Repairs = []learn.Tried{{Cause: "x", Minutes: math.NaN()}} }, "time for the repair of x", ""},
		{func(c *learn.Case) { c.Repairs = []learn.Tried{{Cause: "x", Minutes: 1e-300}} }, "time for the repair of x", ""},
		{func(c *learn.Case) { c.Steps = []learn.Timed{{"r", math.Inf(1)}} }, "time for the reading r", ""},
		{func(c *learn.Case) { c.Steps = []learn.Timed{{"r", 1e6}} }, "time for the reading r", ""},
		{func(c *learn.Case) { c.Confirmed = "somehow" }, "", `confirmed by "somehow"`},
		{func(c *learn.Case) { c.Confirmed = "" }, "", `confirmed by ""`},
		{func(c *learn.Case) { c.Symptoms = []string{""} }, "", "the name of the symptom is missing"},
		{func(c *learn.Case) { c.Cause = "\xff" }, "", "the name of the cause is no valid text"},
		{func(c *learn.Case) { c.Equipment = strings.Repeat("x", 201) }, "", "the name of the equipment has 201 bytes"},
		{func(c *learn.Case) { c.Bands = []learn.Observed{{"", 1}} }, "", "the name of the evidence table is missing"},
		{func(c *learn.Case) { c.Repairs = []learn.Tried{{}} }, "", "the name of the cause of a repair is missing"},
		{func(c *learn.Case) { c.Steps = []learn.Timed{{}} }, "", "the name of the reading is missing"},
		{func(c *learn.Case) { c.Closed = time.Date(12000, 1, 1, 0, 0, 0, 0, time.UTC) }, "", "closed in the year 12000"},
		{func(c *learn.Case) { c.ID = 1 }, "", "it comes twice"},
	} {
		c := weak(7, "metal_case", learn.Measurement)
		tt.spoil(&c)
		_, err := learn.Learn(invented(), slices.Values([]learn.Case{weak(1, "metal_case", learn.Measurement), c}), learn.Default())
		var bad *learn.CaseError
		if !errors.As(err, &bad) || bad.ID != c.ID || !strings.Contains(err.Error(), tt.says) {
			t.Errorf("got %v, want a *CaseError: %s%s", err, tt.quantity, tt.says)
		}
		var out *units.OutOfRange
		if tt.quantity != "" && (!errors.As(err, &out) || out.Quantity != tt.quantity) {
			t.Errorf("got %v, want the %s", err, tt.quantity)
		}
	}
}

// Errors say what to do about them, or what is wrong with what.
func TestErrorsReadWell(t *testing.T) {
	for _, tt := range []struct {
		err  error
		want string
	}{
		{&learn.OtherPack{Learned: "sha256:a", Pack: "sha256:b"}, "the learned numbers belong to the pack sha256:a, and this is sha256:b; learn again from the cases"},
		{&learn.CaseError{ID: 7, Err: errors.New("it comes twice")}, "case 7: it comes twice"},
		{&learn.ForecastError{Index: 3, Err: errors.New("the true cause is missing")}, "forecast 3: the true cause is missing"},
		{&learn.FileError{Line: 4, Place: "cases", Err: errors.New("wrong")}, "learned numbers, line 4, cases: wrong"},
	} {
		if got := tt.err.Error(); got != tt.want {
			t.Errorf("got %s, want %s", got, tt.want)
		}
	}
}
