package rules

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"ferrule/knowledge"
)

// hedged is the certainty of "I think", written ~ in a pack.
const hedged = 0.7

// ParseValue reads a value as a pack writes it: 31, 35..40, 35.., ..40, >30,
// yes, a choice, [member, "!other member"]; ~ in front makes it hedged. A list
// says nothing about the members that it does not name. The error is a
// knowledge.Problems.
func (p *Program) ParseValue(r *knowledge.Reading, s knowledge.Scalar) (Value, error) {
	text, unsure := strings.CutPrefix(strings.TrimSpace(s.S), "~")
	text = strings.TrimSpace(text)
	var v Value
	var err error
	switch r.Kind {
	case knowledge.Set:
		v, err = p.parseSet(r, s, text)
		for i := range s.List {
			unsure = unsure || strings.HasPrefix(s.List[i].S, "~")
		}
	default:
		if s.List != nil {
			return Value{}, fault(s.Pos, "write one value", "%s is a %s, not a list", r.Name.S, r.Kind)
		}
		v, err = p.parseSingle(r, s.Pos, text)
	}
	if unsure {
		v.Certainty = hedged
	}
	return v, err
}

func fault(at knowledge.Pos, advice, format string, args ...any) error {
	var ps knowledge.Problems
	ps.Add(at, advice, format, args...)
	return ps
}

func (p *Program) parseSingle(r *knowledge.Reading, at knowledge.Pos, text string) (Value, error) {
	if text == "" {
		return Value{}, fault(at, "write a value", "the value of %s is empty", r.Name.S)
	}
	switch r.Kind {
	case knowledge.Number:
		return parseNumber(r, at, text)
	case knowledge.YesNo:
		yes, ok := knowledge.ParseYesNo(text)
		if !ok {
			return Value{}, fault(at, "write yes or no", "%q is neither yes nor no", text)
		}
		return Yes(yes), nil
	case knowledge.Choice:
		names := p.pack.ChoiceNames(r)
		if !slices.Contains(names, text) {
			return Value{}, fault(at, nearestName(text, names), "%q is no choice of %s", text, r.Name.S)
		}
	}
	return Named(text), nil
}

func parseNumber(r *knowledge.Reading, at knowledge.Pos, text string) (Value, error) {
	bare := strings.TrimSpace(strings.TrimSuffix(text, r.Unit))
	low, high := math.Inf(-1), math.Inf(1)
	var err error
	parse := func(s string) (x float64) {
		x, e := strconv.ParseFloat(strings.TrimSpace(s), 64)
		if e != nil || math.IsNaN(x) || math.IsInf(x, 0) {
			err = fault(at, "write 31, 35..40, 35.., ..40 or >30", "%q is not a number", text)
		}
		return x
	}
	from, to, ranged := strings.Cut(bare, "..")
	above, isAbove := strings.CutPrefix(bare, ">")
	below, isBelow := strings.CutPrefix(bare, "<")
	switch {
	case isAbove:
		low = math.Nextafter(parse(above), math.Inf(1))
	case isBelow:
		high = math.Nextafter(parse(below), math.Inf(-1))
	case ranged && from == "" && to == "":
		err = fault(at, "give at least one bound", "%q is no range", text)
	case ranged:
		if from != "" {
			low = parse(from)
		}
		if to != "" {
			high = parse(to)
		}
	default:
		low = parse(bare)
		high = low
	}
	if err == nil && low > high {
		err = fault(at, "the low bound comes first", "%q is no range", text)
	}
	if err != nil {
		return Value{}, err
	}
	return Between(low, high), nil
}

func (p *Program) parseSet(r *knowledge.Reading, s knowledge.Scalar, text string) (Value, error) {
	list := s.List
	if list == nil {
		list = []knowledge.Str{{S: text, Pos: s.Pos}}
	}
	v := Members(nil, nil)
	names := p.pack.ChoiceNames(r)
	var problems knowledge.Problems
	for _, m := range list {
		name := strings.TrimPrefix(strings.TrimSpace(m.S), "~")
		name, not := strings.CutPrefix(name, "!")
		name = strings.TrimSpace(name)
		switch {
		case !slices.Contains(names, name):
			problems.Add(m.Pos, nearestName(name, names), "%q is no member of %s", name, r.Name.S)
		case not:
			v.HasNot = append(v.HasNot, name)
		default:
			v.Has = append(v.Has, name)
		}
	}
	return v, problems.Err()
}
