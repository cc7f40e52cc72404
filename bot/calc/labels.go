package calc

import (
	"math"
	"slices"
)

// A label is a phrase of fields' words. It belongs to the number before it or
// to the one behind it, or to none, and a number has at most one label: of all
// ways to share them out the one that uses the most labels is taken. That is
// what keeps "eol 2k2 alarm 4k7" from slipping by one.
type label struct {
	from, to int // pieces, the end left out
	fields   []meant
}

// meant is a field that a label may be for, with where its number stands.
type meant struct {
	field *Field
	place place
}

type place uint8

const (
	either  place = iota // of the number
	leading              // either, but usually before it
	before
	after
)

// segment is what stands between two commas.
type segment struct {
	labels  []label
	numbers []int // pieces
	of      []int // label by number, -1 for none
}

// labelled gives the numbers of a segment that have labels to their fields.
func (in *Input) labelled(w words, from, to int) (segment, error) {
	s := segment{labels: in.labels(w, from, to)}
	for i := from; i < to; i++ {
		if w[i].Number && !w[i].used {
			s.numbers = append(s.numbers, i)
		}
	}
	if len(s.numbers) > 0 {
		s.of = in.share(w, s.labels, s.numbers, len(s.labels) > 0 && s.labels[0].from < s.numbers[0])
	}
	w.free(s.labels, s.of)
	for n, l := range s.of {
		if l < 0 {
			continue
		}
		f, _ := in.fit(w, &s.labels[l], s.numbers, n, s.labels[l].from < s.numbers[n], false)
		if err := in.give(f, &w[s.numbers[n]]); err != nil {
			return s, err
		}
	}
	return s, nil
}

// others gives the numbers without a label to the fields of their units.
func (in *Input) others(w words, s *segment) error {
	for n := range s.numbers {
		if s.of[n] >= 0 {
			continue
		}
		p := &w[s.numbers[n]]
		f := in.shared(w, s.labels, s.of, s.numbers, n)
		if f == nil {
			f = in.byUnit(p)
		}
		if f != nil && f.bare && len(p.Units) == 0 && led(s.labels, s.of, s.numbers, n) {
			f = nil // "battery 10.8" is no section
		}
		if err := in.give(f, p); err != nil {
			return err
		}
	}
	return nil
}

// free makes the words of labels without a number free for choices.
func (w words) free(labels []label, of []int) {
	for l := range labels {
		if slices.Contains(of, l) {
			continue
		}
		for i := labels[l].from; i < labels[l].to; i++ {
			w[i].used, w[i].known = false, true
		}
	}
}

// give puts a number into its field.
func (in *Input) give(f *Field, p *bit) error {
	if f == nil {
		if len(p.Units) == 0 && p.Spelled {
			return nil // "one resistor": a word like others
		}
		return &Misread{p.written, in.kind.advice(p)}
	}
	x, ok := in.takes(f, p)
	if !ok {
		return &Misread{p.written, in.kind.advice(p)}
	}
	p.used = true
	return in.holder(f).put(f, x)
}

// labels finds the labels of a segment, the longest phrases first; words of one
// field that follow each other are one label.
func (in *Input) labels(w words, from, to int) []label {
	var out []label
	for i := from; i < to; {
		l := label{from: i, to: i}
		if !w[i].Number && !w[i].used {
			l = in.labelAt(w[:to], i)
		}
		if l.to == i {
			i++
			continue
		}
		w.use(l.from, l.to)
		i = l.to
		if n := len(out) - 1; n >= 0 && out[n].to == l.from {
			if both := common(out[n].fields, l.fields); len(both) > 0 && !in.servesBefore(w, from, out[n], both) {
				out[n].to, out[n].fields = l.to, both
				continue
			}
		}
		out = append(out, l)
	}
	return out
}

// servesBefore tells whether a label has a number in front of it that it would
// lose with its other fields: "0.9 A in alarm for 30 min".
func (in *Input) servesBefore(w words, from int, l label, both []meant) bool {
	i := w[:l.from].number(l.from, -1)
	if i < from {
		return false
	}
	for _, m := range l.fields {
		if _, ok := in.takes(m.field, &w[i]); ok && m.place != before && !slices.ContainsFunc(both, func(b meant) bool { return b.field == m.field }) {
			return true
		}
	}
	return false
}

func (in *Input) labelAt(w words, i int) label {
	l := label{from: i, to: i}
	for n := range in.kind.Fields {
		f := &in.kind.Fields[n]
		if f.Choices != nil || f.flag {
			continue
		}
		for _, list := range []struct {
			words []string
			place place
		}{{f.Words, either}, {f.Leads, leading}, {f.Before, before}, {f.After, after}} {
			length := w.longest(i, list.words)
			switch {
			case length == 0 || i+length < l.to:
			case i+length > l.to:
				l.to, l.fields = i+length, []meant{{f, list.place}}
			default:
				l.fields = append(l.fields, meant{f, list.place})
			}
		}
	}
	return l
}

// common keeps the fields of both labels; the stricter place holds.
func common(a, b []meant) []meant {
	var out []meant
	for _, x := range a {
		for _, y := range b {
			if x.field == y.field {
				out = append(out, meant{x.field, max(x.place, y.place)})
			}
		}
	}
	return out
}

// fit finds the field of a label for a number, and how well they go together;
// nil when they don't. In a segment that begins with a label, labels stand in
// front of their numbers.
func (in *Input) fit(w words, l *label, numbers []int, n int, inFront, labelsFirst bool) (*Field, int) {
	var best *Field
	strange, score := math.Inf(1), 0
	for _, m := range l.fields {
		x, ok := in.takes(m.field, &w[numbers[n]])
		if !ok || m.place == before && !inFront || m.place == after && inFront {
			continue
		}
		s := m.field.strange(w[numbers[n]].Piece)
		if m.place == before && s > 0 && m.field.own && !w.near(numbers, n, m.field.Words) {
			continue
		}
		if s < strange {
			best, strange, score = m.field, s, in.usual(w, m, numbers, n, inFront, labelsFirst, x)
		}
	}
	return best, score
}

// near tells whether one of the words stands between a number and the number
// before the one before it.
func (w words) near(numbers []int, n int, phrases []string) bool {
	from := 0
	if n > 1 {
		from = numbers[n-2] + 1
	}
	for i := numbers[n] - 1; i >= from; i-- {
		if w.longest(i, phrases) > 0 {
			return true
		}
		if w[i].Apart {
			return false
		}
	}
	return false
}

// usedLabel is what a label that is used counts, against how usual its place is.
const usedLabel = 100

func (in *Input) usual(w words, m meant, numbers []int, n int, inFront, labelsFirst bool, x float64) int {
	other := n + 1 // the number on the label's other side
	if inFront {
		other = n - 1
	}
	switch {
	case m.place == before || m.place == after:
		return 2
	case m.place == leading:
		return btoi(inFront)
	case m.field.larger && !labelsFirst && other >= 0 && other < len(numbers):
		if y, ok := in.takes(m.field, &w[numbers[other]]); ok && x != y {
			return btoi(x > y)
		}
	}
	return btoi(inFront == labelsFirst)
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

// way is the best sharing out up to a gap between two numbers.
type way struct {
	score int
	of    []int // label by number, -1 for none
}

// share gives each number its label, or -1: over the gaps between the numbers,
// from left to right, by whether the number before the gap has a label. Two
// labels of a gap never cross.
func (in *Input) share(w words, labels []label, numbers []int, labelsFirst bool) []int {
	ways := [2]*way{{}, nil}
	at := 0
	for gap := 0; gap <= len(numbers); gap++ {
		begin := at
		for at < len(labels) && (gap == len(numbers) || labels[at].from < numbers[gap]) {
			at++
		}
		next := [2]*way{}
		for back := begin - 1; back < at; back++ { // begin-1 is none
			old := in.points(w, labels, numbers, back, begin, gap-1, false, labelsFirst)
			for taken, w0 := range ways {
				if w0 == nil || back >= begin && (taken == 1 || old == 0) {
					continue
				}
				next[0] = better(next[0], w0, back, begin, -1, old)
				for on := back + 1; on < at; on++ {
					if x := in.points(w, labels, numbers, on, begin, gap, true, labelsFirst); x > 0 {
						next[1] = better(next[1], w0, back, begin, on, old+x)
					}
				}
			}
		}
		ways = next
	}
	return ways[0].of[:len(numbers)]
}

// better returns the better of a way and of another one that goes on: with a
// label for the number before the gap, and one for the number behind it.
func better(so, from *way, back, begin, on, points int) *way {
	if so != nil && so.score >= from.score+points {
		return so
	}
	of := append(slices.Clone(from.of), on)
	if back >= begin {
		of[len(of)-2] = back
	}
	return &way{from.score + points, of}
}

// points is what a label counts for a number; 0 when they don't go together.
func (in *Input) points(w words, labels []label, numbers []int, l, begin, n int, inFront, labelsFirst bool) int {
	if l < begin || n < 0 || n >= len(numbers) {
		return 0
	}
	f, score := in.fit(w, &labels[l], numbers, n, inFront, labelsFirst)
	if f == nil {
		return 0
	}
	return usedLabel + score
}

// led tells whether a label that usually leads stands in front of a number and
// has found no number of its unit.
func led(labels []label, of, numbers []int, n int) bool {
	for i, l := range labels {
		if slices.Contains(of, i) || l.from > numbers[n] || n > 0 && l.from < numbers[n-1] {
			continue
		}
		if slices.ContainsFunc(l.fields, func(m meant) bool { return m.place == leading || m.place == before }) {
			return true
		}
	}
	return false
}

// shared finds the field of a number without a label by the label of a number
// beside it: "alarm 900 mA 15 min", "11.2 V under load at 2 A".
func (in *Input) shared(w words, labels []label, of, numbers []int, n int) *Field {
	for _, beside := range []int{n - 1, n + 1} {
		if beside < 0 || beside >= len(of) || of[beside] < 0 {
			continue
		}
		for _, m := range labels[of[beside]].fields {
			p := &w[numbers[n]]
			if _, ok := in.takes(m.field, p); ok && len(p.Units) > 0 && (m.field.Unit != "min" || m.field.strange(p.Piece) == 0) {
				return m.field
			}
		}
	}
	return nil
}
