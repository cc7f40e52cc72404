package intake_test

import (
	"fmt"
	"os"
	"strings"
	"sync"
	"testing"
	"testing/fstest"
	"time"

	"ferrule/bot/intake"
	"ferrule/knowledge"
	"ferrule/knowledge/starter"
	"ferrule/rules"
)

// starterReader is built once for all tests.
var starterReader = sync.OnceValues(func() (*intake.Reader, error) {
	p, err := knowledge.Load(starter.FS)
	if err != nil {
		return nil, err
	}
	program, err := rules.Compile(p)
	if err != nil {
		return nil, err
	}
	starterPack = p
	return intake.New(program), nil
})

var starterPack *knowledge.Pack

func reader(t testing.TB) (*intake.Reader, *knowledge.Pack) {
	t.Helper()
	r, err := starterReader()
	if err != nil {
		t.Fatal(err)
	}
	return r, starterPack
}

// summary is what was understood of a message, in one line.
func summary(p *knowledge.Pack, m intake.Message) string {
	var parts []string
	for _, s := range m.Symptoms {
		parts = append(parts, s.Symptom)
	}
	for _, g := range m.Readings {
		value := "unavailable"
		if g.Value.State != rules.Unavailable {
			value = rules.Format(p.Reading(g.Reading), g.Value)
		}
		if g.Value.State == rules.Questioned {
			value += " questioned"
		}
		if g.Value.Certainty < 1 {
			value += " unsure"
		}
		parts = append(parts, fmt.Sprintf("%s of %s = %s", g.Reading, g.Subject, value))
	}
	if m.Command != "" {
		parts = append(parts, "command "+string(m.Command))
	}
	if m.Declined != "" {
		parts = append(parts, "declined "+m.Declined)
	}
	if m.Site != "" {
		parts = append(parts, "site "+m.Site)
	}
	return strings.Join(parts, "; ")
}

// TestMessages holds the reader to testdata/messages.txt: a line with a
// message, with the readings that were asked for before it in braces, and the
// line below it with what is understood.
func TestMessages(t *testing.T) {
	src, err := os.ReadFile("testdata/messages.txt")
	if err != nil {
		t.Fatal(err)
	}
	r, p := reader(t)
	n := 0
	lines := strings.Split(string(src), "\n")
	for i, line := range lines {
		text, isMessage := strings.CutPrefix(line, "> ")
		if !isMessage || i+1 == len(lines) {
			continue
		}
		var c intake.Context
		if asked, rest, ok := strings.Cut(text, "} "); ok && strings.HasPrefix(asked, "{") {
			c.Asked, text = strings.Fields(asked[1:]), rest
		}
		n++
		if got := summary(p, r.Read(text, c)); got != strings.TrimSpace(lines[i+1]) {
			t.Errorf("line %d: %s\n got  %s\n want %s", i+1, text, got, lines[i+1])
		}
	}
	if n < 40 {
		t.Errorf("only %d messages", n)
	}
}

func TestTestTimes(t *testing.T) {
	r, _ := reader(t)
	m := r.Read("on test until 16:30 ref LY42", intake.Context{})
	if m.Command != intake.OnTest || m.Until != 16*time.Hour+30*time.Minute || m.Reference != "LY42" {
		t.Errorf("got %+v", m)
	}
	if m := r.Read("on test for 2h", intake.Context{}); m.For != 2*time.Hour {
		t.Errorf("got %+v", m)
	}
}

// A question about two kinds of thing is taken for the pack's question,
// whatever its name, and for none where the pack has two.
func TestQuestionAboutTwoThings(t *testing.T) {
	const one = `
symptoms:
  - {symptom: do_they_fit, title: whether two things fit, question: yes, subject: device, source: invented}
equipment:
  - {model: Wick-W, class: device, words: {en: [wick]}, source: invented}
  - {model: Fen, class: hub, words: {en: [fen]}, source: invented}
`
	two := strings.Replace(one, "equipment:", "  - {symptom: which_fits, title: which one fits, question: yes, subject: device, source: invented}\nequipment:", 1)
	for src, want := range map[string]string{one: "do_they_fit", two: ""} {
		p, err := knowledge.Load(fstest.MapFS{"p.yaml": {Data: []byte(src)}})
		if err != nil {
			t.Fatal(err)
		}
		if got := summary(p, newReader(t, p).Read("can the wick go on a fen?", intake.Context{})); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

// Whatever is typed, the reader answers, and each value points at words that
// are there.
func FuzzRead(f *testing.F) {
	for _, s := range []string{"kp1 62%, kp2 31%", "sorry, 38 not 83", "10v8 at the far end", "hub fw 1.06", "−97dBm", "\xff\x00", "35-40 %"} {
		f.Add(s)
	}
	r, _ := reader(f)
	f.Fuzz(func(t *testing.T, text string) {
		m := r.Read(text, intake.Context{Asked: []string{"radio.signal", "hub.wired_to"}})
		for _, g := range m.Readings {
			if g.Start < 0 || g.Start >= g.End || g.End > len(text) || g.Text != text[g.Start:g.End] {
				t.Fatalf("%q: %+v", text, g)
			}
		}
	})
}

func BenchmarkRead(b *testing.B) {
	r, _ := reader(b)
	text := "wireless keypad won't enrol, gen 2 hub wired to the expander bus, hub fw 1.06, signal 35 %, kp2 31%"
	b.ReportAllocs()
	for b.Loop() {
		r.Read(text, intake.Context{})
	}
}

// An hour is no reading, and the run of a cable does not run.
func TestHoursAndRuns(t *testing.T) {
	r, _ := reader(t)
	for says, want := range map[string]string{
		"two detectors in trouble every night around 3": "",
		"alarm at night around 3":                       "",
		"false alarm at 3 am":                           "",
		"at 3 in the morning, 11.4 V at the expander":   "bus.volts_at_device 11.4",
		"at night around 38 %":                          "radio.signal 34.2",
		"signal 22 at night":                            "radio.signal 22",
		"signal around 22 at night":                     "radio.signal 19.8",
		"Fehlalarm nachts um 3":                         "",
		"fausse alarme la nuit vers 3":                  "",
	} {
		got := ""
		for _, g := range r.Read(says, intake.Context{Fresh: true}).Readings {
			if g.Unit != "" {
				got = fmt.Sprintf("%s %g", g.Reading, g.Value.Low)
			}
		}
		if got != want {
			t.Errorf("%s: got %q; want %q", says, got, want)
		}
	}
	m := r.Read("190 mA on that run", intake.Context{Asked: []string{"keypad.on_key_press"}})
	for _, g := range m.Readings {
		if g.Reading == "keypad.on_key_press" {
			t.Errorf("the run of a cable is taken for an answer: %+v", g)
		}
	}
}

// A number behind "zone" is that of the zone and no resistance.
func TestNumberOfAZone(t *testing.T) {
	r, err := starterReader()
	if err != nil {
		t.Fatal(err)
	}
	for text, subject := range map[string]string{
		"tamper on zone 4": "", "false alarms on zone 12": "", "low battery on zone 7": "", "weak signal on zone 4": "",
		"zone 12 reads 4.7k": "zone 12", "2k2 on zone 5": "zone 5",
	} {
		msg := r.Read(text, intake.Context{Fresh: true})
		for _, g := range msg.Readings {
			if subject == "" || g.Subject.String() != subject {
				t.Errorf("%q gives %s of %s = %s", text, g.Reading, g.Subject, g.Text)
			}
		}
		if subject != "" && len(msg.Readings) == 0 {
			t.Errorf("%q gives nothing", text)
		}
	}
}

// "On test" behind a complaint says when it shows, and puts nothing on test.
func TestOnTestBehindAComplaint(t *testing.T) {
	r, err := starterReader()
	if err != nil {
		t.Fatal(err)
	}
	for text, want := range map[string]intake.Command{
		"siren wont sound on test": intake.NoCommand, "site on test, keypad dead": intake.OnTest, "on test until 4pm": intake.OnTest,
		"keypad dead, on test now": intake.OnTest,
	} {
		if got := r.Read(text, intake.Context{Fresh: true}).Command; got != want {
			t.Errorf("%q is %q; want %q", text, got, want)
		}
	}
}

// One word that an answer shares with a message about something else is no
// answer to what was asked.
func TestOneWordIsNoAnswer(t *testing.T) {
	r, err := starterReader()
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ asked, text string }{
		{"battery.leads", "batt is 5 yrs old"}, {"battery.leads", "swapped transformer, works now"}, {"device.since", "cable is 80 m of 7/0.2"},
		{"device.since", "190 mA on that run"}, {"device.since", "how do i shut it off for now"},
	} {
		for _, g := range r.Read(c.text, intake.Context{Asked: []string{c.asked}}).Readings {
			if g.Reading == c.asked {
				t.Errorf("%q answers %s with %q", c.text, c.asked, g.Value.Text)
			}
		}
	}
}

// Asking how to put an alarm out of action is turned down in the words that
// people use on a phone.
func TestDefeatInShortWords(t *testing.T) {
	r, err := starterReader()
	if err != nil {
		t.Fatal(err)
	}
	for _, text := range []string{"can u turn the siren off for good, neighbor complains", "how do i disable the tamper switch so they dont notice"} {
		if got := r.Read(text, intake.Context{Fresh: true}).Declined; got != "defeat_alarm" {
			t.Errorf("%q: declined %q", text, got)
		}
	}
}
