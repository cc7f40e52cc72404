package intake

import (
	"fmt"
	"sync"

	"ferrule/knowledge"
	"ferrule/knowledge/units"
	"ferrule/rules"
)

// Piece is a word of a text, or a number with its unit.
type Piece struct {
	Text       string // a word, folded; empty for a number
	Number     bool
	Low, High  float64      // the same but for a range
	Units      []units.Unit // what its unit may be; none is no unit
	Spelled    bool         // a number in words
	Apart      bool         // a comma, a new line or the like stands before it
	Filler     bool         // a word that says nothing by itself
	Start, End int          // in bytes
}

// plainReader reads numbers and words without a pack.
var plainReader = sync.OnceValue(func() *Reader {
	program, err := rules.Compile(&knowledge.Pack{})
	if err != nil {
		panic(fmt.Sprintf("compiling an empty pack: %v", err))
	}
	return New(program)
})

// Pieces takes a text apart into words and numbers, as messages are read: with
// decimal commas, ranges, gauges, resistor codes and number words: whether "one"
// counts anything is the caller's to say. A text that is no text has no pieces.
func Pieces(text string) []Piece {
	if unprintable(text) {
		return nil
	}
	s := plainReader().newScan(text, Context{})
	s.words()
	s.parts()
	var out []Piece
	apart := false
	for i := 0; i < len(s.tokens); {
		t := &s.tokens[i]
		apart = apart || t.line
		if q, ok := s.measured(i); ok {
			last := &s.tokens[q.last-1]
			if q.ordinal && last.text == "a" { // 3A, which is third in another language
				q.units = []units.Unit{units.Ampere}
			}
			out = append(out, Piece{Number: true, Low: q.low, High: q.high, Units: q.units, Spelled: t.kind == word, Apart: apart, Start: t.start, End: last.end})
			i, apart = q.last, false
			continue
		}
		switch t.kind {
		case word:
			out = append(out, Piece{Text: t.text, Apart: apart, Filler: s.roleOf(i).has(filler), Start: t.start, End: t.end})
			apart = false
		case mark:
			apart = apart || t.text == "," || t.text == ";"
		}
		i++
	}
	return out
}

// measured reads the number that begins at a token; a sign before it belongs to
// it.
func (s *scan) measured(i int) (quantity, bool) {
	if s.kind(i) == word {
		if q, ok := s.spelledQuantity(i); ok {
			return q, true
		}
		x, ok := s.numberWord(s.tokens[i].text)
		return quantity{first: i, last: i + 1, low: x, high: x}, ok
	}
	sign := 0
	if (s.is(i, "-") || s.is(i, "+")) && s.kind(i+1) == number && s.glued(i+1) {
		sign = 1
	}
	if s.kind(i+sign) != number {
		return quantity{}, false
	}
	q, ok := s.quantityAt(i + sign)
	if s.isGauge(i-1) && s.kind(i-2) == number {
		q, ok = s.behindGauge(i)
	}
	if !ok {
		return q, false
	}
	q.first = i
	// A w alone is a word in messages, where nobody writes of watts.
	if len(q.units) == 0 && s.is(q.last, "w") {
		q.units, q.last = []units.Unit{units.Watt}, q.last+1
	}
	return q, true
}

// behindGauge reads a number behind a gauge that has its own already: in "22 AWG
// 2 cores" the 2 is none.
func (s *scan) behindGauge(i int) (quantity, bool) {
	q := quantity{first: i, last: i + 1}
	x, ok := parseNumber(s.textAt(i))
	q.low, q.high = x, x
	if u, end, has := s.unitAt(q.last); has {
		q.units, q.last = u, end
	}
	return q, ok
}

// Fold makes a word as pieces have it: small letters without accents.
func Fold(word string) string { return fold(word) }
