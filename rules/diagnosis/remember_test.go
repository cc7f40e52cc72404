package diagnosis

import (
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"ferrule/knowledge"
	"ferrule/rules"
)

// What is remembered is what would be planned anew, and a step that was planned
// in haste is not given to somebody who has time.
func TestNextFromMemory(t *testing.T) {
	m := starterModel(t)
	in := Input{Symptoms: []string{"intermittent_loss"}}
	a := m.Assess(in)
	hasty := in
	hasty.Waiting = 1 << 20
	quick, err := m.Next(hasty, a)
	if err != nil {
		t.Fatal(err)
	}
	want, err := m.plan(in, a, in.positions())
	if err != nil {
		t.Fatal(err)
	}
	if reflect.DeepEqual(quick, want) {
		t.Fatal("a hasty plan is as good as one with time: this case shows nothing")
	}
	for range 2 {
		got, err := m.Next(in, a)
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("got %+v, %v; want %+v", got, err, want)
		}
	}
	if got, err := m.Next(hasty, a); err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("in haste, with a better plan at hand: %+v, %v", got, err)
	}
	if n := m.memory.steps.Len(); n != 1 {
		t.Errorf("%d steps are remembered", n)
	}
}

// Inputs have the same key when they are equal, and only then.
func TestKey(t *testing.T) {
	names := rapid.SliceOfN(rapid.SampledFrom([]string{"a", "b", "a\"b", "a\nb", ""}), 0, 2)
	value := rapid.SampledFrom([]rules.Value{rules.Num(1), rules.Num(1.5), rules.Between(1, 2), {State: rules.Unavailable}, {Text: "a", Certainty: 1, State: rules.Known},
		{Has: []string{"a"}, Certainty: 1, State: rules.Known}, {HasNot: []string{"a"}, Certainty: 1, State: rules.Known}, {Text: "a", Certainty: 0.7, State: rules.Known}})
	subject := rapid.SampledFrom([]rules.Subject{{Class: knowledge.Device, N: 1}, {Class: knowledge.Device, N: 2}, {Class: knowledge.Hub, N: 1}})
	input := rapid.Custom(func(t *rapid.T) Input {
		in := Input{
			Symptoms: names.Draw(t, "symptoms"), Failed: names.Draw(t, "failed"), Beyond: names.Draw(t, "beyond"),
			Place: rapid.SampledFrom([]knowledge.Place{"", knowledge.AtPanel}).Draw(t, "place"), OnTest: rapid.Bool().Draw(t, "on test"),
			Asked: map[string]int{}, Focus: rules.Focus{}, Observed: &rules.Observed{},
		}
		for _, name := range names.Draw(t, "asked") {
			in.Asked[name] = rapid.IntRange(1, 2).Draw(t, "times")
		}
		for range rapid.IntRange(0, 2).Draw(t, "values") {
			in.Observed.Set(rapid.SampledFrom([]string{"r", "s"}).Draw(t, "reading"), subject.Draw(t, "subject"), value.Draw(t, "value"))
		}
		return in
	})
	rapid.Check(t, func(t *rapid.T) {
		x, y := input.Draw(t, "x"), input.Draw(t, "y")
		if same := equalInputs(x, y); same != (x.key() == y.key()) {
			t.Fatalf("equal: %v\n%q\n%q", same, x.key(), y.key())
		}
		if z := x; z.key() != x.key() {
			t.Fatal("a copy has another key")
		}
	})
}

func equalInputs(x, y Input) bool {
	for _, in := range []*Input{&x, &y} {
		for _, names := range []*[]string{&in.Symptoms, &in.Failed, &in.Beyond} {
			*names = append([]string{}, *names...)
		}
	}
	return reflect.DeepEqual(x, y)
}
