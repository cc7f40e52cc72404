package rules

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/expr-lang/expr"
	"github.com/expr-lang/expr/ast"
	"github.com/expr-lang/expr/vm"

	"ferrule/knowledge"
)

// runner is a leaf that the native forms do not cover: texts (==, contains,
// startsWith, endsWith, matches, lower, upper, trim, len) and numbers with
// **, floor or ceil. It runs as an expr program, and only when every reading
// in it is known exactly; a failure makes the leaf unknown and is reported.
type runner struct {
	source  string
	program *vm.Program
	vars    []int // readings
	owners  []string
}

var textOperators = []string{"contains", "startsWith", "endsWith", "matches"}

func variable(reading int) string { return "r" + strconv.Itoa(reading) }

func floatSource(c float64) string {
	s := strconv.FormatFloat(c, 'f', -1, 64)
	if c == math.Trunc(c) {
		s += ".0"
	}
	return s
}

// textual types text contains "word" and the like.
func (t *typer) textual(n *ast.BinaryNode) *tri {
	l, r := t.value(n.Left), t.value(n.Right)
	switch {
	case l.kind == isBad || r.kind == isBad:
		return t.undecided()
	case l.kind != isText:
		t.fault(l.at, "it is for readings of the kind text", "%s is %s, and a text is wanted here", l.text, l.kind)
		return t.undecided()
	case r.kind != isString:
		t.fault(r.at, "write a word in quotes", "%s is %s, and a word in quotes is wanted here", r.text, r.kind)
		return t.undecided()
	}
	if n.Operator == "matches" {
		if _, err := regexp.Compile(r.str); err != nil {
			t.fault(r.at, "see the syntax of regular expressions in Go", "%q is no pattern: %v", r.str, err)
			return t.undecided()
		}
	}
	shown := shownLeaf{side{l.text, l.reading}, side{r.text, -1}}
	return t.program(l.src+" "+n.Operator+" "+r.src, n.Location().From, l.reads, shown)
}

func (t *typer) textFunction(n *ast.BuiltinNode) operand {
	o := t.value(n.Arguments[0])
	if o.kind == isBad {
		return o
	}
	if o.kind != isText {
		t.fault(o.at, "it is for readings of the kind text", "%s is %s, and a text is wanted here", o.text, o.kind)
		return t.bad(n)
	}
	o.src, o.text, o.reading, o.at = n.Name+"("+o.src+")", n.String(), -1, start(n)
	if n.Name == "len" {
		o.kind, o.src, o.unit = isNumber, "float("+o.src+")", ""
	}
	return o
}

// program makes a leaf that runs src.
func (t *typer) program(src string, at int, reads []int, shown shownLeaf) *tri {
	env := map[string]any{}
	for _, i := range reads {
		if t.c.program.readings[i].Kind == knowledge.Text {
			env[variable(i)] = ""
		} else {
			env[variable(i)] = 0.0
		}
	}
	options := []expr.Option{expr.Env(env), expr.AsBool(), expr.DisableAllBuiltins(),
		expr.EnableBuiltin("abs"), expr.EnableBuiltin("round"), expr.EnableBuiltin("floor"), expr.EnableBuiltin("ceil"),
		expr.EnableBuiltin("min"), expr.EnableBuiltin("max"), expr.EnableBuiltin("len"), expr.EnableBuiltin("float"),
		expr.EnableBuiltin("lower"), expr.EnableBuiltin("upper"), expr.EnableBuiltin("trim"),
		expr.Function("finite", finite, new(func(float64) float64))}
	for i := range formulas {
		options = append(options, expr.Function(formulas[i].name, formulas[i].called, new(func(...float64) float64)))
	}
	program, err := expr.Compile(src, options...)
	if err != nil {
		t.fault(at, "write it in a simpler way", "this comparison can't be compiled: %v", firstLine(err))
		return t.undecided()
	}
	return t.c.build.leaf(leaf{kind: leafRun, reads: reads, shown: shown,
		run: &runner{source: src, program: program, vars: slices.Clone(reads)}})
}

// finite keeps results that are no number out of comparisons, which would
// silently take them as false.
func finite(params ...any) (any, error) {
	x, ok := params[0].(float64)
	switch {
	case !ok:
		return nil, fmt.Errorf("%v is not a number", params[0])
	case math.IsNaN(x):
		return nil, fmt.Errorf("the result is not a number")
	case math.IsInf(x, 0):
		return nil, fmt.Errorf("the result is too large")
	}
	return x, nil
}

// machine runs the programs of one Verdict or Facts; it is not shared.
type machine struct {
	vm  vm.VM
	env map[string]any
}

func (m *machine) run(r *runner, f *Facts) (result Truth, err error) {
	defer func() {
		if p := recover(); p != nil {
			result, err = Undecided, fmt.Errorf("panic: %v", p)
		}
	}()
	if m.env == nil {
		m.env = map[string]any{}
	}
	for _, i := range r.vars {
		switch x := f.nums[i]; {
		case f.program.readings[i].Kind == knowledge.Text:
			if f.facts[i].state != Known {
				return Undecided, nil
			}
			m.env[variable(i)] = f.text(i)
		case !x.isPoint():
			return Undecided, nil
		default:
			m.env[variable(i)] = x.lo
		}
	}
	out, err := m.vm.Run(r.program, m.env)
	if err != nil {
		return Undecided, fmt.Errorf("%s", firstLine(err))
	}
	yes, ok := out.(bool)
	if !ok {
		return Undecided, fmt.Errorf("%v is neither true nor false", out)
	}
	return truthOf(yes, yes), nil
}

// firstLine drops the snippet that expr draws below a message.
func firstLine(err error) string {
	line, _, _ := strings.Cut(err.Error(), "\n")
	return line
}
