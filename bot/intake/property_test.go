package intake_test

import (
	"slices"
	"strings"
	"testing"
	"unicode"

	"golang.org/x/text/unicode/norm"
	"pgregory.net/rapid"

	"ferrule/bot/intake"
	"ferrule/knowledge"
	"ferrule/rules"
)

// telling are the corpus messages that report something: those that are a
// command or an answer as a whole change when a word is added.
func telling(t testing.TB, p *knowledge.Pack) []sample {
	r := newReader(t, p)
	return slices.DeleteFunc(corpus(t), func(s sample) bool {
		m := r.Read(s.text, s.ctx)
		return m.Command != "" || m.Declined != "" || len(s.ctx.Asked) > 0 || len(m.Readings)+len(m.Symptoms) == 0 || m.Site != ""
	})
}

func same(t *rapid.T, p *knowledge.Pack, what, before, after string, a, b intake.Message) {
	x, y := understood(p, a), understood(p, b)
	slices.Sort(x)
	slices.Sort(y)
	if !slices.Equal(x, y) {
		t.Fatalf("%s matter:\n%s\n  %s\n%s\n  %s", what, before, strings.Join(x, "; "), after, strings.Join(y, "; "))
	}
}

func TestUnrelatedWordsChangeNothing(t *testing.T) {
	p := testPack(t)
	r := newReader(t, p)
	samples := telling(t, p)
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.SampledFrom(samples).Draw(t, "message")
		more := rapid.SampledFrom([]string{
			"the customer was friendly", "back in the afternoon", "lovely weather", "kunde war da", "klient był miły", "see photo", "lift music",
		}).Draw(t, "words")
		text := s.text + ". " + more
		if rapid.Bool().Draw(t, "in front") {
			text = more + ". " + s.text
		}
		same(t, p, "unrelated words", s.text, text, r.Read(s.text, s.ctx), r.Read(text, s.ctx))
	})
}

// Capital M and K mean something in units and resistor codes, and so the
// messages with such a letter behind a number are left out.
func TestCaseDoesNotMatter(t *testing.T) {
	p := testPack(t)
	r := newReader(t, p)
	samples := slices.DeleteFunc(corpus(t), func(s sample) bool {
		return strings.ContainsAny(s.text, "M") || strings.Contains(s.text, "50 F") || strings.Contains(s.text, " A") || hasVersion(p, r, s) || s.text == "on test until 16:00 ref AB12" || strings.Contains(s.text, "ref") || strings.Contains(s.text, "_")
	})
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.SampledFrom(samples).Draw(t, "message")
		text := strings.ToUpper(s.text)
		if rapid.Bool().Draw(t, "title") {
			runes := []rune(s.text)
			runes[0] = unicode.ToUpper(runes[0])
			text = string(runes)
		}
		same(t, p, "capitals", s.text, text, r.Read(s.text, s.ctx), r.Read(text, s.ctx))
	})
}

func hasVersion(p *knowledge.Pack, r *intake.Reader, s sample) bool {
	return slices.ContainsFunc(r.Read(s.text, s.ctx).Readings, func(g intake.Given) bool { return p.Reading(g.Reading).Kind == knowledge.Version })
}

func TestSpacesAndFormsDoNotMatter(t *testing.T) {
	p := testPack(t)
	r := newReader(t, p)
	samples := corpus(t)
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.SampledFrom(samples).Draw(t, "message")
		space := rapid.SampledFrom([]string{"  ", "\u00a0", "\t", "\u2009"}).Draw(t, "space")
		text := strings.ReplaceAll(s.text, " ", space)
		if rapid.Bool().Draw(t, "decomposed") {
			text = norm.NFD.String(text)
		}
		same(t, p, "spaces or Unicode forms", s.text, text, r.Read(s.text, s.ctx), r.Read(text, s.ctx))
	})
}

func TestOrderOfSentencesDoesNotMatter(t *testing.T) {
	p := testPack(t)
	r := newReader(t, p)
	// A message that names the numbers of things hands them on.
	samples := slices.DeleteFunc(telling(t, p), func(s sample) bool {
		return s.ctx.Focus != nil || s.ctx.Last != "" || s.ctx.Models != nil || slices.ContainsFunc(r.Read(s.text, s.ctx).Readings, func(g intake.Given) bool {
			return g.Subject.N > 1 || g.Correction || p.Reading(g.Reading).Kind == knowledge.Set
		}) || strings.Contains(s.text, "kp1") || strings.Contains(s.text, "loose") || s.text == "keypad at the back door is dead"
	})
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.SampledFrom(samples).Draw(t, "first")
		b := rapid.SampledFrom(samples).Draw(t, "second")
		if ra, rb := r.Read(a.text, a.ctx), r.Read(b.text, b.ctx); slices.ContainsFunc(ra.Readings, func(x intake.Given) bool {
			return slices.ContainsFunc(rb.Readings, func(y intake.Given) bool { return x.Reading == y.Reading })
		}) {
			t.Skip("two values of one reading are not independent")
		}
		ab, ba := a.text+".\n"+b.text, b.text+".\n"+a.text
		same(t, p, "the order of sentences", ab, ba, r.Read(ab, intake.Context{}), r.Read(ba, intake.Context{}))
	})
}

// checkSpans holds what has to be so for every message.
func checkSpans(t interface{ Fatalf(string, ...any) }, p *knowledge.Pack, text string, m intake.Message) {
	for _, g := range m.Readings {
		if g.Start < 0 || g.Start >= g.End || g.End > len(text) || g.Text != text[g.Start:g.End] {
			t.Fatalf("%q: the span of %+v", text, g)
		}
		if p.Reading(g.Reading) == nil || g.Subject.N < 1 {
			t.Fatalf("%q: %+v", text, g)
		}
		if g.Value.State == rules.Known && p.Reading(g.Reading).Kind == knowledge.Number && !strings.ContainsFunc(g.Text, func(r rune) bool { return unicode.IsDigit(r) || unicode.IsLetter(r) }) {
			t.Fatalf("%q: %+v has neither digits nor words", text, g)
		}
		if v := g.Value; v.Low != v.Low || v.High != v.High || v.Low > v.High {
			t.Fatalf("%q: %+v is no interval", text, g)
		}
	}
	for _, l := range m.Left {
		if l.Start < 0 || l.Start >= l.End || l.End > len(text) {
			t.Fatalf("%q: left %+v", text, l)
		}
	}
	for _, s := range m.Symptoms {
		if s.Start < 0 || s.Start >= s.End || s.End > len(text) {
			t.Fatalf("%q: %+v", text, s)
		}
	}
}

// Messages put together from pieces of the trade at random.
func TestAnyMessage(t *testing.T) {
	p := testPack(t)
	r := newReader(t, p)
	pieces := []string{
		"kp", "hub", "zone", "sig", "signal", "35", "2", "1.06", "%", "V", "k", "10v8", "fw", "-", "to", "and", ",", ".", "?", "not", "no", "sorry", "I think",
		"keypad bus", "only", "both", "led", "on", "test", "until", "16:00", "for", "site", "close", "gen", "about", "<", ">", "half", "an", "h", "\n", "wick-w",
		"wont enrol", "yes", "dont know", "scratch that", "ref", "cause", "min", "(", "/", "°", "C", "dead", "unit", "ten", "volts",
	}
	readings := p.ReadingNames()
	rapid.Check(t, func(t *rapid.T) {
		text := strings.Join(rapid.SliceOfN(rapid.SampledFrom(pieces), 0, 14).Draw(t, "pieces"), rapid.SampledFrom([]string{" ", ""}).Draw(t, "space"))
		c := intake.Context{
			Asked: rapid.SliceOfN(rapid.SampledFrom(readings), 0, 3).Draw(t, "asked"), Last: rapid.SampledFrom(append(readings, "")).Draw(t, "last"),
			Choices: []string{"35 %", "keypad bus"},
		}
		checkSpans(t, p, text, r.Read(text, c))
	})
}

// A no in front answers a yes/no question, whatever is said behind it of what the
// question was about.
func TestNoInFrontIsTheAnswer(t *testing.T) {
	r, _ := reader(t)
	m := r.Read("no, just a power cut", intake.Context{Asked: []string{"site.since_storm"}})
	answered := m.Command == intake.No
	for _, g := range m.Readings {
		if g.Reading == "site.since_storm" {
			answered = true
			if g.Value.Low != 0 {
				t.Errorf("noted as %v", g.Value)
			}
		}
	}
	if !answered {
		t.Errorf("the no was not read: %+v", m)
	}
}
