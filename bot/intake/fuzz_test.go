package intake_test

import (
	"reflect"
	"strings"
	"testing"

	"ferrule/bot/intake"
)

// FuzzMessage reads anything, as an answer to different questions.
func FuzzMessage(f *testing.F) {
	for _, s := range corpus(f) {
		f.Add(s.text, strings.Join(s.ctx.Asked, " "), s.ctx.Last)
	}
	p := testPack(f)
	r := newReader(f, p)
	f.Fuzz(func(t *testing.T, text, asked, last string) {
		c := intake.Context{Asked: strings.Fields(asked), Last: last, Choices: []string{"35 %", "keypad bus"}}
		m := r.Read(text, c)
		checkSpans(t, p, text, m)
		if again := r.Read(text, c); !reflect.DeepEqual(m, again) {
			t.Fatalf("%q gives %+v, and then %+v", text, m, again)
		}
	})
}

var benchmarkMessage = "wireless keypad won't enrol, gen 2 hub wired to the expander bus, hub fw 1.06, signal 35 %, kp2 31%"

func BenchmarkMessage(b *testing.B) {
	r := newReader(b, testPack(b))
	b.ReportAllocs()
	for b.Loop() {
		r.Read(benchmarkMessage, intake.Context{})
	}
}

// The texts are made to be hard: no commas, nothing but numbers, nothing but
// small words, the same phrase again and again.
func BenchmarkMegabyte(b *testing.B) {
	r, _ := reader(b)
	for name, unit := range map[string]string{
		"messages": benchmarkMessage + "\n", "unparted": "signal 35 hub fw 1.06 keypad bus not ", "numbers": "1 2 3 4 5 ", "small": "is the ",
		"unknown": "zzzab qqqcd ", "corrections": "sorry 38 not 83 ", "loose": "keypad is is ", "one word": "a", "log": "16:00 zone 4 open\n",
	} {
		text := strings.Repeat(unit, 1<<20/len(unit))
		b.Run(name, func(b *testing.B) {
			b.SetBytes(int64(len(text)))
			for b.Loop() {
				r.Read(text, intake.Context{Asked: []string{"radio.signal", "hub.wired_to", "hub.firmware"}})
			}
		})
	}
}

func TestNothingInBinary(t *testing.T) {
	r := newReader(t, testPack(t))
	for _, text := range []string{"", "\x00\x01\x02\x03sig 35", strings.Repeat("\xff\xfe", 100), "\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR"} {
		if m := r.Read(text, intake.Context{}); !m.Empty() {
			t.Errorf("%q: %+v", text, m)
		}
	}
}
