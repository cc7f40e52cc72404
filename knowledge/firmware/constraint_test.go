package firmware

import (
	"errors"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestConstraint(t *testing.T) {
	tests := []struct{ scheme, text, canonical, allows, refuses string }{
		{"two-digit", "3.05", ">= 3.05", "3.05 3.50 3.05a 4.00", "3.04 3.04z 2.99"},
		{"two-digit", ">= 3.05", ">= 3.05", "3.05 3.06", "3.04"},
		{"two-digit", "< 2.0", "< 2.00", "1.99 1.99.9", "2.00 2.00a"},
		{"two-digit", "=1.06.12", "= 1.06.12", "1.06.12", "1.06.1 1.06.12a"},
		{"two-digit", "== V1.06", "= 1.06", "1.06.0", "1.60"},
		{"two-digit", ">fw 1.06", "> 1.06", "1.06a 1.07", "1.06 1.05"},
		{"two-digit", "≤2.04b", "<= 2.04b", "2.04 2.04b", "2.04c 2.04.1"},
		{"two-digit", "≥1.20,≠1.25", ">= 1.20, != 1.25", "1.20 1.26", "1.25 1.19"},
		{"dotted", ">= 1.2, < 2", ">= 1.2, < 2.0", "1.2 1.02.3 1.99", "1.1 2.0 2"},
		{"decimal", ">= 3.5", ">= 3.50", "3.5 3.51", "3.49 3.05"},
		{"short-minor", ">= 3.5", ">= 3.05", "3.5 3.05 3.49", "3.4 3.04"},
		{"four-part", "1.2, != 1.2.3.4", ">= 1.2.0.0, != 1.2.3.4", "1.2 1.2.3", "1.2.3.4 1.1"},
		{"semver", ">= 1.2, < 2", ">= 1.2.0, < 2.0.0", "1.2.0 1.9.9 2.0.0-rc.1", "1.2.0-rc.1 2.0.0"},
		{"semver", "v1.2", ">= 1.2.0", "1.2.0", "1.1.9"},
		{"semver", "= 1.2.3", "= 1.2.3", "1.2.3+b", "1.2.3-b"},
	}
	for _, tt := range tests {
		s := scheme(t, tt.scheme)
		c, err := s.ParseConstraint(tt.text)
		if err != nil {
			t.Errorf("%s %q: %v", tt.scheme, tt.text, err)
			continue
		}
		if c.String() != tt.canonical {
			t.Errorf("%s %q is %q, want %q", tt.scheme, tt.text, c, tt.canonical)
		}
		for want, texts := range map[bool]string{true: tt.allows, false: tt.refuses} {
			for _, text := range strings.Fields(texts) {
				if got, err := c.Allows(parse(t, s, text)); got != want || err != nil {
					t.Errorf("%s %q allows %s: %t, %v", tt.scheme, tt.text, text, got, err)
				}
			}
		}
	}
}

// A bound without a date speaks of every build, one with a date of its own.
func TestConstraintDates(t *testing.T) {
	const yes, no, ask = 1, 0, -1
	s := scheme(t, "two-digit")
	tests := []struct {
		constraint, version string
		want                int
	}{
		{"= 2.04", "2.04 2026-03-11", yes},
		{"<= 2.04", "2.04 2026-03-11", yes},
		{"> 2.04", "2.04 2026-03-11", no},
		{"!= 2.04", "2.04 2026-03-11", no},
		{">= 2.04 2026-03-11", "2.04 2026-03-10", no},
		{">= 2.04 2026-03-11", "2.04 (11.03.2026)", yes},
		{">= 2.04 2026-03-11", "2.03 2026-03-12", no},
		{">= 2.04 2026-03-11", "2.04", ask},
		{"< 2.04 2026-03-11", "2.04", ask},
		{">= 2.04 2026-03-11", "2.05", yes},
		{">= 2.04 2026-03-11", "2.03", no},
		{"!= 2.04 2026-03-11, < 2.04", "2.04", no}, // ruled out with any date
	}
	for _, tt := range tests {
		c, err := s.ParseConstraint(tt.constraint)
		if err != nil {
			t.Fatal(err)
		}
		got, err := c.Allows(parse(t, s, tt.version))
		var undated *UndatedError
		switch {
		case tt.want == ask && (!errors.As(err, &undated) || got || !strings.Contains(err.Error(), "build date")):
			t.Errorf("%s allows %s: %t, %v, want an UndatedError", tt.constraint, tt.version, got, err)
		case tt.want != ask && (err != nil || got != (tt.want == yes)):
			t.Errorf("%s allows %s: %t, %v", tt.constraint, tt.version, got, err)
		}
	}
}

func TestConstraintErrors(t *testing.T) {
	s := scheme(t, "two-digit")
	for _, text := range []string{"", " ", ">=", ">= 3.05,", ", 3.05", "=> 3.05", ">> 3.05", "~ 3.05", "^3.05", "> = 3.05",
		">= 3.05 < 4.00", ">= x", ">= 3,05", ">= 3.105", strings.Repeat("3.05,", 5000) + "3.05"} {
		_, err := s.ParseConstraint(text)
		var syntax *SyntaxError
		if !errors.As(err, &syntax) || syntax.Want == "" {
			t.Errorf("%.40q: %v, want a SyntaxError", text, err)
		}
	}
	for _, text := range []string{"= 1.2", "> 1.2", "<= 1", "!= 1", ">= 1.2-rc.1", ">= 01.2"} {
		_, err := scheme(t, "semver").ParseConstraint(text)
		var syntax *SyntaxError
		if !errors.As(err, &syntax) {
			t.Errorf("semver %q: %v, want a SyntaxError", text, err)
		}
	}
	var ambiguous *AmbiguousError
	if _, err := s.ParseConstraint(">= 3.5"); !errors.As(err, &ambiguous) || len(ambiguous.Candidates) != 2 {
		t.Errorf(">= 3.5: %v, want an AmbiguousError", err)
	}
	if _, err := (Scheme{}).ParseConstraint("1"); err == nil || !strings.Contains(err.Error(), "name of a version scheme") {
		t.Errorf("no scheme: %v", err)
	}
	c, err := s.ParseConstraint("3.05")
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range []Version{{}, parse(t, scheme(t, "dotted"), "3.05")} {
		var mismatch *MismatchError
		if ok, err := c.Allows(v); ok || !errors.As(err, &mismatch) {
			t.Errorf("allows %v: %t, %v", v, ok, err)
		}
	}
	if ok, err := (Constraint{}).Allows(parse(t, s, "3.05")); !ok || err != nil {
		t.Errorf("the zero Constraint: %t, %v", ok, err)
	}
}

func TestConstraintAgreesWithCompare(t *testing.T) {
	holds := map[string]func(int) bool{
		"": func(c int) bool { return c >= 0 }, ">=": func(c int) bool { return c >= 0 }, ">": func(c int) bool { return c > 0 },
		"<=": func(c int) bool { return c <= 0 }, "<": func(c int) bool { return c < 0 },
		"=": func(c int) bool { return c == 0 }, "==": func(c int) bool { return c == 0 }, "!=": func(c int) bool { return c != 0 },
	}
	forSchemes(t, func(t *rapid.T, s Scheme) {
		v := drawVersion(t, s, "v")
		want, text := true, ""
		for i := range rapid.IntRange(1, 3).Draw(t, "limits") {
			op := rapid.SampledFrom([]string{"", ">=", ">", "<=", "<", "=", "==", "!="}).Draw(t, "op")
			bound := drawVersion(t, s, "bound")
			if rapid.Bool().Draw(t, "same") {
				bound = v
			}
			if i > 0 {
				text += rapid.SampledFrom([]string{", ", " ,\t"}).Draw(t, "comma")
			}
			text += rapid.SampledFrom([]string{"", " "}).Draw(t, "space") + op + rapid.SampledFrom([]string{"", "  "}).Draw(t, "space") + bound.String()
			compared := v
			switch {
			case !bound.Dated():
				compared = v.Undated()
			case !v.Dated() && v == bound.Undated():
				t.Skip("the date decides")
			}
			c, err := compared.Compare(bound)
			if err != nil {
				t.Fatal(err)
			}
			want = want && holds[op](c)
		}
		c, err := s.ParseConstraint(text)
		if err != nil {
			t.Fatal(err)
		}
		again, err := s.ParseConstraint(c.String())
		if err != nil || again.String() != c.String() {
			t.Fatalf("%q becomes %q, then %q (%v)", text, c, again, err)
		}
		for _, c := range []Constraint{c, again} {
			if got, err := c.Allows(v); got != want || err != nil {
				t.Fatalf("%q allows %v: %t, %v", text, v, got, err)
			}
		}
	})
}
