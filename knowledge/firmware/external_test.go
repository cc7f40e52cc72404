package firmware

import (
	"math/rand/v2"
	"os/exec"
	"strconv"
	"strings"
	"testing"

	"github.com/Masterminds/semver/v3"
)

// What is the order here is held against dpkg --compare-versions (dpkg
// 1.21.22, deb-version(7)) on the forms that both know: numeric parts that
// don't end in 0 (to dpkg 1.0.0 is after 1.0), a small letter, and a build date
// as the Debian revision. Minors have two digits, which every scheme but
// semver reads as the same number or in the same order.
func TestOrderAgainstDpkg(t *testing.T) {
	if _, err := exec.LookPath("dpkg"); err != nil {
		t.Skip("dpkg is not here: the order is not held against deb-version(7)")
	}
	pairs := 60
	if testing.Short() {
		pairs = 10
	}
	r := rand.New(rand.NewPCG(1, 21))
	for _, name := range []string{"dotted", "two-digit", "decimal", "short-minor", "four-part"} {
		s := scheme(t, name)
		for range pairs {
			a := debianForm(r, s)
			b := debianForm(r, s)
			if got, want := order(t, parse(t, s, a), parse(t, s, b)), dpkgOrder(t, a, b); got != want {
				t.Errorf("%s: %s to %s is %d, dpkg says %d", name, a, b, got, want)
			}
		}
	}
}

func debianForm(r *rand.Rand, s Scheme) string {
	minor := r.IntN(5) * (1 + r.IntN(12))
	text := strconv.Itoa(1+r.IntN(2)) + "." + string([]byte{'0' + byte(minor/10), '0' + byte(minor%10)})
	for range r.IntN(3) {
		text += "." + strconv.Itoa(1+r.IntN(12))
	}
	if s.spec().letters && r.IntN(3) == 0 {
		text += string("abc"[r.IntN(3)])
	}
	if r.IntN(3) == 0 {
		text += "-2026031" + strconv.Itoa(r.IntN(3))
	}
	return text
}

func dpkgOrder(t *testing.T, a, b string) int {
	t.Helper()
	holds := func(relation string) bool {
		err := exec.Command("dpkg", "--compare-versions", a, relation, b).Run()
		if _, no := err.(*exec.ExitError); err != nil && !no {
			t.Fatal(err)
		}
		return err == nil
	}
	switch {
	case holds("lt"):
		return -1
	case holds("eq"):
		return 0
	}
	return 1
}

// dpkg 1.21.22, from the table of true statements that were each run: those of
// a form that is known here.
func TestDpkgStatements(t *testing.T) {
	s := scheme(t, "dotted")
	for _, tt := range []struct {
		a, b string
		want int
	}{
		{"1.0", "1.0a", -1}, {"1.0", "1.0.1", -1}, {"1.9", "1.10", -1}, {"1.00", "1.0", 0}, {"1.2.03", "1.2.3", 0},
		{"1.0a", "1.0b", -1}, {"2.02.10", "2.2.9", 1},
	} {
		if got := order(t, parse(t, s, tt.a), parse(t, s, tt.b)); got != tt.want {
			t.Errorf("%s to %s is %d, want %d", tt.a, tt.b, got, tt.want)
		}
	}
}

// semver/semver semver.md (2.0.0), item 11: the chain of prereleases and the
// chain of cores.
func TestSemverChain(t *testing.T) {
	s := scheme(t, "semver")
	for _, chain := range []string{
		"1.0.0-alpha 1.0.0-alpha.1 1.0.0-alpha.beta 1.0.0-beta 1.0.0-beta.2 1.0.0-beta.11 1.0.0-rc.1 1.0.0",
		"1.0.0 2.0.0 2.1.0 2.1.1",
	} {
		list := strings.Fields(chain)
		for i, a := range list {
			for _, b := range list[i+1:] {
				wantAfter(t, s, b, a)
			}
		}
	}
}

// npm/node-semver test/fixtures/comparisons.js: the first is after the second.
// A leading v needs node's loose mode there and is always taken here.
func TestSemverComparisons(t *testing.T) {
	s := scheme(t, "semver")
	for _, pair := range [][2]string{
		{"0.0.0", "0.0.0-foo"}, {"0.0.1", "0.0.0"}, {"1.0.0", "0.9.9"}, {"0.10.0", "0.9.0"}, {"0.99.0", "0.10.0"},
		{"2.0.0", "1.2.3"}, {"v0.0.0", "0.0.0-foo"}, {"v0.0.1", "0.0.0"}, {"v1.0.0", "0.9.9"}, {"v0.10.0", "0.9.0"},
		{"v0.99.0", "0.10.0"}, {"v2.0.0", "1.2.3"}, {"0.0.0", "v0.0.0-foo"}, {"0.0.1", "v0.0.0"}, {"1.0.0", "v0.9.9"},
		{"0.10.0", "v0.9.0"}, {"0.99.0", "v0.10.0"}, {"2.0.0", "v1.2.3"}, {"1.2.3", "1.2.3-asdf"}, {"1.2.3", "1.2.3-4"},
		{"1.2.3", "1.2.3-4-foo"}, {"1.2.3-5-foo", "1.2.3-5"}, {"1.2.3-5", "1.2.3-4"}, {"1.2.3-5-foo", "1.2.3-5-Foo"},
		{"3.0.0", "2.7.2+asdf"}, {"1.2.3-a.10", "1.2.3-a.5"}, {"1.2.3-a.b", "1.2.3-a.5"}, {"1.2.3-a.b", "1.2.3-a"},
		{"1.2.3-a.b.c.10.d.5", "1.2.3-a.b.c.5.d.100"}, {"1.2.3-r2", "1.2.3-r100"}, {"1.2.3-r100", "1.2.3-R2"},
	} {
		wantAfter(t, s, pair[0], pair[1])
	}
	// test/fixtures/equality.js
	for _, pair := range [][2]string{
		{"1.2.3", "v1.2.3"}, {"1.2.3+build", "1.2.3+otherbuild"}, {"1.2.3-beta+build", "1.2.3-beta+otherbuild"},
	} {
		if order(t, parse(t, s, pair[0]), parse(t, s, pair[1])) != 0 {
			t.Errorf("%s and %s should be equal", pair[0], pair[1])
		}
	}
	// test/fixtures/invalid-versions.js, with 256 and 2^53-1 from internal/constants.js
	for _, text := range []string{strings.Repeat("1", 255) + ".0.0", "90071992547409910.0.0", "0.90071992547409910.0",
		"0.0.90071992547409910", "hello, world", "xyz"} {
		wantSyntax(t, s, text)
	}
}

func wantAfter(t *testing.T, s Scheme, a, b string) {
	t.Helper()
	v, w := parse(t, s, a), parse(t, s, b)
	if order(t, v, w) != 1 || order(t, w, v) != -1 {
		t.Errorf("%s should be after %s", a, b)
	}
}

// Where Masterminds/semver v3.5.0 leaves the specification: a numeric
// identifier above 64 bits is compared as text, so that it comes before an
// identifier with a letter or hyphen only by chance. Such versions are refused here. If
// this fails the library has been mended and the refusal can go.
func TestSemverHugeIdentifier(t *testing.T) {
	const huge, hyphen = "1.0.0-99999999999999999999", "1.0.0--a"
	if semver.MustParse(huge).LessThan(semver.MustParse(hyphen)) {
		t.Error("the library follows item 11.4.3 now")
	}
	wantSyntax(t, scheme(t, "semver"), huge)
	parse(t, scheme(t, "semver"), hyphen)
	parse(t, scheme(t, "semver"), "1.0.0-18446744073709551615")
}
