package calc

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"ferrule/knowledge/units"
)

// work reads a sentence and works it out.
func work(kind, sentence string) (*Input, *Sheet, error) {
	k, _ := Find(kind)
	in, err := k.Read(sentence)
	if err != nil {
		return nil, nil, err
	}
	sheet, err := k.Work(in)
	return in, sheet, err
}

type numbers = map[string]float64

// What a technician writes without commas, or with a word between two numbers.
// The wanted values are what the sentences say, in the units of the fields.
func TestLabels(t *testing.T) {
	for _, c := range []struct {
		kind, sentence string
		want           numbers
	}{
		{"loop", "loop: eol 2k2 alarm 4k7 measured 6k9", numbers{"end": 2200, "alarm": 4700, "measured": 6900}},
		{"loop", "2k2 eol 4k7 alarm measured 6k9", numbers{"end": 2200, "alarm": 4700, "measured": 6900}},
		{"battery", "battery: 17 Ah 480 mA charger 1.2 A grade 3", numbers{"capacity": 17, "current": 0.48, "charger-current": 1.2, "grade": 3}},
		{"battery", "rest 480 mA alarm 900 mA 15 min 17 Ah", numbers{"capacity": 17, "current": 0.48, "alarm-current": 0.9, "alarm-time": 15}},
		{"battery", "17 Ah 480 mA alarm 900 mA 15 min", numbers{"capacity": 17, "current": 0.48, "alarm-current": 0.9, "alarm-time": 15}},
		{"battery", "7 Ah 1 A alarm 2 A", numbers{"capacity": 7, "current": 1, "alarm-current": 2}},
		{"battery", "7 Ah 2 A alarm 1 A", numbers{"capacity": 7, "current": 1, "alarm-current": 2}},
		{"battery", "7 Ah, 350 mA 720 min", numbers{"capacity": 7, "current": 0.35, "hours": 12}},
		{"battery", "0.35 A at rest 0.9 A in alarm for 30 min 24 h", numbers{"current": 0.35, "alarm-current": 0.9, "alarm-time": 30, "hours": 24}},
		{"battery", "12.9 V, charger off 3 h ago", numbers{"volts": 12.9, "rest-time": 3}},
		{"battery", "7Ah 3A", numbers{"capacity": 7, "current": 3}},
		{"cable", "from 13.8 V down to 9 V, 40 m, 0.5, 1A", numbers{"volts": 13.8, "least-volts": 9, "length": 40, "section": 0.5, "current": 1}},
		{"cable", "40 m of 0.22\nalarm 250 mA\n85 mA\n13.8 V", numbers{"length": 40, "section": 0.22, "alarm-current": 0.25, "current": 0.085, "volts": 13.8}},
		{"cable", "300 ft 22 awg 2 cores 300 mA 13.8 V least 11 V", numbers{"length": 91.44, "section": 0.32552, "cores": 2, "current": 0.3, "volts": 13.8, "least-volts": 11}},
		{"cable", "keypad 60 m away on 6 core 7/0.2, takes 90 mA, gets 11.2 V, panel 13.6 V", numbers{"length": 60, "section": 0.219911, "current": 0.09, "measured-volts": 11.2, "volts": 13.6}},
		{"battery", "7 Ah, 350 mA for 12 h", numbers{"capacity": 7, "current": 0.35, "hours": 12}},
		{"battery", "7 Ah, 350 mA for 720 min", numbers{"capacity": 7, "current": 0.35, "hours": 12}},
		{"battery", "17 Ah, rest 350 mA for 12 h alarm 900 mA for 0.5 h", numbers{"capacity": 17, "current": 0.35, "hours": 12, "alarm-current": 0.9, "alarm-time": 30}},
		{"battery", "7 Ah, 350 mA, grade two", numbers{"capacity": 7, "current": 0.35, "grade": 2}},
		{"battery", "7 Ah, standby 350 mA, grade 3", numbers{"capacity": 7, "current": 0.35, "grade": 3}},
		{"battery", "7 Ah, it draws .35 A", numbers{"capacity": 7, "current": 0.35}},
		{"battery", "7Ah,.35A,grade 2", numbers{"capacity": 7, "current": 0.35, "grade": 2}},
		{"battery", "17 Ah, 0.48 A, held 2 h", numbers{"capacity": 17, "current": 0.48, "held": 2}},
		{"battery", "17 Ah, 0.48 A, lasted 4 h, grade 2", numbers{"capacity": 17, "current": 0.48, "held": 4, "grade": 2}},
		{"battery", "two 17 Ah batteries, 0.48 A", numbers{"capacity": 34, "current": 0.48}},
		{"battery", "2 x 7 Ah, 0.35 A", numbers{"capacity": 14, "current": 0.35}},
		{"battery", "grade 2 17 Ah 480 mA", numbers{"capacity": 17, "current": 0.48, "grade": 2}},
		{"battery", "12 V 17 Ah, 480 mA", numbers{"capacity": 17, "current": 0.48, "nominal": 12}},
		{"battery", "17 Ah, 12 V at rest, 480 mA", numbers{"capacity": 17, "current": 0.48, "volts": 12}},
		{"battery", "12.4 V at rest, 11.2 V under load at 2 A", numbers{"volts": 12.4, "loaded-volts": 11.2, "load-current": 2}},
		{"battery", "2.4 Ah cell, sleeps 12 µA, 35 mA, for 50 ms, each 4 minutes", numbers{"capacity": 2.4, "sleep-current": 12, "send-current": 35, "send-time": 0.05, "send-interval": 4}},
		{"battery", "2400 mAh, asleep 9 uA, sends 40 mA 100 ms once an hour", numbers{"capacity": 2.4, "sleep-current": 9, "send-current": 40, "send-time": 0.1, "send-interval": 60}},
		{"battery", "2.4 Ah, 12 uA sleep, tx 35 mA for 80 ms every 10 min", numbers{"capacity": 2.4, "sleep-current": 12, "send-current": 35, "send-time": 0.08, "send-interval": 10}},
		{"cable", "cable: rest 60 mA alarm 250 mA 40 m 0.22", numbers{"length": 40, "section": 0.22, "current": 0.06, "alarm-current": 0.25}},
		{"cable", "40 m, 0.22, 1 A alarm 2 A", numbers{"length": 40, "section": 0.22, "current": 1, "alarm-current": 2}},
		{"cable", "cable: 120 m 24 AWG 150mA 13.7V needs at least 11V", numbers{"length": 120, "section": 0.20473, "current": 0.15, "volts": 13.7, "least-volts": 11}},
		{"cable", "battery down to 10.8 V, needs 9 V, 60 m, 100 mA, 7/0.2", numbers{"length": 60, "section": 0.219911, "current": 0.1, "battery-volts": 10.8, "least-volts": 9}},
		{"cable", "panel 13.7 V battery 11 V keypad needs 10 V, 120 m 7/0.2 150 mA", numbers{"length": 120, "section": 0.219911, "current": 0.15, "volts": 13.7, "battery-volts": 11, "least-volts": 10}},
		{"cable", "40m,7/0.2,85ma,13.8v", numbers{"length": 40, "section": 0.219911, "current": 0.085, "volts": 13.8}},
		{"cable", "40 m of 24x0.2, 85 mA", numbers{"length": 40, "section": 0.753982, "current": 0.085}},
		{"cable", "40 m of 7x0.2, 85 mA", numbers{"length": 40, "section": 0.219911, "current": 0.085}},
		{"cable", "40 m of 4x0.22, 85 mA", numbers{"length": 40, "section": 0.22, "current": 0.085}},
		{"cable", "40 m of 8-core 0.22, 85 mA", numbers{"length": 40, "section": 0.22, "current": 0.085}},
		{"cable", "40 m 6 core 7/0.2 85 mA", numbers{"length": 40, "section": 0.219911, "current": 0.085}},
		{"cable", "40 m of 8-core 0.22 doubled up, 85 mA", numbers{"length": 40, "section": 0.22, "current": 0.085, "cores": 4}},
		{"cable", "there and back 80 m, 0.22, 85 mA", numbers{"loop-length": 80, "section": 0.22, "current": 0.085}},
		{"cable", "80 m total loop 0.22, 85 mA", numbers{"loop-length": 80, "section": 0.22, "current": 0.085}},
		{"cable", "40 m of 0.6 mm solid, 85 mA", numbers{"length": 40, "solid": 0.6, "current": 0.085}},
		{"cable", "40 m, solid 0.6 mm, 85 mA", numbers{"length": 40, "solid": 0.6, "current": 0.085}},
		{"cable", "40 m 0.6 mm diameter 85 mA", numbers{"length": 40, "solid": 0.6, "current": 0.085}},
		{"cable", "40 m 0.22 85 mA, 13.7 V at the panel, 11.1 V at the detector", numbers{"length": 40, "section": 0.22, "current": 0.085, "volts": 13.7, "measured-volts": 11.1}},
		{"cable", "40 m 0.22 85 mA 13.7 V at the panel 11.1 V at the keypad", numbers{"length": 40, "section": 0.22, "current": 0.085, "volts": 13.7, "measured-volts": 11.1}},
		{"cable", "40 m 0.22 85 mA, measured 11.1 V at the end", numbers{"length": 40, "section": 0.22, "current": 0.085, "measured-volts": 11.1}},
		{"cable", "40 m 0.22 85 mA, far end 11.1 V", numbers{"length": 40, "section": 0.22, "current": 0.085, "measured-volts": 11.1}},
		{"radio", "radio: reads 38 % limit 45 % 12 m", numbers{"level": 38, "limit": 45, "distance": 12}},
		{"radio", "38 % limit 45 % 12 m", numbers{"level": 38, "limit": 45, "distance": 12}},
		{"radio", "12 m, needs 45 %, shows 38 %", numbers{"level": 38, "limit": 45, "distance": 12}},
		{"radio", "12 m, a brick wall", numbers{"distance": 12, "heavy-walls": 1}},
		{"radio", "12 m brick wall", numbers{"distance": 12, "heavy-walls": 1}},
		{"radio", "12 m through a brick wall, a plasterboard partition and a roller shutter", numbers{"distance": 12, "heavy-walls": 1, "light-walls": 1, "metal-doors": 1}},
		{"radio", "12 m, three plasterboard walls and a concrete floor", numbers{"distance": 12, "light-walls": 3, "slabs": 1}},
		{"radio", "12 m behind a coated window", numbers{"distance": 12, "coated-windows": 1}},
		{"radio", "12 m, 2 stud walls, 1 solid wall, 1 wall, 2 wooden floors, a fire door, low-e window", numbers{"distance": 12, "light-walls": 2, "heavy-walls": 2, "timber-floors": 2, "metal-doors": 1, "coated-windows": 1}},
		{"radio", "12 m, one foil-backed wall, 2 walls of plasterboard", numbers{"distance": 12, "foil-walls": 1, "light-walls": 2}},
		{"radio", "30 % 8 m wooden door brick wall", numbers{"level": 30, "distance": 8, "heavy-walls": 1}},
		{"radio", "8 m through brick wall window concrete floor slab partition wall", numbers{"distance": 8, "heavy-walls": 1, "windows": 1, "slabs": 1, "light-walls": 1}},
		{"radio", "12 m, two 9 inch brick walls, a 10 cm plasterboard wall", numbers{"distance": 12, "heavy-walls": 2, "light-walls": 1}},
		{"radio", "12 m, no walls", numbers{"distance": 12}},
	} {
		if _, _, err := work(c.kind, c.sentence); err != nil {
			t.Errorf("%s: %v", c.sentence, err)
			continue
		}
		in, err := mustFindKind(t, c.kind).Read(c.sentence)
		if err != nil {
			t.Fatal(err)
		}
		for name, want := range c.want {
			if got, ok := in.numbers[name]; !ok || math.Abs(got-want) > 1e-4*math.Abs(want) {
				t.Errorf("%s: %s is %v (%v), want %v", c.sentence, name, got, ok, want)
			}
		}
		if len(in.numbers) != len(c.want) {
			t.Errorf("%s: understood %v, want %v", c.sentence, in.numbers, c.want)
		}
	}
}

// What is silently wrong is worse than what is refused.
func TestRefusals(t *testing.T) {
	for _, c := range []struct{ kind, sentence, want string }{
		{"cable", "40 m, 60 m, 0.22 mm2, 85 mA", `"60 m": say which one it is: length of the cable, one way; length of the cable, there and back`},
		{"cable", "40 m of 0.22, 85 mA, 250 mA", `"250 mA": say which one it is: current drawn at the end, at rest; current drawn at the end in alarm`},
		{"cable", "40 m of 0.6 mm, 85 mA", "is that a diameter or a section? write 0.6 mm solid or 0.6 mm2"},
		{"cable", "40 m of 0.22, 85 mA, 2.5 cores", "a whole number"},
		{"cable", "40 m, 0.22, 85 mA, 11.2 V, panel 13.6 V", `"11.2 V": say which one it is`},
		{"cable", "panel gives 13.4, 40 m, 120 mA", "give it a unit"},
		{"battery", "12.1 V, under load 0.5 A", "voltage at rest, the voltage under load"},
		{"radio", "12 m, second floor", "say how many floors"},
		{"radio", "12 m, brick walls", "say how many brick walls"},
		{"radio", "12 m, several plasterboard walls", "say how many plasterboard walls"},
		{"radio", "12 m, a couple of walls", "say how many walls"},
		{"radio", "12 m, 2.5 brick walls", "a whole number"},
		{"radio", "38 %, -70 dBm, 12 m", "either in % or in dBm"},
		{"battery", "7 Ah, 350 mA, grade 2.5", "a whole number"},
	} {
		if _, _, err := work(c.kind, c.sentence); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %s", c.sentence, err, c.want)
		}
	}
	for _, c := range []struct{ kind, sentence, quantity string }{
		{"radio", "12 m, -2 brick walls", "walls of brick, block or concrete"},
		{"radio", "3 dBm, 12 m", "level that was measured"},
		{"radio", "12 m, 1000000000 brick walls", "walls of brick, block or concrete"},
		{"battery", "16.5 V at rest", "voltage of the battery"},
		{"battery", "3 V at rest", "voltage of the battery"},
		{"battery", "230 V", "voltage of the battery"},
		{"loop", "0 ohm end", "end-of-line resistor"},
	} {
		_, _, err := work(c.kind, c.sentence)
		var out *units.OutOfRange
		if !errors.As(err, &out) || out.Quantity != c.quantity {
			t.Errorf("%s: %v, want %s", c.sentence, err, c.quantity)
		}
	}
	_, _, err := work("radio", "38 % at 0.01 m, 1 wall")
	if err == nil || !strings.Contains(err.Error(), "0.01 m") {
		t.Errorf("the distance that was said is not the one refused: %v", err)
	}
	in := mustFindKind(t, "cable").empty()
	if err := in.Set("section", "0.6mm"); err == nil || !strings.Contains(err.Error(), "0.6 mm solid or 0.6 mm2") {
		t.Errorf("--section 0.6mm: %v", err)
	}
}

func TestUnused(t *testing.T) {
	for _, c := range []struct {
		kind, sentence string
		want           []string
	}{
		{"radio", "38 % at 12 m upstairs, 1 brick wall", []string{"upstairs"}},
		{"radio", "8 m, wooden door, 9 inch brick wall", []string{"9 inch", "wooden", "door"}},
		{"radio", "12 m behind a tin shed", []string{"tin", "shed"}},
		{"cable", "40 m of 0.22, 85 mA, nneds 10 V", []string{"nneds"}},
		{"cable", "100 m of 7/0.2, 2 cores, 300 mA, from 13.8 V", nil},
		{"radio", "-77 dBm at 25 m through three partitions and one floor, 14 mW", nil},
		{"battery", "2.4 Ah cell, 12 uA sleep, 35 mA transmitting 80 ms every 10 min", nil},
		{"version", "panel has 4.05, needs at least 4.12", nil},
	} {
		_, sheet, err := work(c.kind, c.sentence)
		if err != nil {
			t.Errorf("%s: %v", c.sentence, err)
		} else if !slices.Equal(sheet.Unused, c.want) {
			t.Errorf("%s: not used %q, want %q", c.sentence, sheet.Unused, c.want)
		}
	}
	for _, k := range Kinds() {
		for _, e := range k.Examples {
			if _, sheet, err := work(k.Name, e); err != nil || len(sheet.Unused) > 0 {
				t.Errorf("%s: %v", e, err)
			}
		}
	}
}
