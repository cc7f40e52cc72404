package intake

import (
	"slices"
	"strings"
	"testing"

	"ferrule/knowledge"
)

// The forms of a word stand in a row and share a stem; the rows of a language
// do not. That they are forms of one word any dictionary of the language says.
func TestStems(t *testing.T) {
	for language, rows := range map[string][]string{
		"en": {"drop drops dropped dropping", "battery batteries", "enrol enrols enrolled enrolling", "wire wires wired wiring", "fuse fuses", "weak weakly", "week weeks", "panel panels", "led"},
		"de": {"melder meldern", "meldung meldungen", "sirene sirenen", "schwach schwache schwacher schwachen", "spannung spannungen", "leitung leitungen", "leiter", "batterie batterien", "defekt defekte defekten"},
		"pl": {
			"klawiatura klawiatury klawiature klawiatur", "czujka czujki czujke", "czujnik czujniki czujnika czujnikow", "syrena syreny syrene",
			"slaby slaba slabe slabego", "pokazuje pokazuja pokazal pokazala", "linia linie linii", "sygnalu sygnalem", "kod", "kody",
		},
		"es": {"bateria baterias", "sirena sirenas", "teclado teclados", "fallo fallos", "pierde pierden", "perdido perdida"},
		"fr": {"sirene sirenes", "clavier claviers", "pile piles", "coupure coupures", "perdu perdue", "panne pannes", "panneau"},
		"it": {"sirena sirene", "batteria batterie", "scarico scarica scarichi scariche", "guasto guasti", "gusto", "tastiera"},
		"nl": {"melder melders", "melding meldingen", "batterij batterijen", "paneel panelen", "zwak zwakke", "zekering zekeringen"},
	} {
		of := map[string]string{} // stem -> the first of its row
		for _, row := range rows {
			words := strings.Fields(row)
			stem := stemOf(words[0], language)
			for _, w := range words[1:] {
				if got := stemOf(w, language); got != stem {
					t.Errorf("%s: %s has the stem %s, and %s has %s", language, w, got, words[0], stem)
				}
			}
			if other, ok := of[stem]; ok {
				t.Errorf("%s: %s and %s share the stem %s", language, other, words[0], stem)
			}
			of[stem] = words[0]
		}
	}
	for _, w := range []string{"led", strings.Repeat("sirens", 10)} {
		if got := stemOf(w, "en"); got != w {
			t.Errorf("%s became %s", w, got)
		}
	}
	if got := stemOf("sirens", "xx"); got != "sirens" {
		t.Errorf("a word of no language became %s", got)
	}
}

// An ending that is the end of another would hide it, standing before it.
func TestPolishEndings(t *testing.T) {
	for i, e := range polishEndings {
		if k := slices.IndexFunc(polishEndings[:i], func(before string) bool { return strings.HasSuffix(e, before) }); k >= 0 {
			t.Errorf("%s is never found behind %s", e, polishEndings[k])
		}
		if got := polishStem("czuj" + e); !strings.HasPrefix("czuj"+e, got) || len(got) < leastPolish || len(got) > len("czuj") {
			t.Errorf("czuj%s became %s", e, got)
		}
		if short := "ton" + e; len(polishStem(short)) < leastPolish {
			t.Errorf("%s became %s", short, polishStem(short))
		}
	}
}

func TestElided(t *testing.T) {
	for raw, want := range map[string]struct {
		rest        string
		negates, ok bool
	}{
		"l'alarme": {"alarme", false, true}, "L’Alarme": {"alarme", false, true}, "n’apparaît": {"apparait", true, true}, "jusqu'ici": {"ici", false, true},
		"dell'allarme": {"allarme", false, true}, "sull'altro": {"altro", false, true}, "l'hub": {"hub", false, true},
		"won't": {}, "o'clock": {}, "l'a": {}, "d'": {}, "l'12": {}, "'alarme": {}, "alarme": {}, "": {},
	} {
		if rest, negates, ok := elided(raw); rest != want.rest || negates != want.negates || ok != want.ok {
			t.Errorf("%q: got %q %v %v, want %+v", raw, rest, negates, ok, want)
		}
	}
}

// A joint stays with the word before it where the stem takes it off anyway.
func TestCompound(t *testing.T) {
	c := newConcepts()
	for _, w := range []knowledge.Words{
		{"de": {"akku", "batterie"}, "nl": {"accu", "batterij"}, "en": {"battery"}}, {"de": {"sicherung"}, "nl": {"zekering"}, "en": {"fuse"}},
		{"de": {"leitung"}}, {"de": {"kabel"}, "nl": {"kabel"}, "en": {"cable"}}, {"de": {"sirene"}, "nl": {"sirene"}}, {"de": {"bus"}, "nl": {"bus"}},
	} {
		c.add(w, func(phrase string, _ int, _ int32) { t.Errorf("%s is no single word", phrase) })
	}
	for _, x := range []struct{ language, word, left, right string }{
		{"de", "akkusicherung", "akku", "sicherung"}, {"de", "akkusicherungen", "akku", "sicherungen"}, {"de", "leitungssicherung", "leitungs", "sicherung"},
		{"de", "sirenenkabel", "sirenen", "kabel"}, {"de", "akkuskabel", "akku", "kabel"}, {"de", "batteriekabel", "batterie", "kabel"}, {"de", "buskabel", "bus", "kabel"},
		{"nl", "accuzekering", "accu", "zekering"}, {"nl", "batterijkabel", "batterij", "kabel"},
		{"de", "akku", "", ""}, {"de", "sicherung", "", ""}, {"de", "nebelsicherung", "", ""}, {"de", "akkudeckel", "", ""},
		{"de", "accuzekering", "", ""}, {"en", "batteryfuse", "", ""}, {"en", "akkusicherung", "", ""},
	} {
		left, right, ok := c.compound(x.word, languageNumber(x.language))
		if left != x.left || right != x.right || ok != (x.left != "") {
			t.Errorf("%s in %s: got %q and %q, %v", x.word, x.language, left, right, ok)
		}
	}
}
