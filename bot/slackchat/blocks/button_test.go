package blocks_test

import (
	"errors"
	"testing"
	"time"

	"github.com/slack-go/slack"

	"ferrule/bot"
	"ferrule/bot/slackchat/blocks"
)

// Every button of every dialogue carries the answer that it shows.
func TestButtonsOfDialogues(t *testing.T) {
	buttons := 0
	for _, s := range replies(t) {
		for _, m := range blocks.Draw(s.reply) {
			for _, b := range m.Blocks {
				row, ok := b.(*slack.ActionBlock)
				if !ok {
					continue
				}
				for _, e := range row.Elements.ElementSet {
					b := e.(*slack.ButtonBlockElement)
					p, err := blocks.ParseValue(b.Value)
					if err != nil || p.Case != s.reply.Case || p.Version != s.reply.Version {
						t.Errorf("%s: button %q: %+v, %v", s.where, b.Text.Text, p, err)
					}
					buttons++
				}
			}
		}
	}
	if buttons < 500 {
		t.Errorf("only %d buttons", buttons)
	}
}

func FuzzParseValue(f *testing.F) {
	for _, s := range []string{"7 3 done", "0 0 why", "", "7 3", "7 3 ", "07 3 done", "-1 3 done", "18446744073709551616 1 x", "7  3 done"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		p, err := blocks.ParseValue(s)
		switch {
		case err == nil && blocks.Value(p) != s:
			t.Fatalf("%q is read as %+v", s, p)
		case err != nil && !errors.Is(err, blocks.ErrNotOurs):
			t.Fatal(err)
		}
	})
}

// What is told on demand is told in a conversation in any language.
func TestWhyAndMoreInOtherLanguages(t *testing.T) {
	for language, first := range map[string]string{
		"en": "wireless keypad won't enrol, signal 72 %", "de": "Funkbedienteil lässt sich nicht einlernen, Signal 72 %",
		"pl": "klawiatura bezprzewodowa nie rejestruje się, sygnał 72 %", "fr": "le clavier sans fil ne s'enregistre pas, signal 72 %",
	} {
		b := newBot(t)
		env := bot.Envelope{Actor: "ada", Conversation: "slack:C1:" + language, Delivery: "1", Message: "1", Sent: time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)}
		r, err := b.Handle(t.Context(), bot.Text{Envelope: env, Text: first})
		if err != nil || r.Step == nil {
			t.Fatalf("%s: %+v, %v", language, r, err)
		}
		ms := blocks.Draw(r)
		row := ms[0].Blocks[len(ms[0].Blocks)-1].(*slack.ActionBlock).Elements.ElementSet
		for i, e := range row[:2] {
			p, err := blocks.ParseValue(e.(*slack.ButtonBlockElement).Value)
			if err != nil {
				t.Fatal(err)
			}
			env.Delivery = p.Answer
			answer, err := b.Handle(t.Context(), bot.Choice{Envelope: env, Case: p.Case, Version: p.Version, Value: p.Answer})
			if err != nil || len(answer.Details) == 0 {
				t.Errorf("%s: button %d: %q, %v", language, i, answer.Text(), err)
			}
		}
	}
}
