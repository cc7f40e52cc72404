package firmware

import (
	"fmt"
	"strings"
)

// AmbiguousError says that a text stands for more than one version. The
// candidates are in canonical form, in rising order of the first doubtful
// place; each of them parses.
type AmbiguousError struct {
	Text       string
	Scheme     string
	Candidates []string
}

func (e *AmbiguousError) Error() string {
	return fmt.Sprintf("firmware: %s can be %s in scheme %s; write the one that is meant",
		quote(e.Text), strings.Join(e.Candidates, " or "), e.Scheme)
}

// SyntaxError says that a text is no version, or no constraint, of a scheme.
// Want says what would be right.
type SyntaxError struct {
	Text   string
	Scheme string
	Want   string
}

func (e *SyntaxError) Error() string {
	return fmt.Sprintf("firmware: can't read %s in scheme %s; write %s", quote(e.Text), e.Scheme, e.Want)
}

// MismatchError says that two versions can't be compared, since they are of
// different schemes or one of them is the zero Version. Left and Right name
// the schemes; the name of the zero Version's is empty.
type MismatchError struct{ Left, Right string }

func (e *MismatchError) Error() string {
	if e.Left == "" || e.Right == "" {
		return "firmware: there is no version to compare; parse both first"
	}
	return fmt.Sprintf("firmware: can't compare a version of scheme %s with one of %s; parse both with one scheme", e.Left, e.Right)
}

// UndatedError says that a version without a build date can't be held against
// a bound that has one, because all the rest is equal.
type UndatedError struct{ Version, Bound string }

func (e *UndatedError) Error() string {
	return fmt.Sprintf("firmware: %s needs its build date to be held against %s", e.Version, e.Bound)
}

// quote keeps an error readable when somebody pastes a page.
func quote(text string) string {
	const most = 60
	if len(text) > most {
		text = strings.ToValidUTF8(text[:most], "") + "..."
	}
	return fmt.Sprintf("%q", text)
}
