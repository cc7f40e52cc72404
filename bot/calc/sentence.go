package calc

import (
	"math"
	"slices"
	"strings"

	"ferrule/bot/intake"
)

// Read takes a sentence apart: "100 m of 7/0.2, 2 cores, 300 mA, from 13.8 V".
// A number goes to the field of its unit whose words stand next to it. The
// error is a *Misread that names the words.
func (k Kind) Read(sentence string) (*Input, error) {
	first := k.empty()
	first.text = sentence
	if k.raw {
		return first, nil
	}
	if k.rewrite != nil {
		sentence = k.rewrite(sentence)
	}
	part := first
	pieces := intake.Pieces(sentence)
	for i := range pieces {
		p := &pieces[i]
		if k.parted && (p.Text == "then" || p.Text == "also") {
			part = k.empty()
			part.first, part.branch = first, p.Text == "also"
			first.next = append(first.next, part)
			continue
		}
		if !p.Number {
			part.word(pieces, i)
			continue
		}
		if err := part.number(pieces, i, sentence); err != nil {
			return nil, err
		}
	}
	return first, nil
}

// holder is where a field's value is kept: with its part, or with the whole.
func (in *Input) holder(f *Field) *Input {
	if f.once && in.first != nil {
		return in.first
	}
	return in
}

// number finds the field that a number is meant for.
func (in *Input) number(pieces []intake.Piece, i int, sentence string) error {
	p := pieces[i]
	written := strings.TrimSpace(sentence[p.Start:p.End])
	var best *Field
	bestScore, bestStrange, value := -1, 0.0, 0.0
	for n := range in.kind.Fields {
		f := &in.kind.Fields[n]
		x, fits := f.takes(p)
		if !fits || in.holder(f).has(f.Name) && !f.many {
			continue
		}
		score := f.nearness(pieces, i)
		if score == 0 && (f.named || len(f.Words)+len(f.Before) > 0 && (f.Unit == "" || in.defaultOf(f) != f)) {
			continue
		}
		strange := f.strange(p)
		if score > bestScore || score == bestScore && strange < bestStrange {
			best, bestScore, bestStrange, value = f, score, strange, x
		}
	}
	if best == nil && len(p.Units) == 0 && p.Spelled {
		return nil // "one resistor": a word like others
	}
	if best == nil {
		return &Misread{written, in.kind.advice(p)}
	}
	in.holder(best).put(best, value)
	return nil
}

// takes returns a number in the field's unit, and whether it can be meant for
// the field at all.
func (f *Field) takes(p intake.Piece) (float64, bool) {
	x := (p.Low + p.High) / 2
	switch {
	case f.Choices != nil:
		return 0, false
	case len(p.Units) > 0:
		return f.in(p)
	}
	return x, f.Unit == "" || !p.Spelled && (f.loose || f.bare && x != math.Trunc(x))
}

// defaultOf is the field that a number in this unit is meant for when no word
// says otherwise: the first one.
func (in *Input) defaultOf(f *Field) *Field {
	i := slices.IndexFunc(in.kind.Fields, func(g Field) bool { return g.Unit == f.Unit && g.Choices == nil })
	return &in.kind.Fields[i]
}

// reach is how many words away from a number its own words may stand.
const reach = 3

// nearness says how near to a number one of the field's words stands: 2*reach
// for next to it, 0 for none. What stands behind it counts a little more, since
// "300 mA alarm" is said more often than "alarm 300 mA", and a comma ends the
// search.
func (f *Field) nearness(pieces []intake.Piece, i int) int {
	for away := 1; away <= reach; away++ {
		if j := i + away; j < len(pieces) && !blocked(pieces, i, j) && starts(pieces, j, f.Words) {
			return 2 * (reach - away + 1)
		}
		if j := i - away; j >= 0 && !blocked(pieces, j, i) && (starts(pieces, j, f.Words) || starts(pieces, j, f.Before)) {
			return 2*(reach-away+1) - 1
		}
	}
	return 0
}

// blocked tells that a comma or another number stands between two pieces.
func blocked(pieces []intake.Piece, a, b int) bool {
	for n := a; n <= b; n++ {
		if n > a && pieces[n].Apart || n > a && n < b && pieces[n].Number {
			return true
		}
	}
	return pieces[a].Number && pieces[b].Number
}

// starts tells whether one of the phrases begins at a piece.
func starts(pieces []intake.Piece, i int, phrases []string) bool {
	return slices.ContainsFunc(phrases, func(phrase string) bool {
		for n, w := range strings.Fields(phrase) {
			if i+n >= len(pieces) || pieces[i+n].Text != w {
				return false
			}
		}
		return true
	})
}

// word takes a word for a choice, if it is one.
func (in *Input) word(pieces []intake.Piece, i int) {
	for n := range in.kind.Fields {
		f := &in.kind.Fields[n]
		for _, c := range f.Choices {
			if to := in.holder(f); starts(pieces, i, c.Words) && to.choices[f.Name] != c.Name {
				to.choose(f, c.Name)
			}
		}
	}
}

// advice says what a number could have been written as.
func (k *Kind) advice(p intake.Piece) string {
	var fits []string
	for n := range k.Fields {
		f := &k.Fields[n]
		if f.Choices != nil {
			continue
		}
		if _, ok := f.in(p); ok || len(p.Units) == 0 && f.Unit == "" {
			name := f.Name
			if w := slices.Concat(f.Before, f.Words); len(w) > 0 {
				name = w[0]
			}
			fits = append(fits, name)
		}
	}
	switch {
	case len(fits) == 0 && len(p.Units) == 0:
		return "give it a unit"
	case len(fits) == 0:
		return "no quantity here is in this unit; see ferrule calc " + k.Name + " --help"
	case len(p.Units) == 0:
		return "give it a unit, or say what it counts: " + strings.Join(fits, ", ")
	}
	return "say which one it is: " + strings.Join(fits, ", ")
}
