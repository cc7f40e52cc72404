package intake

import (
	"slices"
	"strings"

	"ferrule/knowledge"
	"ferrule/knowledge/firmware"
	"ferrule/rules"
)

// versions binds version numbers to the readings named before them.
func (c *clauseOf) versions() {
	for i, h := range c.hits {
		r, _ := c.reading(h, knowledge.Version)
		if r == nil {
			continue
		}
		stop := c.end
		if i+1 < len(c.hits) {
			stop = c.hits[i+1].first
		}
		c.version(r, h.first, h.last, stop)
	}
	c.firmwareOfModel()
	if r := c.askedFor(knowledge.Version); r != nil && len(c.hits) == 0 {
		c.version(r, -1, c.start, c.end)
	}
}

// firmwareOfModel binds "moor small fw 3.08": a word for firmware behind a
// model is the firmware of that model's class.
func (c *clauseOf) firmwareOfModel() {
	var class knowledge.Class
	next := 0
	for i := c.start; i+1 < c.end; i++ {
		for next < len(c.hits) && c.hits[next].last <= i {
			for _, s := range c.hits[next].senses {
				if s.kind == aModel {
					class = c.pack.Model(s.name).Class
				}
			}
			next++
		}
		if t := c.tokens[i].text; c.taken[i] || t != "fw" && t != "firmware" && t != "version" {
			continue
		}
		if r := c.pack.Reading(string(class) + ".firmware"); r != nil {
			c.version(r, i, i+1, c.end)
			return
		}
	}
}

// version takes the first version-like word from a token on.
func (c *clauseOf) version(r *knowledge.Reading, phrase, from, stop int) {
	if from >= stop {
		return
	}
	base := c.tokens[from].start
	text := c.text[base:c.tokens[stop-1].end]
	spans := firmware.Find(text)
	first, last := -1, -1
	for i := from; i < stop; i++ {
		inside := len(spans) > 0 && c.tokens[i].end > base+spans[0].Start && c.tokens[i].start < base+spans[0].End
		if inside || len(spans) == 0 && c.tokens[i].kind == number && first < 0 {
			if first < 0 {
				first = i
			}
			last = i + 1
		}
	}
	if first < 0 {
		return
	}
	for i := first; i < last; i++ {
		c.taken[i] = true
	}
	v := rules.Named(c.text[c.tokens[first].start:c.tokens[last-1].end])
	v.Certainty = c.certainty
	if phrase >= 0 {
		first = phrase
	}
	c.give(r, c.subjectOf(r.Class), v, first, last)
}

// numbers binds each quantity to the reading that it belongs to.
func (c *clauseOf) numbers() {
	quantities := quantities(c.tokens[:c.end], c.taken)
	used := map[string]bool{}
	for k, q := range quantities {
		if q.first < c.start || q.dropped && len(quantities) > 1 {
			continue
		}
		next := c.end
		if k+1 < len(quantities) {
			next = quantities[k+1].first
		}
		r, h := c.numberReading(q, next, used)
		if r == nil {
			continue
		}
		used[r.Name.S] = true
		for i := q.first; i < q.last; i++ {
			c.taken[i] = true
		}
		v := rules.Between(q.low, q.high)
		v.Certainty = c.certainty
		first, last := q.first, q.last
		if h != nil {
			first, last = min(first, h.first), max(last, h.last)
		}
		c.give(r, c.subjectNear(r.Class, q.first), c.inUnit(v, r, q), first, last)
	}
}

// inUnit turns a quantity in mA, A, and so on into the reading's unit.
func (c *clauseOf) inUnit(v rules.Value, r *knowledge.Reading, q quantity) rules.Value {
	if f := factors[[2]string{q.unit, r.Unit}]; f != 0 {
		v.Low *= f
		v.High *= f
	}
	return v
}

var factors = map[[2]string]float64{
	{"A", "mA"}: 1000, {"mA", "A"}: 1e-3, {"h", "min"}: 60, {"min", "h"}: 1.0 / 60, {"s", "min"}: 1.0 / 60, {"min", "s"}: 60,
	{"m", "mm"}: 1000, {"kohm", "ohm"}: 1000, {"ohm", "kohm"}: 1e-3,
}

func fits(q quantity, r *knowledge.Reading) bool {
	return q.unit == "" || q.unit == r.Unit || factors[[2]string{q.unit, r.Unit}] != 0
}

// numberReading picks the reading of a quantity: named before it in the
// clause, else behind it and before the next number, else the one asked for, else the only one with that
// unit whose range it fits, else the one that is corrected.
func (c *clauseOf) numberReading(q quantity, next int, used map[string]bool) (*knowledge.Reading, *hit) {
	var after *hit
	for i := range slices.Backward(c.hits) {
		h := &c.hits[i]
		r, _ := c.reading(*h, knowledge.Number)
		if r == nil || !fits(q, r) || used[r.Name.S] && !c.corrects(q.first) {
			continue
		}
		if h.last <= q.first {
			return r, h
		}
		if h.first < next { // else it stands behind the next number, and is that one's
			after = h
		}
	}
	if after != nil {
		r, _ := c.reading(*after, knowledge.Number)
		return r, after
	}
	if r := c.pack.Reading(c.ctx.Last); r != nil && c.corrects(q.first) && len(c.out.Readings) == 0 && fits(q, r) && plausible(q, r) {
		return r, nil
	}
	if r := c.askedFor(knowledge.Number); r != nil && fits(q, r) && (q.unit != "" || plausible(q, r)) {
		return r, nil
	}
	if r := c.inSymptom(q); r != nil {
		return r, nil
	}
	if r := c.pack.Reading(c.ctx.Last); r != nil && fits(q, r) && (q.unit != "" || c.corrects(q.first)) {
		return r, nil
	}
	for _, o := range slices.Backward(c.out.Readings) {
		if r := c.pack.Reading(o.Reading); c.corrects(q.first) && r.Kind == knowledge.Number && fits(q, r) {
			return r, nil
		}
	}
	return c.byUnit(q), nil
}

func plausible(q quantity, r *knowledge.Reading) bool {
	return r.Plausible == nil || q.high >= r.Plausible.Low && q.low <= r.Plausible.High
}

// inSymptom is the reading that a complaint names on the way: the signal of
// "weak signal, about 40".
func (c *clauseOf) inSymptom(q quantity) *knowledge.Reading {
	for _, h := range c.scan.hits {
		if !isSymptom(h) || h.first > q.first {
			continue
		}
		for i := h.first; i < h.last; i++ {
			_, senses := c.lexicon.at(c.tokens[i : i+1])
			if r, _ := c.reading(hit{senses: senses}, knowledge.Number); r != nil && fits(q, r) {
				return r
			}
		}
	}
	return nil
}

func (c *clauseOf) byUnit(q quantity) *knowledge.Reading {
	var found *knowledge.Reading
	if q.unit == "" {
		return nil
	}
	if q.unit == "%" { // the level is what is given in per cent
		return c.pack.Reading("radio.signal")
	}
	for i := range c.pack.Readings {
		r := &c.pack.Readings[i]
		if r.Kind != knowledge.Number || r.Unit != q.unit || !r.Askable() || r.Plausible == nil || q.high < r.Plausible.Low || q.low > r.Plausible.High {
			continue
		}
		if found != nil {
			return nil
		}
		found = r
	}
	return found
}

// subjectNear is the subject named last before a token of the clause.
func (c *clauseOf) subjectNear(class knowledge.Class, at int) rules.Subject {
	for i := at - 1; i > c.start; i-- {
		if classWords[c.tokens[i-1].text] == class && c.tokens[i].kind == number && c.taken[i-1] {
			if n, ok := parseNumber(c.tokens[i].text); ok && n == float64(int(n)) && n >= 1 && n < 1000 {
				return rules.Subject{Class: class, N: int(n)}
			}
		}
	}
	return c.subjectOf(class)
}

// choices binds the answers of choice readings. An answer that several
// readings share belongs to the one asked for, or named in the clause.
func (c *clauseOf) choices() {
	for _, h := range c.hits {
		var best *sense
		matches := 0
		for i := range h.senses {
			s := &h.senses[i]
			if s.kind != aChoice || c.pack.Reading(s.name).Kind != knowledge.Choice {
				continue
			}
			matches++
			if best == nil || c.prefers(s.name, best.name) {
				best = s
			}
		}
		if best == nil || matches > 1 && !c.relevant(best.name) || c.negated(h.first, true) {
			continue
		}
		r := c.pack.Reading(best.name)
		v := rules.Named(best.choice)
		v.Certainty = c.certainty
		c.give(r, c.subjectOf(r.Class), v, h.first, h.last)
	}
}

func (c *clauseOf) relevant(name string) bool {
	return slices.Contains(c.ctx.Asked, name) || c.named(name)
}

func (c *clauseOf) prefers(a, b string) bool { return c.relevant(a) && !c.relevant(b) }

func (c *clauseOf) named(name string) bool {
	return slices.ContainsFunc(c.hits, func(h hit) bool {
		return slices.ContainsFunc(h.senses, func(s sense) bool { return s.kind == aReading && s.name == name })
	})
}

// sets binds the members of sets: each is known by itself, unless only or
// both says more.
func (c *clauseOf) sets() {
	type found struct {
		r           *knowledge.Reading
		v           rules.Value
		first, last int
	}
	var sets []found
	for _, h := range c.hits {
		for _, s := range h.senses {
			if s.kind != aChoice || c.pack.Reading(s.name).Kind != knowledge.Set {
				continue
			}
			i := slices.IndexFunc(sets, func(f found) bool { return f.r.Name.S == s.name })
			if i < 0 {
				sets = append(sets, found{c.pack.Reading(s.name), rules.Members(nil, nil), h.first, h.last})
				i = len(sets) - 1
			}
			f := &sets[i]
			f.last = h.last
			if c.negated(h.first, false) || c.deniedAfter(h.last) {
				f.v.HasNot = append(f.v.HasNot, s.choice)
			} else {
				f.v.Has = append(f.v.Has, s.choice)
			}
		}
	}
	words := " " + join(c.tokens[c.start:c.end]) + " "
	only := strings.Contains(words, " only ") || strings.Contains(words, " just ") || strings.Contains(words, " nur ") || strings.Contains(words, " tylko ") || strings.Contains(words, " solo ")
	for _, f := range sets {
		if only && len(f.v.HasNot) == 0 {
			f.v.HasNot = others(c.pack.ChoiceNames(f.r), f.v.Has)
		}
		f.v.Certainty = c.certainty
		c.give(f.r, c.subjectOf(f.r.Class), f.v, f.first, f.last)
	}
	r := c.askedFor(knowledge.Set)
	if r == nil {
		r = c.setSpokenOf()
	}
	if len(sets) > 0 || r == nil {
		return
	}
	for i := c.start; i < c.end; i++ {
		var v rules.Value
		switch c.tokens[i].text {
		case "both", "all", "beide", "oba", "ambos", "les", "entrambi":
			v = rules.Members(c.pack.ChoiceNames(r), nil)
		case "neither", "none":
			v = rules.Members(nil, c.pack.ChoiceNames(r))
		default:
			continue
		}
		v.Certainty = c.certainty
		c.give(r, c.subjectOf(r.Class), v, i, i+1)
		return
	}
}

// deniedAfter tells whether "not wired", "is empty" or the like follows a
// member of a set, before anything else of the pack.
func (c *clauseOf) deniedAfter(last int) bool {
	for i := last; i < min(c.end, last+3) && !c.taken[i]; i++ {
		if t := c.tokens[i].text; negations[t] && t != "no" || absent[t] {
			return !c.onlyBehind(i)
		}
	}
	return false
}

// onlyBehind tells whether the denial is of what follows it: "expander bus
// not keypad bus".
func (c *clauseOf) onlyBehind(i int) bool { return i+1 < c.end && c.taken[i+1] }

var absent = map[string]bool{"empty": true, "missing": true, "unused": true, "unwired": true, "unconnected": true, "disconnected": true, "leer": true, "fehlt": true, "vacío": true, "vide": true, "vuoto": true, "leeg": true}

// setSpokenOf is the set of "both buses": one whose members all hold the word
// behind both or neither.
func (c *clauseOf) setSpokenOf() *knowledge.Reading {
	for i := c.start; i+1 < c.end; i++ {
		if t := c.tokens[i].text; t != "both" && t != "neither" {
			continue
		}
		spoken := strings.TrimSuffix(strings.TrimSuffix(c.tokens[i+1].text, "s"), "e")
		for k := range c.pack.Readings {
			r := &c.pack.Readings[k]
			if r.Kind == knowledge.Set && r.Askable() && len(spoken) >= 3 && !slices.ContainsFunc(r.Choices, func(o knowledge.ChoiceOf) bool { return !strings.Contains(o.Name.S, spoken) }) {
				return r
			}
		}
	}
	return nil
}

func others(all, some []string) []string {
	var out []string
	for _, m := range all {
		if !slices.Contains(some, m) {
			out = append(out, m)
		}
	}
	return out
}

// yesNo binds yes/no readings by their words: a negation before them, or a
// no behind them, turns them round.
func (c *clauseOf) yesNo() {
	for _, h := range c.hits {
		r, negative := c.reading(h, knowledge.YesNo)
		if r == nil || isSymptom(h) {
			continue
		}
		yes := !negative
		if !negative && c.negated(h.first, false) {
			yes = false
		}
		last := h.last
		for last < c.end && (c.tokens[last].text == ":" || c.tokens[last].text == "=" || c.tokens[last].text == "is") {
			last++
		}
		if last < c.end && saysNo[c.tokens[last].text] {
			yes, last = false, last+1
		} else if last < c.end && saysYes[c.tokens[last].text] {
			last++
		} else {
			last = h.last
		}
		v := rules.Yes(yes)
		v.Certainty = c.certainty
		c.give(r, c.subjectOf(r.Class), v, h.first, last)
	}
}

func isSymptom(h hit) bool {
	return slices.ContainsFunc(h.senses, func(s sense) bool { return s.kind == aSymptom })
}

var (
	saysYes = map[string]bool{"yes": true, "yep": true, "yeah": true, "y": true, "ja": true, "tak": true, "sí": true, "si": true, "oui": true, "sì": true}
	saysNo  = map[string]bool{"no": true, "nope": true, "n": true, "nein": true, "nie": true, "non": true, "nee": true, "not": true}
)

// answer binds a bare yes, no or don't know to what was asked.
func (s *scan) answer() {
	switch s.out.Command {
	case Yes, No:
		r := s.askedFor(knowledge.YesNo)
		if r != nil && !slices.ContainsFunc(s.out.Readings, func(g Given) bool { return g.Reading == r.Name.S }) {
			s.give(r, s.focused(r), rules.Yes(s.out.Command == Yes), 0, 1)
		}
	case DontKnow, Cant:
		if len(s.out.Readings) > 0 {
			return
		}
		for _, name := range s.ctx.Asked {
			if r := s.pack.Reading(name); r != nil && len(s.tokens) > 0 {
				s.give(r, s.focused(r), rules.Value{State: rules.Unavailable, Certainty: 1}, 0, len(s.tokens))
			}
		}
	}
}

func (s *scan) focused(r *knowledge.Reading) rules.Subject {
	return rules.Subject{Class: r.Class, N: max(1, s.ctx.Focus[r.Class])}
}
