package intake

import (
	"math"
	"os"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"unicode"
	"unicode/utf8"

	"ferrule/knowledge"
	"ferrule/knowledge/starter"
	"ferrule/knowledge/units"
	"ferrule/rules"
)

// Source: NIST SP 811 (2008), appendix B.8 (foot, inch, yard exactly), B.9 and
// table 8 for the degree Fahrenheit; the rest are SI prefixes.
func TestUnits(t *testing.T) {
	for _, c := range []struct {
		value   float64
		written string
		want    float64
		in      string
	}{
		{1, "ft", 0.3048, "m"}, {1, "inch", 25.4, "mm"}, {1, "inch", 0.0254, "m"}, {1, "yd", 0.9144, "m"}, {100, "ft", 30.48, "m"},
		{212, "f", 100, "C"}, {32, "f", 0, "C"}, {-40, "f", -40, "C"}, {72, "mv", 0.072, "V"}, {0.3, "a", 300, "mA"}, {300, "ma", 0.3, "A"},
		{4.7, "k", 4700, "ohm"}, {2200, "ohm", 2.2, "kohm"}, {90, "s", 1.5, "min"}, {2, "h", 120, "min"}, {36, "h", 1.5, "d"},
		{2300, "mah", 2.3, "Ah"}, {35, "cm", 0.35, "m"}, {1, "mbit", 1000, "kbit/s"}, {50, "%", 50, "%"},
	} {
		ok := false
		in, _ := units.BySymbol(c.in)
		for _, u := range unitsWritten[c.written] {
			if got, fits := u.In(in, c.value); fits {
				ok = true
				if math.Abs(got-c.want) > 1e-12*math.Max(1, math.Abs(c.want)) {
					t.Errorf("%g %s is %v %s, want %v", c.value, c.written, got, c.in, c.want)
				}
			}
		}
		if !ok {
			t.Errorf("%s is not understood in %s", c.written, c.in)
		}
	}
	if _, fits := units.Volt.In(units.Percent, 1); fits {
		t.Error("volts are no share")
	}
}

// emptyReader knows the words of conversation only.
func emptyReader(t testing.TB) *Reader {
	t.Helper()
	program, err := rules.Compile(&knowledge.Pack{})
	if err != nil {
		t.Fatal(err)
	}
	return New(program)
}

// Source: IEC 60062:2016, clause 5.1 (the letter stands for the decimal mark).
func TestLetterForThePoint(t *testing.T) {
	r := emptyReader(t)
	for text, want := range map[string]float64{"4K7": 4700, "4k7": 4700, "2R2": 2.2, "1M0": 1e6, "10v8": 10.8, "3V3": 3.3, "0R5": 0.5, "10K0": 10000} {
		s := r.newScan(text, Context{})
		s.lexicon.spellAll(s.tokens)
		s.found = s.lexicon.find(s.tokens, 1)
		q, ok := s.letterPoint(0)
		if !ok {
			t.Errorf("%s is not understood", text)
			continue
		}
		base := units.Ohm
		if q.units[0].Dimension() == units.Voltage {
			base = units.Volt
		}
		if got, ok := q.units[0].In(base, q.low); !ok || math.Abs(got-want) > 1e-9 {
			t.Errorf("%s: %+v", text, q)
		}
	}
}

func TestNumbers(t *testing.T) {
	for text, want := range map[string]float64{"35": 35, "35,5": 35.5, "35.5": 35.5, "1,500": 1500, "0,500": 0.5, "1,200.5": 1200.5, "12,34": 12.34} {
		if got, ok := parseNumber(text); !ok || got != want {
			t.Errorf("%s is %v %v", text, got, ok)
		}
	}
	for _, text := range []string{"1.2.3", "1,2,3,4", "1.2,3", strings.Repeat("9", 400)} {
		if got, ok := parseNumber(text); ok {
			t.Errorf("%s is %v", text, got)
		}
	}
}

// The words of conversation are part of the program.
func TestConversationWords(t *testing.T) {
	words, err := conversationWords()
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	for _, group := range words {
		seen[group.name] = true
		for language := range group.words {
			if !strings.Contains(" en de pl es fr it nl ", " "+language+" ") {
				t.Errorf("%s: language %q", group.name, language)
			}
		}
		if len(group.words["en"]) == 0 {
			t.Errorf("%s has no English words", group.name)
		}
	}
	for name := range roleNames {
		if !seen[name] {
			t.Errorf("no words for %s", name)
		}
	}
	for name := range commandNames {
		if !seen["command_"+name] {
			t.Errorf("no words for the command %s", name)
		}
	}
	backwards := slices.Clone(words)
	slices.Reverse(backwards)
	for _, order := range []conversation{words, backwards} {
		l := newLexicon()
		if err := l.addConversation(order); err != nil {
			t.Fatal(err)
		}
		for w, want := range map[string]bool{"not": true, "nicht": true, "none": false, "brak": false, "aucun": false} {
			if l.concepts.negative[w] != want {
				t.Errorf("%s merely negates: %v, want %v", w, !want, want)
			}
		}
	}
	if err := newLexicon().addConversation(conversation{{name: "nonsense"}}); err == nil {
		t.Error("an unknown group was taken")
	}
}

// So are the numbers and units in words.
func TestSpokenWords(t *testing.T) {
	words, err := spokenWords()
	if err != nil {
		t.Fatal(err)
	}
	for w, want := range map[string]float64{"seven": 7, "funfunddreissig": 35, "anderthalb": 1.5, "piec": 5, "veintidos": 22, "septante": 70, "ventitre": 23, "anderhalve": 1.5} {
		if got := words.numbers[w]; got != want {
			t.Errorf("%s is %g, want %g", w, got, want)
		}
	}
	for w, want := range map[string]units.Unit{"kiloohm": units.Kiloohm, "mm kwadrat": units.SquareMillimetre, "por ciento": units.Percent, "heures": units.Hour, "per cento": units.Percent, "uur": units.Hour} {
		if got := words.units[w]; got != want {
			t.Errorf("%s is %v, want %v", w, got, want)
		}
	}
	for src, want := range map[string]string{
		"numbers: {en: {six: 6}, fr: {six: 7}}": "six is",
		"units: {en: {furlong: furlong}}":       "furlong is no unit of the pack",
		"numbers: [six":                         "reading numbers.yaml",
	} {
		if _, err := readSpoken([]byte(src)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: got %v, want %q", src, err, want)
		}
	}
}

func TestSpelling(t *testing.T) {
	l := newLexicon()
	for _, w := range []string{"signal", "panel", "sound", "found", "keypad", "enrol", "battery", "siren"} {
		l.add(w+" x", 0, sense{layer: complaint, symptom: w})
	}
	for typed, want := range map[string]string{"singal": "signal", "signl": "signal", "signall": "signal", "kepyad": "keypad", "batery": "battery", "enroll": "enrol"} {
		if got := l.spell.nearest(typed); got == 0 || l.spell.words[got] != want {
			t.Errorf("%s is read as %d, want %s", typed, got, want)
		}
	}
	for _, typed := range []string{"round", "bound", "hound", "pane", "sign", "signals2", "light", "seven", "12345"} {
		if got := l.spell.nearest(typed); got != 0 {
			t.Errorf("%s is read as %s", typed, l.spell.words[got])
		}
	}
}

func TestCollisions(t *testing.T) {
	p, err := knowledge.Load(starter.FS)
	if err != nil {
		t.Skip("the starter pack is being edited: ", err)
	}
	if problems := Collisions(p); len(problems) > 0 {
		t.Errorf("the starter pack: %v", problems)
	}
	p, err = knowledge.Load(os.DirFS("testdata/pack"))
	if err != nil {
		t.Fatal(err)
	}
	if problems := Collisions(p); len(problems) > 0 {
		t.Errorf("the test pack: %v", problems)
	}
	bad, err := knowledge.Load(fstest.MapFS{"bad.yaml": {Data: []byte(badPack)}})
	if err != nil {
		t.Fatal(err)
	}
	problems := Collisions(bad)
	for _, want := range []string{"yes and no of a.lamp", "answers red and blue", "symptoms one and two", "models Moor and Fen", "a.first and a.second"} {
		if !strings.Contains(problems.Error(), want) {
			t.Errorf("%q is not reported in\n%v", want, problems)
		}
	}
	if len(problems) != 5 {
		t.Errorf("%d problems:\n%v", len(problems), problems)
	}
}

const badPack = `
readings:
  - {reading: a.lamp, title: lamp, kind: yes/no, subject: device, words: {en: [lamp lit]}, negative: {en: [Lamp LIT]}, ask: Lit?, place: device, minutes: 1, source: common practice}
  - reading: a.colour
    title: colour
    kind: choice
    subject: device
    choices: [{choice: red, words: {en: [some colour]}}, {choice: blue, words: {de: [some colour]}}]
    ask: Which colour?
    place: device
    minutes: 1
    source: common practice
  - {reading: a.first, title: first, kind: number, unit: V, subject: device, words: {en: [the volts]}, ask: How many?, place: device, minutes: 1, source: common practice}
  - {reading: a.second, title: second, kind: number, unit: V, subject: device, words: {en: [the volts]}, ask: How many?, place: device, minutes: 1, source: common practice}
symptoms:
  - {symptom: one, title: one thing, subject: device, words: {en: [it hums]}, source: common practice}
  - {symptom: two, title: two things, subject: device, words: {en: [it hums]}, source: common practice}
equipment:
  - {model: Moor, class: panel, words: {en: [the box]}, source: invented}
  - {model: Fen, class: hub, words: {en: [the box]}, source: invented}
`

// FuzzTokenize: the tokens are in order, hold no space, and leave nothing out
// but spaces and what can't be seen.
func FuzzTokenize(f *testing.F) {
	for _, s := range []string{"kp1 62%", "won’t", "10v8", "−97 dBm", "e\u0301te\u0301", "\xff\x00a", "1.2.3,4", "Ω ℃"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		end := 0
		for _, x := range tokenize(text) {
			if x.start < end || x.end <= x.start {
				t.Fatalf("%q: %+v behind %d", text, x, end)
			}
			for _, r := range text[end:x.start] {
				if !unicode.IsSpace(r) && !unicode.Is(unicode.Cf, r) {
					t.Fatalf("%q: %q is left out", text, r)
				}
			}
			if x.kind == word && utf8.ValidString(text) && strings.ContainsAny(x.text, " \n\t") {
				t.Fatalf("%q: %+v holds a space", text, x)
			}
			end = x.end
		}
	})
}

// FuzzNumbers reads quantities in anything.
func FuzzNumbers(f *testing.F) {
	for _, s := range []string{"35-40 %", "about > 5 V", "1/2 h", "4k7 ohm", "from 83 to 38", "half an hour", "2026-03-01", "ten volts", "5..8 m", "40-ish"} {
		f.Add(s)
	}
	r := emptyReader(f)
	f.Fuzz(func(t *testing.T, text string) {
		s := r.newScan(text, Context{})
		s.lexicon.spellAll(s.tokens)
		s.found = s.lexicon.find(s.tokens, 1)
		s.parts()
		s.findQuantities()
		end := 0
		for _, q := range s.quantities {
			if q.first < end || q.last <= q.first || q.last > len(s.tokens) || q.low > q.high || q.low != q.low {
				t.Fatalf("%q: %+v", text, q)
			}
			end = q.last
		}
	})
}

// Source: ASTM B258 (areas of 18, 20, 22, 24 and 26 AWG); the cross is how
// cable is printed.
func TestSections(t *testing.T) {
	r := emptyReader(t)
	for text, want := range map[string]float64{
		"18 awg": 0.82305, "20AWG": 0.51762, "22 gauge": 0.32553, "AWG 24": 0.20473, "26awg": 0.12876,
		"4x0.22": 0.22, "8 x 0,22": 0.22, "2x0.5mm2": 0.5, "2x1 mm²": 1, "6×0.22": 0.22,
	} {
		s := r.newScan(text, Context{})
		s.read()
		if len(s.quantities) != 1 || math.Abs(s.quantities[0].low-want) > 5e-6 || s.quantities[0].units[0] != units.SquareMillimetre {
			t.Errorf("%s: %+v", text, s.quantities)
		}
	}
	for _, text := range []string{"3 x 1.5 V", "2 x 4", "41 awg"} {
		s := r.newScan(text, Context{})
		s.read()
		for _, q := range s.quantities {
			if len(q.units) > 0 && q.units[0] == units.SquareMillimetre {
				t.Errorf("%s: %+v", text, q)
			}
		}
	}
}
