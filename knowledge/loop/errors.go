package loop

import (
	"fmt"
	"strings"
)

// SyntaxError says that a text is no resistance. Want says what would be right.
type SyntaxError struct {
	Text string
	Want string
}

func (e *SyntaxError) Error() string {
	return fmt.Sprintf("loop: can't read %s as a resistance; write %s", quote(e.Text), e.Want)
}

// AmbiguousError says that a text stands for more than one resistance. Each of
// the candidates parses.
type AmbiguousError struct {
	Text       string
	Candidates []string
}

func (e *AmbiguousError) Error() string {
	return fmt.Sprintf("loop: %s can be %s; write the one that is meant", quote(e.Text), strings.Join(e.Candidates, " or "))
}

// quote keeps an error readable when somebody pastes a page.
func quote(text string) string {
	const most = 60
	if len(text) > most {
		text = strings.ToValidUTF8(text[:most], "") + "..."
	}
	return fmt.Sprintf("%q", text)
}
