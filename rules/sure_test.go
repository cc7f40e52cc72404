package rules

import (
	"testing"

	"pgregory.net/rapid"
)

// Facts that say they are sure are those that a sure binding gives.
func TestSureFactsAreThoseOfASureBinding(t *testing.T) {
	pack := loadPack(t, "")
	sure, unsure := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		p, conditions := drawProgram(t, pack)
		o := drawKnown(t, false).observed()
		for k, v := range o.values {
			if rapid.IntRange(0, 4).Draw(t, "hedged") == 0 {
				v.Certainty = 0.7
				o.values[k] = v
			}
		}
		all, x := judge(p, o, BindOptions{})
		if !all.Sure() {
			unsure++
			return
		}
		sure++
		_, y := judge(p, o, BindOptions{Sure: true})
		for i, g := range conditions {
			if x.Rule(i) != y.Rule(i) {
				t.Fatalf("%v is %v, and %v when bound as sure", g, x.Rule(i), y.Rule(i))
			}
		}
	})
	if sure == 0 || unsure == 0 {
		t.Errorf("%d sure and %d others: this shows nothing", sure, unsure)
	}
}
