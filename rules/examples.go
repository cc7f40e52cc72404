package rules

import (
	"errors"
	"slices"
	"strconv"
	"strings"

	"ferrule/knowledge"
)

// ExampleResult is an example of a rule or a table held against the program.
type ExampleResult struct {
	Rule     string // or
	Evidence string
	N        int // the number of the example, from 1
	At       knowledge.Pos
	Pass     bool
	Want     string
	Got      string
}

// String returns the result on one line.
func (e ExampleResult) String() string {
	verdict := "pass"
	if !e.Pass {
		verdict = "wanted " + e.Want + ", got " + e.Got
	}
	return e.At.String() + ": " + e.Rule + e.Evidence + " example " + strconv.Itoa(e.N) + ": " + verdict
}

// examples checks the values of all examples.
func (c *compiler) examples() {
	check := func(e *knowledge.Example) {
		for _, named := range e.Readings {
			if r := c.pack.Reading(named.Name.S); r != nil {
				if _, err := c.program.ParseValue(r, named.Value); err != nil {
					*c.problems = append(*c.problems, knowledge.ProblemsOf(err)...)
				}
			}
		}
	}
	for i := range c.pack.Rules {
		for k := range c.pack.Rules[i].Examples {
			check(&c.pack.Rules[i].Examples[k])
		}
	}
	for i := range c.pack.Evidence {
		for k := range c.pack.Evidence[i].Examples {
			check(&c.pack.Evidence[i].Examples[k])
		}
	}
}

// RunExamples evaluates every example of rules and tables.
func (p *Program) RunExamples() []ExampleResult {
	var out []ExampleResult
	f, v := p.NewFacts(), new(Verdict)
	for i := range p.pack.Rules {
		r := &p.pack.Rules[i]
		for k := range r.Examples {
			e := &r.Examples[k]
			// A blocker is judged on what is sure, in examples as in a case.
			problem := p.bindExample(f, v, e, r.Kind == knowledge.Blocker)
			result := ExampleResult{Rule: r.Name.S, N: k + 1, At: e.At, Want: e.Fires, Got: v.Rule(i).String()}
			if e.Fires == Undecided.String() && len(e.Needs) > 0 {
				result.Want += ", needs " + sorted(e.Needs)
				result.Got += ", needs " + sorted(p.Needs(f, v, i))
			}
			out = append(out, result.judged(problem))
		}
	}
	for i := range p.pack.Evidence {
		e := &p.pack.Evidence[i]
		for k := range e.Examples {
			problem := p.bindExample(f, v, &e.Examples[k], false)
			result := ExampleResult{Evidence: e.Name.S, N: k + 1, At: e.Examples[k].At,
				Want: "band " + strconv.Itoa(e.Examples[k].Band), Got: bandNames(v.Bands(i))}
			out = append(out, result.judged(problem))
		}
	}
	return out
}

func (e ExampleResult) judged(problem string) ExampleResult {
	e.Pass = e.Want == e.Got && problem == ""
	e.Got += problem
	return e
}

// bindExample returns what went wrong, to be added to what came out.
func (p *Program) bindExample(f *Facts, v *Verdict, e *knowledge.Example, sure bool) string {
	o := &Observed{}
	for _, named := range e.Readings {
		r := p.pack.Reading(named.Name.S)
		if r == nil {
			continue
		}
		if value, err := p.ParseValue(r, named.Value); err == nil {
			o.Set(named.Name.S, Subject{r.Class, 1}, value)
		}
	}
	p.Bind(f, o, nil, BindOptions{Sure: sure})
	p.Evaluate(f, v)
	var wrong strings.Builder
	for _, problem := range v.Problems() {
		if errors.As(problem.Err, new(*NoAnswer)) {
			continue // unknown, and no fault
		}
		wrong.WriteString("; " + problem.Error())
	}
	return wrong.String()
}

func bandNames(mask uint32) string {
	var names []string
	for i := range 32 {
		if mask>>i&1 == 1 {
			names = append(names, strconv.Itoa(i+1))
		}
	}
	return "band " + strings.Join(names, " or ")
}

func sorted(names []string) string {
	names = slices.Clone(names)
	slices.Sort(names)
	return joined(names)
}
