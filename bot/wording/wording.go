// Package wording holds what the bot says by itself, in the languages of the
// technicians. What a pack says, such as its questions and repairs, stays as
// it stands in the pack.
package wording

import (
	"embed"
	"fmt"
	"sync"

	"github.com/goccy/go-yaml"
	"github.com/nicksnyder/go-i18n/v2/i18n"
	"golang.org/x/text/language"

	"ferrule/knowledge"
)

//go:embed *.yaml
var files embed.FS

// bundle reads the embedded catalogues once. They are part of the program, so
// that a fault in one is a fault of the program; a test holds them.
var bundle = sync.OnceValue(func() *i18n.Bundle {
	b := i18n.NewBundle(language.English)
	b.RegisterUnmarshalFunc("yaml", yaml.Unmarshal)
	for _, name := range knowledge.Languages {
		if _, err := b.LoadMessageFileFS(files, name+".yaml"); err != nil {
			panic(err)
		}
	}
	return b
})

// Speaker says things in one language.
type Speaker struct {
	language  string
	localizer *i18n.Localizer
}

var speakers sync.Map // of *Speaker by language

// In returns the speaker of a language (en, de, pl, es, fr, it, nl); any other
// is English.
func In(name string) *Speaker {
	if s, ok := speakers.Load(name); ok {
		return s.(*Speaker)
	}
	s := &Speaker{name, i18n.NewLocalizer(bundle(), name)}
	speakers.Store(name, s)
	return s
}

// Language is the language that it speaks.
func (s *Speaker) Language() string { return s.language }

// Say returns a string of the catalogue. What it holds in {{.Name}} is given
// as pairs of a name and a value; the value of Count decides the plural. A key
// that is not in the catalogue is said as it is: it is a fault of the program
// that a test finds, and no reason to leave a technician without an answer.
func (s *Speaker) Say(key string, pairs ...any) string {
	data := make(map[string]any, len(pairs)/2)
	for i := 0; i+1 < len(pairs); i += 2 {
		data[fmt.Sprint(pairs[i])] = pairs[i+1]
	}
	text, err := s.localizer.Localize(&i18n.LocalizeConfig{MessageID: key, TemplateData: data, PluralCount: data["Count"]})
	if err != nil && text == "" {
		return key
	}
	return text
}
