package slackfake

import (
	_ "embed" // the table of limits
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"
)

// limitsFile says, for each type of block, element and view, which fields there
// are and what they may hold. A field that ends in ! has to be there; of those
// under "one of" one has to be. A rule is
//
//	string 1-255         characters, as Unicode code points
//	plain_text 1-75      an object of that type, and how long its text is
//	list 1-10 of A|B     how many, and of which types; a length may follow
//	number, bool, any    number with its bounds
//	enum a|b             one of these words
//
// @name stands for the types under that name; #name is an object without a
// type, and x#y one of the type x in another place.
//
//go:embed limits.json
var limitsFile []byte

type shape struct {
	fields map[string]rule
	needed []string
	oneOf  []string
}

type rule struct {
	is          string   // string, number, bool, any, enum, row or object
	kinds       []string // of an object, or the words of an enum
	least, most int      // most < 0: no bound
	list        *span    // how many, if it is a list
}

type span struct{ least, most int }

// shapes reads the table once.
var shapes = sync.OnceValues(func() (map[string]shape, error) { return readShapes(limitsFile) })

func readShapes(raw []byte) (map[string]shape, error) {
	var table map[string]json.RawMessage
	if err := json.Unmarshal(raw, &table); err != nil {
		return nil, fmt.Errorf("reading the limits: %w", err)
	}
	groups, out := map[string]string{}, map[string]shape{}
	for name, raw := range table {
		if strings.HasPrefix(name, "@") {
			if err := json.Unmarshal(raw, new(string)); err != nil {
				return nil, fmt.Errorf("reading the limits: %s: %w", name, err)
			}
			groups[name] = strings.Trim(string(raw), `"`)
		}
	}
	for name, raw := range table {
		if strings.HasPrefix(name, "@") {
			continue
		}
		var fields map[string]string
		if err := json.Unmarshal(raw, &fields); err != nil {
			return nil, fmt.Errorf("reading the limits: %s: %w", name, err)
		}
		s, err := readShape(fields, groups)
		if err != nil {
			return nil, fmt.Errorf("reading the limits: %s: %w", name, err)
		}
		out[name] = s
	}
	for _, place := range []string{"@blocks in messages", "@blocks in views"} {
		out[place] = shape{needed: strings.Split(groups[place], "|")}
	}
	return out, nil
}

func readShape(fields, groups map[string]string) (shape, error) {
	s := shape{fields: map[string]rule{}}
	for name, text := range fields {
		if name == "one of" {
			s.oneOf = strings.Split(text, "|")
			continue
		}
		bare, needed := strings.CutSuffix(name, "!")
		if needed {
			s.needed = append(s.needed, bare)
		}
		r, err := readRule(text, groups)
		if err != nil {
			return s, fmt.Errorf("%s: %w", name, err)
		}
		s.fields[bare] = r
	}
	slices.Sort(s.needed)
	return s, nil
}

func readRule(text string, groups map[string]string) (rule, error) {
	r := rule{most: -1}
	if rest, ok := strings.CutPrefix(text, "list "); ok {
		count, of, ok := strings.Cut(rest, " of ")
		if !ok {
			return r, fmt.Errorf("%q names no elements", text)
		}
		r.list = &span{}
		if err := readSpan(count, &r.list.least, &r.list.most); err != nil {
			return r, err
		}
		text = of
	}
	// A length is what stands after the last space, if it begins with a digit.
	if at := strings.LastIndexByte(text, ' '); at >= 0 && text[at+1] >= '0' && text[at+1] <= '9' {
		if err := readSpan(text[at+1:], &r.least, &r.most); err != nil {
			return r, err
		}
		text = text[:at]
	}
	word, words, _ := strings.Cut(text, " ")
	switch word {
	case "string", "number", "bool", "any", "row":
		r.is = word
	case "enum":
		r.is, r.kinds = word, strings.Split(words, "|")
	default:
		r.is = "object"
		for kind := range strings.SplitSeq(text, "|") {
			if group, ok := groups[kind]; ok {
				kind = group
			}
			r.kinds = append(r.kinds, strings.Split(kind, "|")...)
		}
	}
	return r, nil
}

// readSpan reads 1-10, or 1- without an upper bound.
func readSpan(text string, least, most *int) (err error) {
	from, to, ok := strings.Cut(text, "-")
	if !ok {
		return fmt.Errorf("%q is no range", text)
	}
	if *least, err = strconv.Atoi(from); err != nil {
		return fmt.Errorf("reading a range: %w", err)
	}
	if *most = -1; to != "" {
		if *most, err = strconv.Atoi(to); err != nil {
			return fmt.Errorf("reading a range: %w", err)
		}
	}
	return nil
}
