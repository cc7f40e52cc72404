package knowledge

import (
	"errors"
	"fmt"
	"slices"
	"strings"
)

// Pos is a place in a pack file. Line and Column count from 1.
type Pos struct {
	File   string
	Line   int
	Column int
}

// String returns file:line:column.
func (p Pos) String() string {
	if p.File == "" {
		return "(no place)"
	}
	return fmt.Sprintf("%s:%d:%d", p.File, p.Line, p.Column)
}

// Problem is one fault of a pack: where it is, what is wrong, and what would
// be right.
type Problem struct {
	Pos
	Wrong  string
	Advice string
}

// Error returns the problem on one line.
func (p Problem) Error() string {
	s := p.Pos.String() + ": " + p.Wrong
	if p.Advice != "" {
		s += " (" + p.Advice + ")"
	}
	return s
}

// Problems is all that is wrong with a pack, in order of place.
type Problems []Problem

// Error lists every problem on a line of its own.
func (ps Problems) Error() string {
	lines := make([]string, len(ps))
	for i, p := range ps {
		lines[i] = p.Error()
	}
	return strings.Join(lines, "\n")
}

// Add notes one more problem.
func (ps *Problems) Add(at Pos, advice, format string, args ...any) {
	*ps = append(*ps, Problem{at, fmt.Sprintf(format, args...), advice})
}

// Err returns the problems sorted by place as an error, or nil if there are none.
func (ps Problems) Err() error {
	if len(ps) == 0 {
		return nil
	}
	slices.SortStableFunc(ps, func(a, b Problem) int {
		if c := strings.Compare(a.File, b.File); c != 0 {
			return c
		}
		if a.Line != b.Line {
			return a.Line - b.Line
		}
		return a.Column - b.Column
	})
	return ps
}

// ProblemsOf returns the problems that an error of Load (or of compiling a
// pack) carries; any other error becomes a single problem without a place.
func ProblemsOf(err error) Problems {
	var ps Problems
	if errors.As(err, &ps) {
		return ps
	}
	if err != nil {
		return Problems{{Wrong: err.Error()}}
	}
	return nil
}
