package rules

import (
	"errors"
	"fmt"
	"strings"
	"unicode/utf8"

	"github.com/expr-lang/expr/ast"
	"github.com/expr-lang/expr/file"
	"github.com/expr-lang/expr/parser"
	"github.com/expr-lang/expr/parser/lexer"

	"ferrule/knowledge"
)

// An expression that is longer is split with derived readings. The limit also
// bounds the recursion of the parser.
const maxExpression = 4000

// source is an expression with its place in the pack.
type source struct {
	text     string
	at       knowledge.Pos
	problems *knowledge.Problems
}

// pos returns the place of a rune of the expression.
func (s *source) pos(offset int) knowledge.Pos {
	p := s.at
	for i, r := range []rune(s.text) {
		if i == offset {
			break
		}
		if r == '\n' {
			p.Line++
			p.Column = s.at.Column
		} else {
			p.Column++
		}
	}
	return p
}

func (s *source) fault(offset int, advice, format string, args ...any) {
	s.problems.Add(s.pos(offset), advice, format, args...)
}

// parse returns the syntax tree, or nil when it reported a fault.
func (s *source) parse() (node ast.Node) {
	defer func() {
		if r := recover(); r != nil {
			s.fault(0, "write it in a simpler way", "the expression can't be read: %v", r)
			node = nil
		}
	}()
	if n := utf8.RuneCountInString(s.text); n > maxExpression {
		s.fault(0, "split it with derived readings", "the expression has %d characters; %d are allowed", n, maxExpression)
		return nil
	}
	if !utf8.ValidString(s.text) {
		s.fault(0, "save the file as UTF-8", "the expression is not UTF-8")
		return nil
	}
	if !s.tokensAllowed() {
		return nil
	}
	tree, err := parser.Parse(s.text)
	if err != nil {
		s.syntax(err)
		return nil
	}
	return tree.Node
}

func (s *source) syntax(err error) {
	offset, message := 0, err.Error()
	var e *file.Error
	if errors.As(err, &e) {
		offset, message = e.From, e.Message
	}
	advice := "check the brackets, and put choices and versions in quotes"
	if strings.Contains(message, "bad number syntax") {
		advice = `put a version in quotes, such as "3.05"`
	}
	s.fault(offset, advice, "the expression can't be read: %s", strings.ToLower(message))
}

// refused are the tokens of the expression language that rules do without,
// with what to write instead. The syntax tree no longer shows some of them.
var refused = map[string]string{
	"|":    "write f(x) instead of x | f()",
	"?":    "use and, or, not; two outcomes are two rules",
	"?.":   "write a plain dot; a reading that nobody gave is unknown by itself",
	"??":   "give the reading a default: instead",
	"=":    "write == to compare",
	"&":    "write and",
	";":    "write one condition",
	"let":  "use a derived reading",
	"if":   "use and, or, not; two outcomes are two rules",
	"else": "use and, or, not; two outcomes are two rules",
	"#":    "closures are not used in rules; for the other subjects use a reading with others:",
	"::":   "write the function's name alone",
	"..":   "write a >= low and a <= high",
	"{":    "closures and maps are not used in rules",
	"%":    "a remainder is not defined for measured values",
}

func (s *source) tokensAllowed() bool {
	tokens, err := lexer.Lex(file.NewSource(s.text))
	if err != nil {
		s.syntax(err)
		return false
	}
	ok := true
	for _, t := range tokens {
		if t.Kind != lexer.Operator && t.Kind != lexer.Bracket {
			continue
		}
		if advice, bad := refused[t.Value]; bad {
			s.fault(t.From, advice, "%s is not used in rules", quoted(t.Value))
			ok = false
		}
	}
	return ok
}

func quoted(s string) string { return fmt.Sprintf("%q", s) }

// start returns the first rune of a node. The tree gives a dotted name the
// place of its last part, and a comparison that of its operator.
func start(n ast.Node) int {
	switch n := n.(type) {
	case *ast.MemberNode:
		return start(n.Node)
	case *ast.BinaryNode:
		return min(start(n.Left), n.Location().From)
	}
	return n.Location().From
}

// dottedName returns the name that a chain of members writes.
func dottedName(n ast.Node) (string, bool) {
	switch n := n.(type) {
	case *ast.IdentifierNode:
		return n.Value, true
	case *ast.MemberNode:
		left, ok := dottedName(n.Node)
		property, plain := n.Property.(*ast.StringNode)
		if !ok || !plain || n.Method || n.Optional {
			return "", false
		}
		return left + "." + property.Value, true
	}
	return "", false
}
