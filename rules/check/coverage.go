package check

import (
	"slices"
	"strconv"

	"ferrule/knowledge"
)

// Coverage tells what the examples of a pack have shown.
type Coverage struct {
	Rules    int      `json:"rules"`
	True     int      `json:"true"`    // rules that an example shows fire
	False    int      `json:"false"`   // rules that an example shows not to fire
	Unknown  int      `json:"unknown"` // rules that an example shows to lack something
	Bands    int      `json:"bands"`
	Seen     int      `json:"seen"`    // bands that an example falls into
	Missing  []string `json:"missing"` // rules that are not seen in all three, and in which
	Unseen   []string `json:"unseen"`  // bands without an example
	Examples int      `json:"examples"`
}

// Covered counts what the examples show: each rule true, false and unknown,
// each band of each table.
func Covered(p *knowledge.Pack) Coverage {
	c := Coverage{Rules: len(p.Rules), Missing: []string{}, Unseen: []string{}}
	for i := range p.Rules {
		r := &p.Rules[i]
		lacks := ""
		for _, want := range []struct {
			says  string
			count *int
		}{{"true", &c.True}, {"false", &c.False}, {"unknown", &c.Unknown}} {
			if slices.ContainsFunc(r.Examples, func(e knowledge.Example) bool { return e.Fires == want.says }) {
				*want.count++
			} else {
				lacks += " " + want.says
			}
		}
		if lacks != "" {
			c.Missing = append(c.Missing, r.Name.S+":"+lacks)
		}
		c.Examples += len(r.Examples)
	}
	for i := range p.Evidence {
		e := &p.Evidence[i]
		for band := range e.Bands {
			c.Bands++
			if slices.ContainsFunc(e.Examples, func(x knowledge.Example) bool { return x.Band == band+1 }) {
				c.Seen++
			} else {
				c.Unseen = append(c.Unseen, e.Name.S+" "+strconv.Itoa(band+1))
			}
		}
		c.Examples += len(e.Examples)
	}
	return c
}
