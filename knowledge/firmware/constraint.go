package firmware

import "strings"

const wantConstraint = "limits joined by commas, such as >= 1.2, < 2, each with >=, >, <=, <, = or != or, for at least, none; and each version as "

// Constraint is a list of limits that all must hold. The zero Constraint
// allows every version.
type Constraint struct {
	scheme  Scheme
	clauses []clause
}

type clause struct {
	op    operator
	bound Version
}

// operator is the set of the results of Compare that it allows.
type operator uint8

const (
	less operator = 1 << iota
	equal
	greater
)

type notation struct {
	text string
	op   operator
}

// notations is what is written for each operator, the longer ones first; the
// first of each operator is the canonical one.
var notations = [...]notation{
	{">=", greater | equal}, {"<=", less | equal}, {"!=", less | greater},
	{">", greater}, {"<", less}, {"==", equal}, {"=", equal},
	{"≥", greater | equal}, {"≤", less | equal}, {"≠", less | greater},
	{"", greater | equal}, // a bare version is the least one that will do
}

// allows takes a result of Compare: -1, 0 or 1.
func (o operator) allows(order int) bool { return o>>(order+1)&1 != 0 }

func (o operator) String() string {
	for _, n := range notations {
		if n.op == o && n.text != "==" {
			return n.text
		}
	}
	return "" // unreachable: every operator comes from the table
}

// ParseConstraint reads limits such as ">= 1.2, < 2"; "3.05" alone means at
// least 3.05. It fails with a *SyntaxError or an *AmbiguousError.
//
// In semver a bound of >= or < may leave out numbers, which are 0 then: ">= 1.2"
// has one meaning. "= 1.2" has not, and is refused. A prerelease is held
// against bounds by its precedence alone: 2.0.0-rc.1 is < 2.
func (s Scheme) ParseConstraint(text string) (Constraint, error) {
	c := Constraint{scheme: s}
	if len(text) > 4*maxText || s.id == none {
		return Constraint{}, s.syntax(text, s.wantConstraint())
	}
	if commaInNumber(text) {
		return Constraint{}, s.syntax(text, "a point inside a number, or space after the comma between two limits")
	}
	for part := range strings.SplitSeq(text, ",") {
		limit, err := s.parseClause(strings.TrimSpace(part))
		if err != nil {
			return Constraint{}, err
		}
		c.clauses = append(c.clauses, limit)
	}
	return c, nil
}

// commaInNumber finds "3,05", as some languages write 3.05. Taken as two limits
// it would silently mean at least 3 and at least 5.
func commaInNumber(text string) bool {
	for i := 1; i+1 < len(text); i++ {
		if text[i] == ',' && isDigit(text[i-1]) && isDigit(text[i+1]) {
			return true
		}
	}
	return false
}

func (s Scheme) parseClause(text string) (c clause, err error) {
	rest := text
	for _, n := range notations {
		if after, ok := strings.CutPrefix(text, n.text); ok {
			c.op, rest = n.op, strings.TrimSpace(after)
			break
		}
	}
	if rest == "" || strings.ContainsAny(rest[:1], "<>=!~^") {
		return clause{}, s.syntax(text, s.wantConstraint())
	}
	if s.id == semVer && (c.op == greater|equal || c.op == less) {
		rest = fillCore(rest)
	}
	c.bound, err = s.Parse(rest)
	return c, err
}

func (s Scheme) wantConstraint() string {
	if s.id == none {
		return s.spec().want
	}
	return wantConstraint + s.spec().want
}

// fillCore adds the numbers that a semver bound leaves out.
func fillCore(text string) string {
	sc := scanner{text: text}
	sc.prefix()
	var r raw
	if !sc.numbers(&r) || !sc.done() {
		return text
	}
	return text + strings.Repeat(".0", max(0, 3-r.n))
}

// Allows says whether a version keeps all limits. It fails with a
// *MismatchError when the version is zero or of another scheme.
//
// A bound without a build date speaks of every build of its version. A bound
// with one can't judge the same version without a date: when nothing else rules
// the version out, Allows fails with an *UndatedError.
func (c Constraint) Allows(v Version) (bool, error) {
	if v.scheme.id == none || c.scheme.id != none && c.scheme != v.scheme {
		return false, &MismatchError{Left: v.scheme.Name(), Right: c.scheme.Name()}
	}
	var undated error
	for i := range c.clauses {
		ok, err := c.clauses[i].allows(v)
		if err != nil {
			undated = err
		} else if !ok {
			return false, nil
		}
	}
	return undated == nil, undated
}

func (c *clause) allows(v Version) (bool, error) {
	switch {
	case !c.bound.Dated():
		v = v.Undated()
	case !v.Dated() && v == c.bound.Undated():
		return false, &UndatedError{Version: v.String(), Bound: c.bound.String()}
	}
	return c.op.allows(v.order(&c.bound)), nil
}

// String returns the canonical form, which parses to the same constraint. It
// is empty for the zero Constraint.
func (c Constraint) String() string {
	var b []byte
	for i, limit := range c.clauses {
		if i > 0 {
			b = append(b, ", "...)
		}
		b = append(append(b, limit.op.String()...), ' ')
		b = limit.bound.append(b)
	}
	return string(b)
}
