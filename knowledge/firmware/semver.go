package firmware

import (
	"strconv"
	"strings"

	"github.com/Masterminds/semver/v3"
)

// parseSemver reads a strict semantic version after an optional prefix.
//
// Two things are refused that the library takes: numbers above 2^53-1, as
// node-semver does, and numeric prerelease identifiers that do not fit 64
// bits, because the library falls back to comparing those as text, which is
// neither the order of the specification nor transitive.
func (s Scheme) parseSemver(text string) (Version, error) {
	sc := scanner{text: strings.TrimSpace(text)}
	sc.prefix()
	core, err := semver.StrictNewVersion(sc.text[sc.pos:])
	if err != nil || !numbersFit(core) {
		return Version{}, s.syntax(text, s.spec().want)
	}
	v := Version{scheme: s, pre: core.Prerelease()}
	v.parts[0], v.parts[1], v.parts[2] = core.Major(), core.Minor(), core.Patch()
	return v, nil
}

func numbersFit(v *semver.Version) bool {
	if max(v.Major(), v.Minor(), v.Patch()) > maxNumber {
		return false
	}
	for id := range strings.SplitSeq(v.Prerelease(), ".") {
		if _, err := strconv.ParseUint(id, 10, 64); err != nil && isNumeric(id) {
			return false
		}
	}
	return true
}

func isNumeric(text string) bool {
	for i := range len(text) {
		if !isDigit(text[i]) {
			return false
		}
	}
	return text != ""
}

// comparePrereleases orders two different prereleases of one version; none is
// after all others. Only two that are both there cost the library's time.
func comparePrereleases(a, b string) int {
	switch {
	case a == "":
		return 1
	case b == "":
		return -1
	}
	return semver.New(0, 0, 0, a, "").Compare(semver.New(0, 0, 0, b, ""))
}
