package knowledge

import "slices"

// index builds the look-up tables and reports names that stand twice.
func (p *Pack) index(problems *Problems) {
	p.readings = indexBy(p.Readings, func(r *Reading) Str { return r.Name }, "reading", problems)
	p.symptoms = indexBy(p.Symptoms, func(s *Symptom) Str { return s.Name }, "symptom", problems)
	p.causes = indexBy(p.Causes, func(c *Cause) Str { return c.Name }, "cause", problems)
	p.equipment = indexBy(p.Equipment, func(e *Equipment) Str { return e.Model }, "model", problems)
	p.hazards = indexBy(p.Hazards, func(h *Hazard) Str { return h.Name }, "hazard", problems)
	indexBy(p.Rules, func(r *Rule) Str { return r.Name }, "rule", problems)
	indexBy(p.Evidence, func(e *Evidence) Str { return e.Name }, "evidence table", problems)
}

func indexBy[T any](items []T, name func(*T) Str, what string, problems *Problems) map[string]*T {
	index := make(map[string]*T, len(items))
	for i := range items {
		n := name(&items[i])
		switch first := index[n.S]; {
		case n.S == "":
			// validate reports it, with the place of the item
		case first != nil:
			problems.Add(n.Pos, "rename one of them", "the %s %s is already defined at %s", what, n.S, name(first).Pos)
		default:
			index[n.S] = &items[i]
		}
	}
	return index
}

// Reading returns the reading of a name, or nil.
func (p *Pack) Reading(name string) *Reading { return p.readings[name] }

// Symptom returns the symptom of a name, or nil.
func (p *Pack) Symptom(name string) *Symptom { return p.symptoms[name] }

// Cause returns the cause of a name, or nil.
func (p *Pack) Cause(name string) *Cause { return p.causes[name] }

// Model returns the equipment entry of a name, or nil.
func (p *Pack) Model(name string) *Equipment { return p.equipment[name] }

// Hazard returns the hazard of a name, or nil.
func (p *Pack) Hazard(name string) *Hazard { return p.hazards[name] }

// Models returns the names of the models of a class, in the order of the pack.
func (p *Pack) Models(class Class) []string {
	var names []string
	for i := range p.Equipment {
		if p.Equipment[i].Class == class {
			names = append(names, p.Equipment[i].Model.S)
		}
	}
	return names
}

// ModelClass returns the class whose models a choice reading holds: a reading
// that some property is taken of holds model names and not choices of its own.
func (p *Pack) ModelClass(r *Reading) (Class, bool) {
	if r.Kind == Choice && len(r.Choices) == 0 {
		return r.Class, true
	}
	return "", false
}

// ChoiceNames returns the values that a choice, or the members that a set may
// have, in the order of the pack.
func (p *Pack) ChoiceNames(r *Reading) []string {
	if class, ok := p.ModelClass(r); ok {
		return p.Models(class)
	}
	names := make([]string, len(r.Choices))
	for i, c := range r.Choices {
		names[i] = c.Name.S
	}
	return names
}

// ReadingNames returns the names of all readings, sorted.
func (p *Pack) ReadingNames() []string { return sortedKeys(p.readings) }

func sortedKeys[T any](m map[string]T) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// mostListed is how many names an error lists at the most.
const mostListed = 20

// nearestOrAll advises the nearest candidate, or lists them all.
func nearestOrAll(word string, candidates []string) string {
	if advice := DidYouMean(word, candidates); advice != "" {
		return advice
	}
	if len(candidates) > mostListed {
		return ""
	}
	slices.Sort(candidates)
	return "known: " + join(candidates)
}
