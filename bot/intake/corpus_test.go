package intake_test

import (
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"ferrule/bot/intake"
	"ferrule/knowledge"
	"ferrule/rules"
)

// testPack is the small pack of testdata, which does not change with the
// starter pack.
func testPack(t testing.TB) *knowledge.Pack {
	t.Helper()
	p, err := knowledge.Load(os.DirFS("testdata/pack"))
	if err != nil {
		t.Fatal(err)
	}
	if problems := intake.Collisions(p); len(problems) > 0 {
		t.Fatal(problems)
	}
	return p
}

func newReader(t testing.TB, p *knowledge.Pack) *intake.Reader {
	t.Helper()
	program, err := rules.Compile(p)
	if err != nil {
		t.Fatal(err)
	}
	return intake.New(program)
}

// sample is one message of testdata/corpus.txt.
type sample struct {
	line int
	text string
	ctx  intake.Context
	want []string
}

func corpus(t testing.TB) []sample {
	t.Helper()
	src, err := os.ReadFile("testdata/corpus.txt")
	if err != nil {
		t.Fatal(err)
	}
	var samples []sample
	for i, line := range strings.Split(string(src), "\n") {
		line = strings.TrimSpace(line)
		switch {
		case line == "" || strings.HasPrefix(line, "#"):
		case strings.HasPrefix(line, "> "):
			samples = append(samples, sample{line: i + 1, text: line[2:]})
		case strings.HasPrefix(line, ": "):
			samples[len(samples)-1].context(t, line[2:])
		case line != "nothing":
			s := &samples[len(samples)-1]
			s.want = append(s.want, line)
		}
	}
	if len(samples) < 120 {
		t.Fatalf("only %d messages", len(samples))
	}
	return samples
}

func (s *sample) context(t testing.TB, line string) {
	word, rest, _ := strings.Cut(line, " ")
	switch word {
	case "asked":
		s.ctx.Asked = strings.Fields(rest)
	case "last":
		s.ctx.Last = rest
	case "choices":
		s.ctx.Choices = strings.Split(rest, " | ")
	case "focus", "model":
		parts := strings.SplitN(rest, " ", 3)
		subject, err := rules.ParseSubject(strings.Join(parts[:2], " "))
		if err != nil {
			t.Fatal(err)
		}
		if word == "focus" {
			s.ctx.Focus = rules.Focus{subject.Class: subject.N}
		} else {
			s.ctx.Models = map[rules.Subject]string{subject: parts[2]}
		}
	default:
		t.Fatalf("line %d: %q", s.line, line)
	}
}

// understood writes a message's contents as the corpus does.
func understood(p *knowledge.Pack, m intake.Message) []string {
	var out []string
	add := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	for _, s := range m.Symptoms {
		add("symptom %s", s.Symptom)
	}
	for _, g := range m.Readings {
		marks := ""
		if g.Value.State == rules.Known && g.Value.Certainty < 1 || g.Value.State == rules.Questioned && g.Value.Certainty < 1 {
			marks += " ~"
		}
		if g.Value.State == rules.Questioned {
			marks += " ?"
		}
		if g.Correction {
			marks += " !"
		}
		add("%s %s = %s%s", g.Reading, g.Subject, valueText(p.Reading(g.Reading), g.Value), marks)
	}
	for word, text := range map[string]string{
		"command": string(m.Command), "declined": m.Declined, "site": m.Site, "cause": m.Cause, "confirmed": m.Confirmed, "ref": m.Reference,
	} {
		if text != "" {
			add("%s %s", word, text)
		}
	}
	if m.Minutes > 0 {
		add("minutes %g", m.Minutes)
	}
	if m.UntilSet {
		add("until %02d:%02d", m.Until/time.Hour, m.Until%time.Hour/time.Minute)
	}
	if m.For > 0 {
		add("for %s", m.For)
	}
	for _, c := range m.Causes {
		add("candidate %s", c)
	}
	return out
}

func valueText(r *knowledge.Reading, v rules.Value) string {
	switch {
	case v.State == rules.Unavailable:
		return "none"
	case r.Kind == knowledge.YesNo:
		return map[float64]string{0: "no", 1: "yes"}[v.Low]
	case r.Kind == knowledge.Set:
		var parts []string
		for _, m := range v.Has {
			parts = append(parts, "+"+m)
		}
		for _, m := range v.HasNot {
			parts = append(parts, "-"+m)
		}
		return strings.Join(parts, " ")
	case r.Kind != knowledge.Number:
		return v.Text
	case math.IsInf(v.High, 1):
		return openText(">", v.Low, math.Nextafter(v.Low, math.Inf(-1)))
	case math.IsInf(v.Low, -1):
		return openText("<", v.High, math.Nextafter(v.High, math.Inf(1)))
	case v.Low == v.High:
		return strconv.FormatFloat(v.Low, 'f', -1, 64)
	}
	return fmt.Sprintf("%g..%g", v.Low, v.High)
}

// openText writes an exclusive bound, which stands just beside its number,
// and an inclusive one.
func openText(sign string, bound, beside float64) string {
	if a, b := fmt.Sprintf("%g", bound), fmt.Sprintf("%g", beside); len(a) > len(b) {
		return sign + b
	}
	return fmt.Sprintf("%s=%g", sign, bound)
}

func TestCorpus(t *testing.T) {
	p := testPack(t)
	r := newReader(t, p)
	for _, s := range corpus(t) {
		got := understood(p, r.Read(s.text, s.ctx))
		want := slices.Clone(s.want)
		slices.Sort(got)
		slices.Sort(want)
		if !slices.Equal(got, want) {
			t.Errorf("corpus.txt:%d: %s\n got  %s\n want %s", s.line, s.text, strings.Join(got, "; "), strings.Join(want, "; "))
		}
	}
}
