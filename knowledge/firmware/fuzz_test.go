package firmware

import (
	"errors"
	"strings"
	"testing"
	"unicode/utf8"
)

func FuzzParse(f *testing.F) {
	for _, text := range []string{"1.06", "3.5", "3.05", "1.06.12", "v2.4", "2.04b", "2.04 20260311", "2.04-2026-03-11",
		"2.04 (11.03.2026)", "1.2.3.4", "fw 3.5 11/03/2026", "1.0.0-rc.1+7", "Firmware version: 2.4 B", "3,05", "\xff", "1.0.0--0"} {
		f.Add(text, text)
	}
	f.Fuzz(func(t *testing.T, text, other string) {
		for _, name := range SchemeNames() {
			s := scheme(t, name)
			v, err := s.Parse(text)
			if err != nil {
				checkError(t, s, text, err)
				continue
			}
			if again, err := s.Parse(v.String()); err != nil || again != v {
				t.Fatalf("%s: %q is %v, which is %v (%v)", name, text, v, again, err)
			}
			if w, err := s.Parse(other); err == nil {
				checkPair(t, v, w)
			}
		}
	})
}

// checkError wants one of the two typed errors, with candidates that parse to
// different versions and something to say.
func checkError(t *testing.T, s Scheme, text string, err error) {
	t.Helper()
	var syntax *SyntaxError
	if errors.As(err, &syntax) {
		if syntax.Want == "" || syntax.Scheme != s.Name() {
			t.Fatalf("%q: %#v", text, syntax)
		}
		return
	}
	var ambiguous *AmbiguousError
	if !errors.As(err, &ambiguous) || len(ambiguous.Candidates) < 2 {
		t.Fatalf("%s %q: %v", s.Name(), text, err)
	}
	last := Version{}
	for _, candidate := range ambiguous.Candidates {
		v := parse(t, s, candidate)
		if v == last || v.String() != candidate {
			t.Fatalf("%q: candidate %q is %v after %v", text, candidate, v, last)
		}
		last = v
	}
}

func checkPair(t *testing.T, v, w Version) {
	t.Helper()
	c := order(t, v, w)
	if back := order(t, w, v); back != -c || (c == 0) != (v == w) {
		t.Fatalf("%v to %v is %d, back %d", v, w, c, back)
	}
	kv, vok := v.Key()
	kw, wok := w.Key()
	if vok && wok && ((kv < kw) != (c < 0) || (kv == kw) != (c == 0)) {
		t.Fatalf("%v to %v is %d, keys %x %x", v, w, c, kv, kw)
	}
}

func FuzzParseConstraint(f *testing.F) {
	for _, text := range []string{">= 3.05", "< 2.0", "= 1.06.12", ">= 1.2, < 2", "3.05", "!= 2.04b, <= v3", "≥1.2", "> 2.04 20260311", "3,05", ">=", "~1"} {
		f.Add(text, "2.04")
	}
	f.Fuzz(func(t *testing.T, text, version string) {
		for _, name := range SchemeNames() {
			s := scheme(t, name)
			c, err := s.ParseConstraint(text)
			if err != nil {
				checkError(t, s, text, err)
				continue
			}
			again, err := s.ParseConstraint(c.String())
			if err != nil || again.String() != c.String() {
				t.Fatalf("%s: %q is %q, then %q (%v)", name, text, c, again, err)
			}
			v, err := s.Parse(version)
			if err != nil {
				continue
			}
			got, err := c.Allows(v)
			var undated *UndatedError
			if err != nil && (!errors.As(err, &undated) || v.Dated()) {
				t.Fatalf("%q allows %v: %v", c, v, err)
			}
			if same, _ := again.Allows(v); same != got {
				t.Fatalf("%q and %q differ on %v", text, again, v)
			}
		}
	})
}

func FuzzFind(f *testing.F) {
	for _, text := range []string{"hub FW 1.06, panel v3.05b.", "2.04 (11.03.2026)", "1.2.3-rc.1+7.", "7/0.2 -86.5 11.03.2026", "v v fw 1.", "é3.05\xff1.2"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		checkSpans(t, text)
		if !utf8.ValidString(text) || len(text) > 1000 {
			return
		}
		// What stands in another sentence changes nothing.
		const other = "hub 1.06 ; "
		if got, want := found(other+text), append([]string{"1.06"}, found(text)...); strings.Join(got, "|") != strings.Join(want, "|") {
			t.Fatalf("%q: %q alone, %q after %q", text, want[1:], got, other)
		}
	})
}
