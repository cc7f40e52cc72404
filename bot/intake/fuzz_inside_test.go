package intake

import (
	"math"
	"strings"
	"testing"
	"unicode/utf8"
)

// FuzzTokens holds the tokenizer to its shape: tokens stand in order, do not
// overlap, hold something, and only space and what joins words lies between.
func FuzzTokens(f *testing.F) {
	for _, s := range []string{"kp1 10v8, 2k2", "l'été n’apparaît", "−97 dBm ≈40 %", "\xff\x00a", "1.2.3-4/5", "ŁÓDŹ ß", "e\u0301", ".2#-4/", ".3 A"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		end := 0
		for i, x := range tokenize(text) {
			if x.start < end || x.end <= x.start || x.end > len(text) {
				t.Fatalf("%q: token %d is %d to %d after %d", text, i, x.start, x.end, end)
			}
			if between := text[end:x.start]; utf8.ValidString(text) && strings.ContainsAny(between, "0123456789abcdefghijklmnopqrstuvwxyz") {
				t.Fatalf("%q: %q is lost", text, between)
			}
			digits := strings.TrimPrefix(text[x.start:x.end], ".") // .3 A is a number, too
			if x.kind == number && (digits == "" || digits[0] < '0' || digits[0] > '9') {
				t.Fatalf("%q: %q is no number", text, text[x.start:x.end])
			}
			end = x.end
		}
	})
}

// FuzzNumber holds the number reader to finite values whose low end is not
// above the high end, read from tokens that hold a digit or a number word.
func FuzzNumber(f *testing.F) {
	for _, s := range []string{"35-40 %", "4k7", "4R7 ohm", "10v8", "1/2 h", "~40", "> 30 m", "1,200.5 V", "24 awg", "4x0,22", "half an hour", "ten volts", "-97dBm", "9999999999999999999999", "1..2", "38 not 83"} {
		f.Add(s)
	}
	r := emptyReader(f)
	f.Fuzz(func(t *testing.T, text string) {
		s := r.newScan(text, Context{})
		s.read()
		last := 0
		for _, q := range s.quantities {
			if q.first < last || q.last <= q.first || q.last > len(s.tokens) {
				t.Fatalf("%q: tokens %d to %d after %d", text, q.first, q.last, last)
			}
			last = q.last
			if q.low > q.high || math.IsNaN(q.low) || math.IsInf(q.low, 0) || math.IsInf(q.high, 0) {
				t.Fatalf("%q: %g to %g", text, q.low, q.high)
			}
		}
	})
}
