package intake

import (
	_ "embed"
	"fmt"
	"sync"

	"github.com/goccy/go-yaml"

	"ferrule/knowledge/units"
)

//go:embed numbers.yaml
var numbersFile []byte

// spoken are numbers and units as words, folded.
type spoken struct {
	numbers map[string]float64
	units   map[string]units.Unit // of one word, or two with a space between
}

// spokenWords reads the embedded file once. It is part of the program, so that
// a fault in it is a fault of the program; a test holds it.
var spokenWords = sync.OnceValues(func() (spoken, error) { return readSpoken(numbersFile) })

func readSpoken(src []byte) (spoken, error) {
	var file struct {
		Numbers map[string]map[string]float64 `yaml:"numbers"`
		Units   map[string]map[string]string  `yaml:"units"`
	}
	out := spoken{map[string]float64{}, map[string]units.Unit{}}
	if err := yaml.Unmarshal(src, &file); err != nil {
		return out, fmt.Errorf("reading numbers.yaml: %w", err)
	}
	for language, words := range file.Numbers {
		for w, x := range words {
			key := plainText(w)
			if old, ok := out.numbers[key]; ok && old != x {
				return out, fmt.Errorf("reading numbers.yaml: %s is %g, and %g in %s", w, old, x, language)
			}
			out.numbers[key] = x
		}
	}
	for language, words := range file.Units {
		for w, name := range words {
			u, ok := units.BySymbol(name)
			if !ok {
				return out, fmt.Errorf("reading numbers.yaml: %s: %s is no unit of the pack", language, name)
			}
			out.units[plainText(w)] = u
		}
	}
	return out, nil
}

// numberWord is the number that a folded word stands for.
func (r *Reader) numberWord(w string) (float64, bool) {
	x, ok := r.spoken.numbers[w]
	return x, ok
}

// unitWord is the unit that a word, or two words, stand for at token i.
func (s *scan) unitWord(i int) (units.Unit, int, bool) {
	if s.kind(i) != word {
		return units.Unit{}, 0, false
	}
	if s.kind(i+1) == word && i+1 < len(s.tokens) && !s.tokens[i+1].line {
		if u, ok := s.spoken.units[s.tokens[i].text+" "+s.tokens[i+1].text]; ok {
			return u, i + 2, true
		}
	}
	u, ok := s.spoken.units[s.tokens[i].text]
	return u, i + 1, ok
}
