package calc

import (
	"math"
	"regexp"
	"slices"
	"strings"

	"ferrule/bot/intake"
)

// bit is a piece of a sentence and whether anything was made of it.
type bit struct {
	intake.Piece
	written string
	used    bool
	known   bool // a label for which there is no number
}

// words are the pieces of one part of a sentence.
type words []bit

// Read takes a sentence apart: "100 m of 7/0.2, 2 cores, 300 mA, from 13.8 V".
// A number goes to the field of its unit whose words label it. The error is a
// *Misread that names the words, or a *units.OutOfRange.
func (k Kind) Read(sentence string) (*Input, error) {
	first := k.empty()
	first.text = withoutKind(sentence, k.Name)
	if k.raw {
		return first, nil
	}
	sentence = commas(first.text)
	if k.rewrite != nil {
		sentence = k.rewrite(sentence)
	}
	all := split(sentence)
	if k.another != nil {
		if other := k.another(&all); other != nil {
			k = *other
		}
	}
	part, from := first, 0
	for i := range all {
		if !k.parted || all[i].Text != "then" && all[i].Text != "also" {
			continue
		}
		if err := part.read(all[from:i]); err != nil {
			return nil, err
		}
		part, from = k.empty(), i+1
		part.first, part.branch = first, all[i].Text == "also"
		first.next = append(first.next, part)
	}
	return first, part.read(all[from:])
}

// withoutKind leaves out the name of the calculation in front: "cable: 40 m".
func withoutKind(sentence, kind string) string {
	name, rest, ok := strings.Cut(sentence, ":")
	if ok && strings.EqualFold(strings.TrimSpace(name), kind) {
		return rest
	}
	return sentence
}

// The commas that end a number though no space stands behind them.
var (
	commaBehindPoint = regexp.MustCompile(`(\d*\.\d+|mm2|mm²),(\d)`)
	commaThenPoint   = regexp.MustCompile(`,(\.\d)`)
)

// commas parts "7/0.2,85ma,13.8v": where a number has a point, its comma is none
// of a decimal.
func commas(sentence string) string {
	sentence = commaThenPoint.ReplaceAllString(sentence, ", $1")
	return commaBehindPoint.ReplaceAllString(sentence, "$1, $2")
}

func split(sentence string) words {
	pieces := intake.Pieces(sentence)
	w := make(words, len(pieces))
	for i, p := range pieces {
		w[i] = bit{Piece: p, written: strings.TrimSpace(sentence[p.Start:p.End])}
		if p.Spelled && len(p.Units) == 0 && intake.Fold(w[i].written) == "once" { // eleven in another language
			w[i].Piece = intake.Piece{Text: "once", Apart: p.Apart, Start: p.Start, End: p.End}
		}
	}
	return w
}

// read takes one part of a sentence.
func (in *Input) read(w words) error {
	if in.kind.claim != nil {
		if err := in.kind.claim(in, &w); err != nil {
			return err
		}
	}
	in.pick(w, true)
	var segments []segment
	for from := 0; from < len(w); {
		to := from + 1
		for to < len(w) && !w[to].Apart {
			to++
		}
		s, err := in.labelled(w, from, to)
		if err != nil {
			return err
		}
		segments, from = append(segments, s), to
	}
	for i := range segments {
		if err := in.others(w, &segments[i]); err != nil {
			return err
		}
	}
	in.pick(w, false)
	for i := range w {
		if p := &w[i]; !p.used && !p.known && !p.Number && !p.Filler && !slices.Contains(small, p.Text) && !slices.Contains(in.kind.idle, p.Text) {
			in.unused = append(in.unused, p.written)
		}
	}
	return nil
}

// small are words that say nothing between quantities.
var small = []string{
	"at", "with", "on", "for", "from", "to", "by", "through", "thru", "behind", "or", "each", "both", "in", "into", "over", "after", "about", "between",
	"as", "x", "off", "per", "plus", "only", "least", "most", "but", "when", "while", "what", "how", "long", "far", "much", "many", "does", "do", "will", "would",
	"can", "enough", "need", "no", "not", "without", "if", "up", "across", "then", "also", "away", "gives", "give", "giving", "i", "run", "way", "e", "s",
}

// holder is where a field's value is kept: with its part, or with the whole.
func (in *Input) holder(f *Field) *Input {
	if f.once && in.first != nil {
		return in.first
	}
	return in
}

// takes returns a number in the field's unit, and whether it can be meant for
// the field at all.
func (in *Input) takes(f *Field, p *bit) (float64, bool) {
	x := (p.Low + p.High) / 2
	switch {
	case f.Choices != nil || f.flag || f.Name == "alarm-time" && in.quiet || in.holder(f).has(f.Name) && !f.many:
		return 0, false
	case len(p.Units) > 0:
		return f.in(p.Piece)
	}
	return x, f.Unit == "" || !p.Spelled && (f.loose || f.bare && x != math.Trunc(x))
}

// byUnit finds the field that a number without a label is meant for: the first
// of its unit.
func (in *Input) byUnit(p *bit) *Field {
	var best *Field
	strange := math.Inf(1)
	for n := range in.kind.Fields {
		f := &in.kind.Fields[n]
		if _, fits := in.takes(f, p); !fits || f.named || f.labelled() && (f.Unit == "" || in.defaultOf(f) != f) {
			continue
		}
		if s := f.strange(p.Piece); s < strange {
			best, strange = f, s
		}
	}
	return best
}

func (f *Field) labelled() bool { return len(f.Words)+len(f.Leads)+len(f.Before)+len(f.After) > 0 }

// defaultOf is the field that a number in this unit is meant for when no word
// says otherwise: the first one.
func (in *Input) defaultOf(f *Field) *Field {
	i := slices.IndexFunc(in.kind.Fields, func(g Field) bool { return g.Unit == f.Unit && g.Choices == nil && !g.flag })
	return &in.kind.Fields[max(i, 0)]
}

// pick takes words for choices: in the first round phrases, in the second the
// single words that are left.
func (in *Input) pick(w words, phrases bool) {
	for i := range w {
		for n := range in.kind.Fields {
			f := &in.kind.Fields[n]
			for _, c := range f.Choices {
				if length := w.longest(i, c.Words); length > 0 && (length > 1) == phrases && !w[i].used {
					w.use(i, i+length)
					if to := in.holder(f); to.choices[f.Name] != c.Name {
						to.choose(f, c.Name)
					}
				}
			}
		}
	}
}

// longest is how many pieces the longest of the phrases takes that begins at a
// piece; 0 for none. Articles between its words do not matter.
func (w words) longest(i int, phrases []string) int {
	best := 0
	for _, phrase := range phrases {
		at := i
		ok := true
		for n, one := range strings.Fields(phrase) {
			for n > 0 && at < len(w) && article(w[at].Text) && !w[at].Apart {
				at++
			}
			if ok = at < len(w) && w[at].Text == one && !(n > 0 && w[at].Apart); !ok {
				break
			}
			at++
		}
		if ok {
			best = max(best, at-i)
		}
	}
	return best
}

func article(word string) bool {
	return word == "the" || word == "a" || word == "an" || word == "its"
}

func (w words) use(from, to int) {
	for i := from; i < to; i++ {
		w[i].used = true
	}
}

// advice says what a number could have been written as.
func (k *Kind) advice(p *bit) string {
	var fits []string
	least := math.Inf(1)
	for pass := range 2 {
		for n := range k.Fields {
			f := &k.Fields[n]
			if f.Choices != nil || f.flag {
				continue
			}
			if _, ok := f.in(p.Piece); !ok && (len(p.Units) > 0 || f.Unit != "") {
				continue
			}
			if pass == 0 {
				least = min(least, f.strange(p.Piece))
			} else if f.strange(p.Piece) < least+2 {
				fits = append(fits, f.title())
			}
		}
	}
	what := strings.Join(fits, "; ")
	switch {
	case what == "" && len(p.Units) == 0:
		return "give it a unit"
	case what == "":
		return "no quantity here is in this unit; see ferrule calc " + k.Name + " --help"
	case len(p.Units) == 0:
		return "give it a unit, or say what it counts: " + what
	}
	return "say which one it is: " + what
}
