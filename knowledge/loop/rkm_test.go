package loop_test

import (
	"errors"
	"math"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"ferrule/knowledge/loop"
	"ferrule/knowledge/units"
)

const (
	wiki     = "IEC 60062:2016/A1:2019, examples of the public article on the RKM code"
	examples = "IEC 60062, examples of a second public description of it"
	rule     = "by the rule of IEC 60062; no published example seen"
	practice = "common practice, no source"
)

func TestParse(t *testing.T) {
	for _, c := range []struct {
		code      string
		ohms      float64
		tolerance float64
		source    string
	}{
		{"R47", 0.47, 0, wiki}, {"4R7", 4.7, 0, wiki}, {"470R", 470, 0, wiki}, {"4K7", 4700, 0, wiki}, {"47K", 47e3, 0, wiki},
		{"47K3", 47300, 0, wiki}, {"470K", 470e3, 0, wiki}, {"4M7", 4.7e6, 0, wiki},
		{"1K0", 1000, 0, examples}, {"2M2", 2.2e6, 0, examples}, {"R10", 0.1, 0, examples}, {"R300", 0.3, 0, examples},
		{"2L2", 0.0022, 0, "multiplier L, the second public description"}, {"1G0", 1e9, 0, "multiplier G, the second public description"},
		{"2K2", 2200, 0, rule}, {"1M0", 1e6, 0, rule}, {"5K6", 5600, 0, rule},
		{"4K7F", 4700, 1, "tolerance F, the second public description"}, {"4K7K", 4700, 10, "tolerance K, the second public description"},
		{"4K7B", 4700, 0.1, "from memory, public tables"}, {"4K7C", 4700, 0.25, "from memory, public tables"}, {"4K7D", 4700, 0.5, "from memory, public tables"},
		{"4K7G", 4700, 2, "from memory, public tables"}, {"4K7J", 4700, 5, "from memory, public tables"}, {"4K7M", 4700, 20, "from memory, public tables"},
		{"47KK", 47e3, 10, "from memory: the last letter"}, {"47RM", 47, 20, "from memory: the last letter"}, {"4M7M", 4.7e6, 20, "from memory: the last letter"},
		{"2k2", 2200, 0, practice}, {"5k6", 5600, 0, practice}, {"4r7", 4.7, 0, practice}, {"4700", 4700, 0, practice}, {"4.7k", 4700, 0, practice},
		{"4,7k", 4700, 0, practice}, {"10k", 10e3, 0, practice}, {"10 kohm", 10e3, 0, practice}, {"10 kΩ", 10e3, 0, practice}, {"10k\u2126", 10e3, 0, practice},
		{"4.7 MOhm", 4.7e6, 0, practice}, {" 470 Ohms ", 470, 0, practice}, {"470 R", 470, 0, practice}, {"0,47", 0.47, 0, practice}, {".47k", 470, 0, practice},
		{"0.470", 0.47, 0, practice}, {"4.700k", 4700, 0, practice}, {"2k2 1 %", 2200, 1, practice}, {"2k2 ±1,5%", 2200, 1.5, practice}, {"4700 ohm +/- 5 %", 4700, 5, practice},
		{"4k7 J", 4700, 5, practice}, {"2215.68", 2215.68, 0, practice},
	} {
		r, err := loop.Parse(c.code)
		if err != nil || r.Ohms != c.ohms || r.Tolerance != c.tolerance {
			t.Errorf("%s: %v %v, want %g ohm %g %% (%s)", c.code, r, err, c.ohms, c.tolerance, c.source)
		}
	}
}

func TestFormat(t *testing.T) {
	for _, c := range []struct {
		ohms   float64
		want   string
		source string
	}{
		{0.47, "R47", wiki}, {4.7, "4R7", wiki}, {470, "470R", wiki}, {4700, "4K7", wiki}, {47e3, "47K", wiki}, {47300, "47K3", wiki}, {470e3, "470K", wiki},
		{4.7e6, "4M7", wiki}, {1000, "1K0", examples}, {2.2e6, "2M2", examples}, {0.1, "R10", examples},
		{2200, "2K2", rule}, {1e6, "1M0", rule}, {5600, "5K6", rule}, {10, "10R", rule}, {100e3, "100K", rule}, {0.0022, "2L2", rule}, {0.047, "47L", rule}, {1e9, "1G0", rule},
	} {
		if got, err := loop.Format(c.ohms); err != nil || got != c.want {
			t.Errorf("%g: %s %v, want %s (%s)", c.ohms, got, err, c.want, c.source)
		}
	}
}

func TestParseRefuses(t *testing.T) {
	for _, c := range []struct{ code, wants string }{
		{"", "4K7"}, {"R", "4K7"}, {"k", "4K7"}, {"ohm", "4K7"}, {"abc", "4K7"}, {"4k7k7", "4K7"}, {"4 k7", "4K7"}, {"4k7 5", "4K7"}, {"4E7", "4K7"}, {"4K7X", "4K7"}, {"4700J", "4K7"},
		{"4.", "decimal sign"}, {"4.7k7", "decimal sign"}, {"4k7j", "upper case"}, {"4k7m", "upper case"}, {"2l2", "upper-case L"}, {"1g0", "upper-case G"},
		{"-4k7", "without a sign"}, {"1234567890123456", "15 digits"}, {"4K7J 5 %", "once"}, {"4K7 x %", "number in %"}, {"4K7 %", "number in %"},
		{strings.Repeat("4", 65), "4K7"}, {"4k7\xff", "4K7"},
	} {
		_, err := loop.Parse(c.code)
		var syntax *loop.SyntaxError
		if !errors.As(err, &syntax) || syntax.Text != c.code || !strings.Contains(syntax.Want, c.wants) || !strings.Contains(err.Error(), syntax.Want) {
			t.Errorf("%q: %v, want %s", c.code, err, c.wants)
		}
	}
}

func TestParseAsks(t *testing.T) {
	for code, want := range map[string]string{
		"4m7": "4L7 or 4M7", "10 m": "10L or 10M", "4.7 mohm": "4L7 or 4M7", "4,700": "4R7 or 4K7", "4.700 ohm": "4R7 or 4K7", "10,000": "10R or 10K",
	} {
		_, err := loop.Parse(code)
		var ambiguous *loop.AmbiguousError
		if !errors.As(err, &ambiguous) || ambiguous.Text != code || strings.Join(ambiguous.Candidates, " or ") != want {
			t.Errorf("%q: %v, want %s", code, err, want)
		}
	}
}

func TestParseOutOfRange(t *testing.T) {
	for code, quantity := range map[string]string{
		"0": "resistance of the resistor", "0R0": "resistance of the resistor", "1000G": "resistance of the resistor", "0L1": "resistance of the resistor",
		"4K7 51 %": "tolerance of the resistor",
	} {
		_, err := loop.Parse(code)
		wantOutOfRange(t, code, err, quantity)
	}
	for _, ohms := range []float64{0, -1, 9e-4, 1e12, math.NaN(), math.Inf(1), math.Inf(-1)} {
		_, err := loop.Format(ohms)
		wantOutOfRange(t, "format", err, "resistance of the resistor")
	}
}

func wantOutOfRange(t *testing.T, name string, err error, quantity string) {
	t.Helper()
	var out *units.OutOfRange
	if !errors.As(err, &out) || out.Quantity != quantity {
		t.Errorf("%s: %v, want %s out of range", name, err, quantity)
	}
}

// The members are those of the table in IEC 60063.
func TestFormatGoesBackForE24(t *testing.T) {
	for decade := -2; decade <= 8; decade++ {
		for _, member := range e24Table {
			x, err := strconv.ParseFloat(member+"e"+strconv.Itoa(decade), 64)
			if err != nil {
				t.Fatal(err)
			}
			code, err := loop.Format(x)
			if err != nil {
				t.Fatal(err)
			}
			if r, err := loop.Parse(code); err != nil || r.Ohms != x || len(code) > 4 {
				t.Errorf("%g became %s and then %v %v", x, code, r, err)
			}
			if r, err := loop.Parse(strings.ReplaceAll(code, "K", "k") + "J"); err != nil || r != (loop.Resistor{Ohms: x, Tolerance: 5}) {
				t.Errorf("%g became %s and then with J %v %v", x, code, r, err)
			}
		}
	}
}

func TestFormatGoesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(1e-3, 999e9).Draw(t, "x")
		code, err := loop.Format(x)
		if err != nil {
			t.Fatal(err)
		}
		if r, err := loop.Parse(code); err != nil || math.Abs(r.Ohms-x) > 1e-14*x {
			t.Fatalf("%g became %s and then %v %v", x, code, r, err)
		}
	})
}

func FuzzParse(f *testing.F) {
	for _, code := range []string{"R47", "4K7K", "2k2", "4,700", "4m7", "10 kohm", "4.7 MΩ ±5 %", "0", "1G0", "2L2J", "\xff", "4k7j", "R000000000000001"} {
		f.Add(code)
	}
	f.Fuzz(func(t *testing.T, code string) {
		r, err := loop.Parse(code)
		if err != nil {
			var syntax *loop.SyntaxError
			var out *units.OutOfRange
			var ambiguous *loop.AmbiguousError
			switch {
			case errors.As(err, &syntax) && syntax.Want != "" && syntax.Text == code, errors.As(err, &out):
			case errors.As(err, &ambiguous) && len(ambiguous.Candidates) == 2:
				for _, candidate := range ambiguous.Candidates {
					if _, err := loop.Parse(candidate); err != nil {
						t.Fatalf("%q: candidate %v", code, err)
					}
				}
			default:
				t.Fatalf("%q: %v", code, err)
			}
			return
		}
		if !(r.Ohms >= 1e-3 && r.Ohms <= 999e9) || !(r.Tolerance >= 0 && r.Tolerance <= 50) {
			t.Fatalf("%q: %v", code, r)
		}
		again, err := loop.Format(r.Ohms)
		if err != nil {
			t.Fatalf("%q: %v", code, err)
		}
		if back, err := loop.Parse(again); err != nil || back.Ohms != r.Ohms {
			t.Fatalf("%q is %v, %s, then %v %v", code, r, again, back, err)
		}
	})
}
