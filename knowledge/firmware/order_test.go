package firmware

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func order(t testing.TB, v, w Version) int {
	t.Helper()
	c, err := v.Compare(w)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// Each chain rises; versions on one line are equal. Common practice, no
// source, except the chain of semver in external_test.go.
func TestOrder(t *testing.T) {
	for name, chain := range map[string][][]string{
		"dotted": {{"0.9"}, {"1", "1.0", "1.0.0"}, {"1.6", "1.06"}, {"1.06.2"}, {"1.06.12"}, {"2.4", "V2.04"},
			{"2.4a", "2.04 A"}, {"2.4b"}, {"2.4.1"}, {"2.40"}, {"2.105"}, {"10.0"}},
		"two-digit": {{"2.04"}, {"2.04 2025-12-01"}, {"2.04 20260311", "2.04 (11.03.2026)"}, {"2.04a"}, {"2.04a-20240101"},
			{"2.04.1"}, {"2.05"}, {"2.40"}},
		"decimal":     {{"3.0"}, {"3.05"}, {"3.1", "3.10", "3.100"}, {"3.125"}, {"3.13"}, {"3.5", "3.50"}, {"3.5a"}, {"3.51"}},
		"short-minor": {{"3.0"}, {"3.1"}, {"3.5", "3.05"}, {"3.9"}, {"3.10"}, {"3.50"}},
		"four-part":   {{"1.2", "1.2.0.0"}, {"1.2.0.1"}, {"1.2.3.4"}, {"1.2.3.4 20260311"}, {"1.2.3.10"}},
	} {
		s := scheme(t, name)
		for i, line := range chain {
			for j, other := range chain {
				for _, a := range line {
					for _, b := range other {
						if got := order(t, parse(t, s, a), parse(t, s, b)); got != cmp.Compare(i, j) {
							t.Errorf("%s: %q to %q is %d", name, a, b, got)
						}
					}
				}
			}
		}
	}
}

func TestCompareMismatch(t *testing.T) {
	dotted, two := parse(t, scheme(t, "dotted"), "3.05"), parse(t, scheme(t, "two-digit"), "3.05")
	for _, pair := range [][2]Version{{dotted, two}, {dotted, {}}, {{}, dotted}, {{}, {}}} {
		_, err := pair[0].Compare(pair[1])
		var mismatch *MismatchError
		if !errors.As(err, &mismatch) || !strings.Contains(err.Error(), "parse both") {
			t.Errorf("%v to %v: %v", pair[0], pair[1], err)
		}
	}
	none := Version{}
	if _, ok := none.Key(); ok || none.String() != "" || !none.IsZero() || dotted.IsZero() {
		t.Error("the zero Version is not none")
	}
}

// drawText draws the text of an unambiguous version. Small numbers are
// frequent, so that equal and nearly equal versions come up.
func drawText(t *rapid.T, s Scheme) string {
	part := rapid.OneOf(rapid.Uint64Range(0, 3), rapid.Uint64Range(0, 200), rapid.Uint64Range(0, 70_000),
		rapid.Uint64Range(0, maxNumber))
	if s.id == semVer {
		return fmt.Sprintf("%d.%d.%d%s", part.Draw(t, "major"), part.Draw(t, "minor"), part.Draw(t, "patch"),
			rapid.StringMatching(`(-(0|[1-9][0-9]?|[a-cA-C-][a-c0-2-]{0,2})(\.(0|[1-9]|[a-c]{1,2})){0,2})?`).Draw(t, "pre"))
	}
	text := fmt.Sprint(part.Draw(t, "major"))
	n := rapid.IntRange(1, s.spec().parts).Draw(t, "parts")
	if n > 1 {
		text += "." + drawMinor(t, s)
	}
	for range n - 2 {
		text += fmt.Sprintf(".%d", part.Draw(t, "part"))
	}
	if s.spec().letters {
		text += rapid.SampledFrom([]string{"", "", "", "a", "b", "z"}).Draw(t, "letter")
	}
	return text + rapid.SampledFrom([]string{"", "", " 1980-01-01", " 2026-03-11", " 2026-03-12", " 2099-12-31"}).Draw(t, "date")
}

func drawMinor(t *rapid.T, s Scheme) string {
	switch s.id {
	case twoDigit:
		return fmt.Sprintf("%02d", rapid.IntRange(0, 99).Draw(t, "minor"))
	case shortMinor:
		return rapid.StringMatching(`[0-9]{1,2}`).Draw(t, "minor")
	case decimal:
		return rapid.StringMatching(`[0-9]{1,4}`).Draw(t, "minor")
	}
	return rapid.StringMatching(`0{0,2}[0-9]{1,3}`).Draw(t, "minor")
}

func drawVersion(t *rapid.T, s Scheme, label string) Version {
	text := drawText(t, s)
	v, err := s.Parse(text)
	if err != nil {
		t.Fatalf("%s: %v", label, err)
	}
	return v
}

// forSchemes runs a property in each scheme.
func forSchemes(t *testing.T, property func(*rapid.T, Scheme)) {
	for _, name := range SchemeNames() {
		s := scheme(t, name)
		t.Run(name, rapid.MakeCheck(func(t *rapid.T) { property(t, s) }))
	}
}

func TestOrderIsTotal(t *testing.T) {
	forSchemes(t, func(t *rapid.T, s Scheme) {
		list := []Version{drawVersion(t, s, "a"), drawVersion(t, s, "b"), drawVersion(t, s, "c")}
		for _, v := range list {
			for _, w := range list {
				vw, err := v.Compare(w)
				if err != nil {
					t.Fatal(err)
				}
				if wv, _ := w.Compare(v); wv != -vw {
					t.Fatalf("%v to %v is %d, and back %d", v, w, vw, wv)
				}
				if (vw == 0) != (v == w) {
					t.Fatalf("%v to %v is %d, but == says %t", v, w, vw, v == w)
				}
			}
		}
		// Sorted by neighbours, a total order holds between all pairs.
		slices.SortFunc(list, func(v, w Version) int { return v.order(&w) })
		if c, _ := list[0].Compare(list[2]); c > 0 {
			t.Fatalf("not transitive: %v", list)
		}
	})
}

func TestKeyAgreesWithCompare(t *testing.T) {
	forSchemes(t, func(t *rapid.T, s Scheme) {
		v, w := drawVersion(t, s, "v"), drawVersion(t, s, "w")
		if rapid.Bool().Draw(t, "close") {
			w = neighbour(t, v)
		}
		kv, vok := v.Key()
		kw, wok := w.Key()
		if !vok || !wok {
			return
		}
		if c, _ := v.Compare(w); cmp.Compare(kv, kw) != c {
			t.Fatalf("%v to %v is %d, keys %x %x", v, w, c, kv, kw)
		}
	})
}

// neighbour changes one field of a version, often to one beside it.
func neighbour(t *rapid.T, v Version) Version {
	w := v
	i := rapid.IntRange(0, v.scheme.spec().parts-1).Draw(t, "field")
	switch {
	case i == 1 && v.scheme.id != dotted && v.scheme.id != fourPart && v.scheme.id != semVer:
		w.parts[1] = rapid.Uint64Range(0, 99).Draw(t, "minor")
	default:
		w.parts[i] += rapid.SampledFrom([]uint64{1, 128, 1 << 16}).Draw(t, "more")
	}
	return w
}

// Key must hold what is met in the field.
func TestKeyFits(t *testing.T) {
	for name, texts := range map[string][]string{
		"two-digit": {"0", "1.06", "99.99.99z 2099-12-31", "1.06.12b 20260311", "1.00.20260311"},
		"dotted":    {"2.04.202603111200", "10.0.19041.1234", "1.2.3.4 20260311", "1.2.3.4.5.6", "2026.3.11.60000"},
		"decimal":   {"3.9999.120b 20260311"},
		"four-part": {"1.2.3.4-20260311", "1.2.3.60000", "255.255.255.0"},
		"semver":    {"1.2.3", "10.200.30000"},
	} {
		for _, text := range texts {
			if _, ok := parse(t, scheme(t, name), text).Key(); !ok {
				t.Errorf("%s %s has no key", name, text)
			}
		}
	}
	for name, text := range map[string]string{"semver": "1.2.3-rc.1", "dotted": "9007199254740991.1", "four-part": "60000.60000.60000.60000"} {
		if key, ok := parse(t, scheme(t, name), text).Key(); ok || key != 0 {
			t.Errorf("%s %s has the key %x", name, text, key)
		}
	}
}

func TestStringRoundTrips(t *testing.T) {
	forSchemes(t, func(t *rapid.T, s Scheme) {
		v := drawVersion(t, s, "v")
		again, err := s.Parse(v.String())
		if err != nil || again != v || again.String() != v.String() {
			t.Fatalf("%v parses to %v (%v)", v, again, err)
		}
		if v.Scheme() != s || v.Undated().Dated() {
			t.Fatalf("%v: scheme %s, undated %v", v, v.Scheme().Name(), v.Undated())
		}
	})
}

func TestSpaceAndCaseMeanNothing(t *testing.T) {
	forSchemes(t, func(t *rapid.T, s Scheme) {
		text := drawText(t, s)
		want, err := s.Parse(text)
		if err != nil {
			t.Fatal(err)
		}
		space := rapid.StringMatching(`[ \t]{0,3}`)
		prefix := rapid.SampledFrom([]string{"", "v", "ver", "ver.", "version ", "fw", "fw:", "firmware", "fw v", "firmware version: "}).Draw(t, "prefix")
		if s.id != semVer { // there case means something, by the specification
			text = strings.ReplaceAll(text, " ", " "+space.Draw(t, "before the date"))
			if rapid.Bool().Draw(t, "upper") {
				text = strings.ToUpper(text)
			}
		}
		if rapid.Bool().Draw(t, "upper prefix") {
			prefix = strings.ToUpper(prefix)
		}
		text = space.Draw(t, "first") + prefix + space.Draw(t, "second") + text + space.Draw(t, "last")
		if got, err := s.Parse(text); err != nil || got != want {
			t.Fatalf("%q is %v (%v), want %v", text, got, err, want)
		}
	})
}
