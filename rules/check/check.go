// Package check finds out what a machine can know about a pack before it
// goes live: that it compiles, that no reading counts twice, that the order
// of the fixes has no circle, and that every example holds.
package check

import (
	"fmt"
	"io/fs"
	"slices"
	"strings"

	"ferrule/knowledge"
	"ferrule/rules"
	"ferrule/rules/diagnosis"
)

// Counts tells how large a pack is.
type Counts struct {
	Readings, Symptoms, Equipment, Causes, Rules, Tables, Examples, Hazards int
}

// String returns the counts in a sentence.
func (c Counts) String() string {
	return fmt.Sprintf("%d readings, %d symptoms, %d equipment entries, %d causes, %d rules, %d evidence tables, %d examples, %d hazards",
		c.Readings, c.Symptoms, c.Equipment, c.Causes, c.Rules, c.Tables, c.Examples, c.Hazards)
}

// Count counts the items of a pack.
func Count(p *knowledge.Pack) Counts {
	c := Counts{
		Readings: len(p.Readings), Symptoms: len(p.Symptoms), Equipment: len(p.Equipment), Causes: len(p.Causes),
		Rules: len(p.Rules), Tables: len(p.Evidence), Hazards: len(p.Hazards),
	}
	for i := range p.Rules {
		c.Examples += len(p.Rules[i].Examples)
	}
	for i := range p.Evidence {
		c.Examples += len(p.Evidence[i].Examples)
	}
	return c
}

// Files loads a pack, compiles it and checks it whole. A pack with faults in
// its shape is compiled all the same as far as that goes, so that the faults
// of its expressions are reported with them. The pack is returned as far as it
// could be read.
func Files(fsys fs.FS) (*rules.Program, *knowledge.Pack, error) {
	pack, err := knowledge.Load(fsys)
	if err == nil {
		program, err := Pack(pack)
		return program, pack, err
	}
	problems := knowledge.ProblemsOf(err)
	if pack == nil {
		return nil, nil, err
	}
	for _, p := range compileProblems(pack) {
		if !slices.ContainsFunc(problems, func(q knowledge.Problem) bool { return q.File == p.File && q.Line == p.Line }) {
			problems = append(problems, p)
		}
	}
	return nil, pack, problems.Err()
}

// compileProblems compiles a pack that is known to be faulty; should that be
// too much for the compiler, the faults already found are enough.
func compileProblems(pack *knowledge.Pack) (problems knowledge.Problems) {
	defer func() {
		if recover() != nil {
			problems = nil
		}
	}()
	_, err := rules.Compile(pack)
	return knowledge.ProblemsOf(err)
}

// Pack compiles a pack and checks it whole. The error is knowledge.Problems
// with everything that was found.
func Pack(p *knowledge.Pack) (*rules.Program, error) {
	program, err := rules.Compile(p)
	if err != nil {
		return nil, err
	}
	var problems knowledge.Problems
	overlaps(program, &problems)
	if circle := diagnosis.OrderCircle(p); circle != nil {
		at := knowledge.Pos{}
		for i := range p.Rules {
			if p.Rules[i].Name.S == circle[0] {
				at = p.Rules[i].At
			}
		}
		problems.Add(at, "drop one before:", "each of these claims to be fixed before the next: %s", strings.Join(circle, " -> "))
	}
	for _, r := range program.RunExamples() {
		if !r.Pass {
			problems.Add(r.At, "mend the example or the condition", "an example of %s does not hold: it wants %s and gets %s", r.Rule+r.Evidence, r.Want, r.Got)
		}
	}
	if err := problems.Err(); err != nil {
		return nil, err
	}
	return program, nil
}

// overlaps refuses two tables that rest on the same base reading, since the
// reading would count twice. A table within another one may share with it and
// with the others within it that speak of another band.
func overlaps(program *rules.Program, problems *knowledge.Problems) {
	p := program.Pack()
	owners := map[string][]int{}
	for i := range p.Evidence {
		for _, r := range program.EvidenceReadings(i) {
			for _, j := range owners[r] {
				if !separate(p, i, j) {
					problems.Add(p.Evidence[i].Name.Pos, "put both into one table, or state one within: the other",
						"%s and %s both rest on %s, which would count twice", p.Evidence[j].Name.S, p.Evidence[i].Name.S, r)
				}
			}
			owners[r] = append(owners[r], i)
		}
	}
}

// separate tells whether two tables can't count the same reading twice.
func separate(p *knowledge.Pack, i, j int) bool {
	if slices.ContainsFunc(chain(p, i), func(l link) bool { return l.table == j }) ||
		slices.ContainsFunc(chain(p, j), func(l link) bool { return l.table == i }) {
		return true
	}
	for _, a := range chain(p, i) {
		for _, b := range chain(p, j) {
			if a.table == b.table && a.band != b.band {
				return true
			}
		}
	}
	return false
}

// link is a table that another one is within, and its band.
type link struct{ table, band int }

func chain(p *knowledge.Pack, i int) []link {
	var links []link
	for w := p.Evidence[i].Within; w != nil && len(links) < len(p.Evidence); w = p.Evidence[i].Within {
		i = slices.IndexFunc(p.Evidence, func(e knowledge.Evidence) bool { return e.Name.S == w.Evidence.S })
		if i < 0 {
			break
		}
		links = append(links, link{i, w.Band})
	}
	return links
}
