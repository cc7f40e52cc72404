package calc

import (
	"errors"
	"math"
	"strings"
	"testing"

	"ferrule/knowledge/units"
)

func mustFind(t testing.TB, name string) Kind {
	t.Helper()
	k, ok := Find(name)
	if !ok {
		t.Fatalf("there is no calculation %s", name)
	}
	return k
}

// The wanted values are what the sentences say, in the units of the fields; the
// sections are worked out by hand (7 strands of 0.2 mm have 7 pi 0.1^2 =
// 0.219911 mm2; ASTM B258 gives 24 AWG 0.20473 mm2).
func TestSentences(t *testing.T) {
	for _, c := range []struct {
		kind, sentence string
		want           map[string]float64
		choices        map[string]string
	}{
		{"cable", "100 m of 7/0.2, 2 cores, 300 mA, from 13.8 V", map[string]float64{"length": 100, "section": 0.219911, "cores": 2, "current": 0.3, "volts": 13.8}, nil},
		{"cable", "40 m of 0.22 mm2, 2 cores, 85 mA at the end", map[string]float64{"length": 40, "section": 0.22, "cores": 2, "current": 0.085}, nil},
		{"cable", "40m of 0,22, 4 cores, .5 A, needs 10.5V, 13.6 V at the panel", map[string]float64{"length": 40, "section": 0.22, "cores": 4, "current": 0.5, "least-volts": 10.5, "volts": 13.6}, nil},
		{"cable", "300 ft 24 AWG copper clad aluminium, 60 mA, 210 mA in alarm, battery 10.8 V", map[string]float64{"length": 91.44, "section": 0.20473, "current": 0.06, "alarm-current": 0.21, "battery-volts": 10.8}, map[string]string{"metal": "copper-clad aluminium"}},
		{"cable", "20 m of 1.5 mm2, 5 W, 40 °C", map[string]float64{"length": 20, "section": 1.5, "power": 5, "temperature": 40}, nil},
		{"radio", "38 % at 12 m, 2 brick walls, 1 slab", map[string]float64{"level": 38, "distance": 12, "heavy-walls": 2, "slabs": 1}, nil},
		{"radio", "-77 dBm at 25 m through three partitions and one floor, 14 mW", map[string]float64{"dbm": -77, "distance": 25, "light-walls": 3, "slabs": 1, "power": 14}, nil},
		{"radio", "12 m, 1 brick wall, 1 concrete wall, limit 45 %", map[string]float64{"distance": 12, "heavy-walls": 2, "limit": 45}, nil},
		{"battery", "7 Ah, 350 mA, grade 2, alarm 900 mA for 15 min", map[string]float64{"capacity": 7, "current": 0.35, "grade": 2, "alarm-current": 0.9, "alarm-time": 15}, nil},
		{"battery", "12.4 V at rest, 4 years old, 11.2 V under load at 2 A load current", map[string]float64{"volts": 12.4, "age": 4, "loaded-volts": 11.2, "load-current": 2}, nil},
		{"battery", "2.4 Ah cell, 12 uA sleep, 35 mA transmitting 80 ms every 10 min", map[string]float64{"capacity": 2.4, "sleep-current": 12, "send-current": 35, "send-time": 0.08, "send-interval": 10}, nil},
		{"battery", "17 Ah, 0.48 A, needs 24 h, charger 1.2 A", map[string]float64{"capacity": 17, "current": 0.48, "hours": 24, "charger-current": 1.2}, nil},
		{"loop", "2k2 end, 4k7 alarm, measured 6.9 k", map[string]float64{"end": 2200, "alarm": 4700, "measured": 6900}, nil},
		{"loop", "one resistor 2k2, measured 1.1 k", map[string]float64{"end": 2200, "measured": 1100}, nil},
		{"loop", "2200 end reads 4400", map[string]float64{"end": 2200, "measured": 4400}, nil},
		{"loop", "4K7 end, 4K7 alarm, 2K2 fault, 1 % tolerance, 100 m of 0.22 mm2, meter shows OL", map[string]float64{"end": 4700, "alarm": 4700, "fault": 2200, "tolerance": 1, "length": 100, "section": 0.22}, map[string]string{"meter": "overload"}},
	} {
		in, err := mustFind(t, c.kind).Read(c.sentence)
		if err != nil {
			t.Errorf("%s: %v", c.sentence, err)
			continue
		}
		for name, want := range c.want {
			if got, ok := in.numbers[name]; !ok || math.Abs(got-want) > 1e-4*math.Abs(want) {
				t.Errorf("%s: %s is %v (%v), want %v", c.sentence, name, got, ok, want)
			}
		}
		if len(in.numbers) != len(c.want) {
			t.Errorf("%s: understood %v, want %v", c.sentence, in.numbers, c.want)
		}
		for name, want := range c.choices {
			if in.choices[name] != want {
				t.Errorf("%s: %s is %q, want %q", c.sentence, name, in.choices[name], want)
			}
		}
	}
}

func TestPartsOfASentence(t *testing.T) {
	in, err := mustFind(t, "cable").Read("60 m of 0.22 mm2, 62 mA, then 40 m, 120 mA, also 30 m, 38 mA, battery 11.5 V")
	if err != nil {
		t.Fatal(err)
	}
	var lengths, currents []float64
	for part := range in.parts() {
		lengths, currents = append(lengths, part.numbers["length"]), append(currents, part.numbers["current"])
	}
	if len(lengths) != 3 || lengths[0] != 60 || lengths[1] != 40 || lengths[2] != 30 || currents[0] != 0.062 || currents[1] != 0.12 || currents[2] != 0.038 {
		t.Errorf("lengths %v, currents %v", lengths, currents)
	}
	if in.next[0].branch || !in.next[1].branch || in.numbers["battery-volts"] != 11.5 {
		t.Errorf("branches %v %v, battery %v", in.next[0].branch, in.next[1].branch, in.numbers["battery-volts"])
	}
}

func TestSentencesThatAreNoneSayWhy(t *testing.T) {
	for _, c := range []struct{ kind, sentence, want string }{
		{"cable", "40 m of 0.22 mm2, 85 mA, 7 q", `"7": give it a unit, or say what it counts: cores`},
		{"cable", "40 m, 60 m, 0.22 mm2, 85 mA", `"60 m": say which one it is: length of the cable, one way`},
		{"cable", "40 m of 0.22 mm2, 85 mA, 9 kbit", "no quantity here is in this unit"},
		{"cable", "40 m, 85 mA", "say the section of a core, such as 0.22 mm2"},
		{"cable", "40 m of 0.22 mm2", "say the current that is drawn at the end, such as 85 mA"},
		{"cable", "0.22 mm2, 85 mA", "say the length of the cable"},
		{"radio", "38 %", "say the distance in a straight line, such as 12 m"},
		{"radio", "", "say the distance"},
		{"radio", "12 m, 3 bricc wals", `"3": give it a unit, or say what it counts: floors between the storeys; walls of brick, block or concrete`},
		{"battery", "", "say the capacity and the current"},
		{"loop", "measured 6.9 k", "say the end-of-line resistor"},
		{"loop", "2k2 end, 2k2 fault", "say the resistor over the alarm contact"},
		{"version", "2.9", "say the two versions, such as 2.9 2.10"},
	} {
		k := mustFind(t, c.kind)
		in, err := k.Read(c.sentence)
		if err == nil {
			_, err = k.Work(in)
		}
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s %q: %v, want %s", c.kind, c.sentence, err, c.want)
		}
	}
}

// What can't be is refused by the quantity, with the value and what holds.
func TestQuantitiesThatCannotBe(t *testing.T) {
	for _, c := range []struct{ kind, sentence, quantity string }{
		{"cable", "-5 m of 0.22 mm2, 1 A", "length of the cable"},
		{"cable", "5 m of 0.22 mm2, -1 A", "current of the load"},
		{"cable", "5 m of 0 mm2, 1 A", "section of the conductor"},
		{"cable", "5 m of 0.22 mm2, 1 A, 0 cores", "number of cores, both ways together"},
		{"cable", "5 m of 0.22 mm2, 1 A, 300 °C", "temperature of the cable"},
		{"radio", "0 m", "distance"},
		{"radio", "12 m, 0 mW", "power"},
		{"radio", "12 m, 140 %", "percent"},
		{"battery", "7 Ah, 0 A", "standby current"},
		{"battery", "7 Ah, 0.3 A, grade 9", "security grade"},
		{"battery", "7 Ah, 0.3 A, 200 °C", "temperature of the battery"},
		{"loop", "2k2 end, 90 % tolerance", "tolerance of the end-of-line resistor"},
	} {
		k := mustFind(t, c.kind)
		in, err := k.Read(c.sentence)
		if err == nil {
			_, err = k.Work(in)
		}
		var out *units.OutOfRange
		if !errors.As(err, &out) {
			t.Errorf("%s %q: %v", c.kind, c.sentence, err)
		} else if out.Quantity != c.quantity {
			t.Logf("%s %q: the quantity is called %q", c.kind, c.sentence, out.Quantity)
			t.Fail()
		}
	}
}

func TestFlags(t *testing.T) {
	in := mustFindKind(t, "cable").empty()
	for _, set := range [][2]string{{"length", "40 m"}, {"section", "0.22"}, {"current", "85 mA"}, {"cores", "4"}, {"metal", "cca"}} {
		if err := in.Set(set[0], set[1]); err != nil {
			t.Errorf("--%s %q: %v", set[0], set[1], err)
		}
	}
	if in.numbers["current"] != 0.085 || in.numbers["cores"] != 4 || in.numbers["section"] != 0.22 || in.choices["metal"] != "copper-clad aluminium" {
		t.Errorf("%v %v", in.numbers, in.choices)
	}
	for _, set := range [][3]string{
		{"length", "40 V", "--length is in m"}, {"length", "long", "write one number with its unit for --length"},
		{"metal", "gold", "--metal is one of copper, copper-clad aluminium"}, {"colour", "red", "no such quantity"},
	} {
		if err := in.Set(set[0], set[1]); err == nil || !strings.Contains(err.Error(), set[2]) {
			t.Errorf("--%s %q: %v, want %s", set[0], set[1], err, set[2])
		}
	}
}

func mustFindKind(t testing.TB, name string) *Kind {
	k := mustFind(t, name)
	return &k
}

// FuzzSentence: whatever is written, a sentence is worked out or refused, and no
// step is anything but a number.
func FuzzSentence(f *testing.F) {
	for _, k := range Kinds() {
		for _, e := range k.Examples {
			f.Add(e)
		}
	}
	f.Add("-1 m of 1e300 mm2, 0 A then then also 7 V")
	f.Fuzz(func(t *testing.T, sentence string) {
		for _, k := range Kinds() {
			in, err := k.Read(sentence)
			if err != nil {
				continue
			}
			sheet, err := k.Work(in)
			if err != nil {
				continue
			}
			if len(sheet.Answer) == 0 || sheet.Answer[0] == "" {
				t.Errorf("%s %q: no answer", k.Name, sentence)
			}
			for _, s := range sheet.Steps {
				if math.IsNaN(s.Value) || math.IsInf(s.Value, 0) {
					t.Errorf("%s %q: %s is %v", k.Name, sentence, s.Name, s.Value)
				}
			}
		}
	})
}
