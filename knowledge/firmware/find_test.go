package firmware

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func found(text string) []string {
	var out []string
	for _, span := range Find(text) {
		out = append(out, text[span.Start:span.End])
	}
	return out
}

func TestFind(t *testing.T) {
	tests := []struct {
		text string
		want []string
	}{
		{"", nil},
		{"hub is on 1.06 i think", []string{"1.06"}},
		{"hub FW 1.06, panel v3.05b.", []string{"FW 1.06", "v3.05b"}},
		{"Firmware-Version: 2.04-20260311", []string{"Version: 2.04-20260311"}},
		{"firmware version 3 on it", []string{"firmware version 3"}},
		{"fw:2.04 (11.03.2026), ok", []string{"fw:2.04 (11.03.2026)"}},
		{"2.04 11/03/2026", []string{"2.04 11/03/2026"}},
		{"panel 1.2.3.4 hub 1.06.12", []string{"1.2.3.4", "1.06.12"}},
		{"1.2.3-rc.1+7 and 1.2.3-rc.1.", []string{"1.2.3-rc.1+7", "1.2.3-rc.1"}},
		{"1.06.12-ok", []string{"1.06.12"}}, // no semver, so the rest is not part of it
		{"2.04 to 2.05", []string{"2.04", "2.05"}},
		{"v2", []string{"v2"}},
		{"v2 v 3 12 v 2", []string{"v2"}},
		{"(3.05)", []string{"3.05"}},
		{"Version 3.05é", nil},
		{"<3.05 >=1.06 …4.10", []string{"3.05", "1.06", "4.10"}},
		{"ça marche en 3.05", []string{"3.05"}},
		{"é3.05 x3.05 _3.05 13.05x5", nil},
		{"signal -86.5 dBm", nil},
		{"radio-3.05", []string{"3.05"}},
		{"7/0.2 cable, 1,234.5", nil},
		{"visit of 11.03.2026 or 2026.03.11", nil},
		{"fw 11.03.2026", []string{"fw 11.03.2026"}}, // said to be a version
		{"2.4GHz 2.04beta", nil},
		{"13.8 V", []string{"13.8"}}, // a quantity: the intake knows units
		{"12 v 35 % zone 7", nil},
		{"very few fwd versions, 17", nil},
		{"1.2.3.4.5.6.7.8", nil},
		{"9007199254740993.1 99999999999999999999999.5", nil},
		{"v\xff3.05", []string{"3.05"}},
	}
	for _, tt := range tests {
		if got := found(tt.text); !slices.Equal(got, tt.want) {
			t.Errorf("%q: %q, want %q", tt.text, got, tt.want)
		}
	}
}

// Whatever a scheme writes is found whole, with a word before it or not.
func TestFindWhatIsWritten(t *testing.T) {
	forSchemes(t, func(t *rapid.T, s Scheme) {
		v := drawVersion(t, s, "v").String()
		if strings.HasSuffix(v, "-") {
			t.Skip("a hyphen at the end is taken for punctuation")
		}
		before := rapid.SampledFrom([]string{"", "hub ", "die Zentrale hat ", "(", "is it:"}).Draw(t, "before")
		prefix := rapid.SampledFrom([]string{"v", "fw ", "Version: "}).Draw(t, "prefix")
		after := rapid.SampledFrom([]string{"", ".", ", ok?", ")", " and"}).Draw(t, "after")
		want := Span{len(before), len(before) + len(prefix) + len(v)}
		if text := before + prefix + v + after; !slices.Equal(Find(text), []Span{want}) {
			t.Fatalf("%q: %q", text, found(text))
		}
	})
}

// checkSpans holds what Find promises: ordered spans that do not overlap, each
// a version, or several, to some scheme.
func checkSpans(t testing.TB, text string) {
	t.Helper()
	end := 0
	for _, span := range Find(text) {
		if span.Start < end || span.End <= span.Start || span.End > len(text) {
			t.Fatalf("%q: span %v after %d", text, span, end)
		}
		end = span.End
		if !readable(text[span.Start:span.End]) {
			t.Fatalf("%q: no scheme reads %q", text, text[span.Start:span.End])
		}
	}
}

func readable(text string) bool {
	return slices.ContainsFunc([]uint8{dotted, semVer}, func(id uint8) bool {
		_, err := Scheme{id}.Parse(text)
		var ambiguous *AmbiguousError
		return err == nil || errors.As(err, &ambiguous)
	})
}

// A scan that went back over its text would take hours for these.
func TestFindIsLinear(t *testing.T) {
	const size = 1 << 20
	for _, unit := range []string{"1", "1.", "v", "v ", "fw ", " ", "v\t", "1.2.3-", "1.2.3-a.", "1.1 ", "1.1 build ", "1.1 (", "1.1 11.03.",
		"firmware version ", "é", "1.2.3-a", "2026-", "1.1\t"} {
		for _, head := range []string{"", "v", "fw ", "1.2.3-", "1.1 "} {
			text := head + strings.Repeat(unit, size/len(unit))
			start := time.Now()
			Find(text)
			if took := time.Since(start); took > 5*time.Second {
				t.Errorf("%q and a megabyte of %q took %v", head, unit, took)
			}
		}
	}
}
