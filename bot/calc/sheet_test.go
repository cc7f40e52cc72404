package calc

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// What the sheets say has to be what the published values say: the packages are
// held against more of them; here it is the way from the words to the answer.
func TestSheetsAgainstPublishedValues(t *testing.T) {
	for _, c := range []struct {
		kind, sentence, step string
		want, near           float64
		source               string
	}{
		{"cable", "100 m of 7/0.2, 2 cores, 300 mA, from 13.8 V", "voltage at point 1, on mains", 9.096, 5e-4, "IACS: 78.400 ohm/km, 4.7040 V of 13.8 V"},
		{"cable", "100 m of 7/0.2, 2 cores, 300 mA, from 13.8 V", "one core", 78.400, 5e-3, "IACS, ohm/km"},
		{"cable", "1 m of 7/0.2, 1 A, 50 C", "one core", 87.643, 5e-3, "IACS and 0.00393 for each degree"},
		{"cable", "1000 ft of 24 AWG, 1 mA", "one core", 84.213, 5e-3, "ASTM B258 and IACS, ohm/km"},
		{"radio", "100 m, 869.525 MHz", "free space", 71.2334, 5e-5, "ITU-R P.525, exact form"},
		{"radio", "12 m", "margin for 90 % of places", 6.4078, 1e-3, "z = 1.281552, times 5 dB"},
		{"radio", "12 m, 6 dB spread", "margin for 90 % of places", 7.689, 5e-4, "z sigma for 6 dB"},
		{"radio", "20 m, 868 MHz, 2 partitions, 1 brick wall", "loss of the way", 70.9388, 5e-5, "COST 231 final report (1999), 4.7"},
		{"radio", "30 m, 900 MHz, 3 partitions, 2 brick walls, 2 slabs", "loss of the way", 118.5987, 5e-5, "COST 231 final report (1999), 4.7"},
		{"battery", "12 h at 0.35 A", "capacity needed on the label", 4.2 / 0.8, 1e-9, "12 h x 0.35 A = 4.2 Ah, four fifths left"},
		{"battery", "60 h at 0.10 A", "capacity needed on the label", 6.0 / 0.8, 1e-9, "60 h x 0.10 A = 6.0 Ah, four fifths left"},
		{"loop", "2k2 end, 0.0001 % tolerance, 100 m of 7/0.2", "normal, at least", 2215.68, 6e-3, "15.680 ohm of cable and 2200 ohm"},
		{"loop", "5k6 end, 1 % tolerance, 0 ohm cable", "normal, at least", 5544, 1e-9, "5k6 at 1 %"},
	} {
		k := mustFind(t, c.kind)
		in, err := k.Read(c.sentence)
		if err != nil {
			t.Errorf("%s: %v", c.sentence, err)
			continue
		}
		sheet, err := k.Work(in)
		if err != nil {
			t.Errorf("%s: %v", c.sentence, err)
			continue
		}
		found := false
		for _, s := range sheet.Steps {
			if s.Name == c.step {
				found = true
				if math.Abs(s.Value-c.want) > c.near {
					t.Errorf("%s: %s is %v, want %v (%s)", c.sentence, c.step, s.Value, c.want, c.source)
				}
			}
		}
		if !found {
			t.Errorf("%s: no step %s among %v", c.sentence, c.step, sheet.Steps)
		}
	}
}

// testdata/radio/expected-level.md says what the two paths have to give.
func TestTheSameLevelOnTwoWays(t *testing.T) {
	for sentence, want := range map[string][2]string{
		"38 % at 12 m, 2 brick walls, 1 slab": {"38 % is what the way gives", "It is below the limit of 40 % all the same"},
		"38 % at 6 m in the open":             {"Something is wrong", "It is below the limit of 40 % all the same"},
	} {
		k := mustFind(t, "radio")
		in, err := k.Read(sentence)
		if err != nil {
			t.Fatal(err)
		}
		sheet, err := k.Work(in)
		if err != nil {
			t.Fatal(err)
		}
		for i := range want {
			if !strings.HasPrefix(sheet.Answer[i], want[i]) {
				t.Errorf("%s: %q, want %q", sentence, sheet.Answer[i], want[i])
			}
		}
	}
}

func TestShow(t *testing.T) {
	for _, c := range []struct {
		x    float64
		unit string
		want string
	}{
		{38, "%", "38 %"}, {0.085, "A", "85 mA"}, {1.2, "A", "1.2 A"}, {0.9996, "A", "1 A"}, {2200, "ohm", "2.2 kohm"}, {4.7e6, "ohm", "4.7 Mohm"}, {999.6, "ohm", "1000 ohm"},
		{0, "V", "0 V"}, {-77.777, "dBm", "-77.8 dBm"}, {9.0959, "V", "9.1 V"}, {1234.5, "m", "1234 m"}, {0.00001, "h", "0.00001 h"}, {20, "C", "20 °C"}, {-0.0000001, "V", "0 V"}, {3, "", "3"},
	} {
		if got := Show(c.x, c.unit); got != c.want {
			t.Errorf("%v %s is shown as %s, want %s", c.x, c.unit, got, c.want)
		}
	}
}

// What is shown can be read again, within its three figures.
func TestShownNumbersReadBack(t *testing.T) {
	k := mustFindKind(t, "cable")
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(0.001, 90000).Draw(t, "metres")
		in := k.empty()
		if err := in.Set("length", Show(x, "m")); err != nil {
			t.Fatal(err)
		}
		if math.Abs(in.numbers["length"]-x) > 0.005*x {
			t.Fatalf("%v was shown as %s and read as %v", x, Show(x, "m"), in.numbers["length"])
		}
	})
}

// More of what takes voltage away never leaves more of it.
func TestMoreCableNeverHelps(t *testing.T) {
	k := mustFindKind(t, "cable")
	last := func(t *rapid.T, numbers map[string]float64) float64 {
		in := k.empty()
		for name, x := range numbers {
			in.numbers[name] = x
		}
		sheet, err := k.Work(in)
		if err != nil {
			return math.Inf(-1)
		}
		for _, s := range sheet.Steps {
			if s.Name == "voltage at point 1, on mains" {
				return s.Value
			}
		}
		return math.Inf(-1) // it collapses
	}
	rapid.Check(t, func(t *rapid.T) {
		numbers := map[string]float64{
			"length": rapid.Float64Range(0, 300).Draw(t, "length"), "section": rapid.Float64Range(0.1, 2.5).Draw(t, "section"),
			"current": rapid.Float64Range(0, 2).Draw(t, "current"), "power": rapid.Float64Range(0.01, 5).Draw(t, "power"), "temperature": rapid.Float64Range(-10, 70).Draw(t, "temperature"),
		}
		before := last(t, numbers)
		name := rapid.SampledFrom([]string{"length", "current", "power", "temperature"}).Draw(t, "more of")
		numbers[name] *= rapid.Float64Range(1, 2).Draw(t, "times")
		if name == "temperature" {
			numbers[name] = math.Abs(numbers[name])
		}
		if after := last(t, numbers); after > before+1e-9 {
			t.Fatalf("more %s: %v V became %v V", name, before, after)
		}
	})
}

// A cable can't carry the supply in more cores than it has.
func TestNoMoreCoresThanThereAre(t *testing.T) {
	k := mustFind(t, "cable")
	in, err := k.Read("60 m of 0.22 mm2, 4 cores, 62 mA, then 40 m 2-core, 120 mA")
	if err != nil {
		t.Fatal(err)
	}
	sheet, err := k.Work(in)
	if err != nil {
		t.Fatal(err)
	}
	if text := fmt.Sprint(sheet.Assumed); !strings.Contains(text, "2 of the 2 in the cable") {
		t.Errorf("assumed: %s", text)
	}
}
