package bot

import (
	"cmp"
	"fmt"
	"math"
	"strings"

	"ferrule/bot/intake"
	"ferrule/bot/wording"
	"ferrule/knowledge"
	"ferrule/rules"
	"ferrule/store"
)

// speakAs settles the language of the reply: the one asked for, else that of
// the message, else that of the message before. It returns the topic of the
// note to keep, or "" when nothing is new.
func (t *turn) speakAs(msg intake.Message) (topic string) {
	set := t.lastNote(topicLanguageSet)
	spoken := t.lastNote(topicLanguage)
	switch {
	case msg.Reply != "":
		t.reply.Language, topic = msg.Reply, topicLanguageSet
	case set != "":
		t.reply.Language = set
	case msg.Language != "":
		if t.reply.Language = msg.Language; msg.Language != spoken && (spoken != "" || msg.Language != english) {
			topic = topicLanguage
		}
	default:
		t.reply.Language = spoken
	}
	return topic
}

const english = "en"

// lastNote is the newest value of a topic, or "".
func (t *turn) lastNote(topic string) string {
	if all := notes(t.old, topic); len(all) > 0 {
		return all[len(all)-1]
	}
	return ""
}

// say is a string of the catalogue in the language of the reply.
func (t *turn) say(key string, pairs ...any) string {
	return wording.In(t.reply.Language).Say(key, pairs...)
}

func (t *turn) sayAll(keys ...string) []string {
	out := make([]string, len(keys))
	for i, key := range keys {
		out[i] = t.say(key)
	}
	return out
}

// inTongue is the first of the pack's words in the language of the reply: the
// name by which a thing is called there. English has titles of its own.
func (t *turn) inTongue(w knowledge.Words, otherwise string) string {
	if t.reply.Language == english {
		return otherwise
	}
	return cmp.Or(w.Label(t.reply.Language), otherwise)
}

func (t *turn) title(r *knowledge.Reading) string {
	if r.Kind == knowledge.YesNo {
		return r.Title // its words are answers
	}
	return t.inTongue(r.Words, r.Title)
}

func (t *turn) symptomTitle(name string) string {
	s := t.pack().Symptom(name)
	return t.inTongue(s.Words, s.Title)
}

func (t *turn) choiceTitle(r *knowledge.Reading, name string) string {
	for i := range r.Choices {
		if r.Choices[i].Name.S == name {
			return t.inTongue(r.Choices[i].Words, name)
		}
	}
	return name
}

func (t *turn) subject(s rules.Subject) string {
	class := t.say("class_" + string(s.Class))
	if s.Class == knowledge.Site || s.Class == knowledge.Panel {
		return class
	}
	return fmt.Sprintf("%s %d", class, s.N)
}

// value writes a value in the language of the reply.
func (t *turn) value(r *knowledge.Reading, v rules.Value) string {
	switch {
	case v.State != rules.Known:
	case r.Kind == knowledge.YesNo && v.Low == 1:
		return t.say("yes")
	case r.Kind == knowledge.YesNo:
		return t.say("no")
	case r.Kind == knowledge.Choice:
		return t.choiceTitle(r, v.Text)
	}
	return rules.Format(r, v)
}

// withUnit writes a number of a reading.
func (t *turn) withUnit(r *knowledge.Reading, x float64) string {
	return strings.TrimSpace(fmt.Sprintf("%g %s", x, r.Unit))
}

// minutes are whole in what is said.
func minutes(x float64) string { return fmt.Sprintf("%.0f", math.Round(x)) }

func share(p float64) string { return fmt.Sprintf("%2.0f", 100*p) }

// models are the models that are known already, so that a kind does not take
// the place of one.
func models(c store.Case, p *knowledge.Pack) map[rules.Subject]string {
	out := map[rules.Subject]string{}
	for _, r := range c.Readings {
		if s, v, ok := fromStored(r); ok && strings.HasSuffix(r.Name, ".model") && v.State == rules.Known && p.Model(v.Text) != nil {
			out[s] = v.Text
		}
	}
	return out
}

// mostLeftOver is how many pieces that were not understood are shown.
const mostLeftOver = 2

// leftOver are the pieces of a message that nothing was made of though they
// hold a number: most likely a reading that was missed.
func leftOver(text string, msg intake.Message) string {
	var out []string
	for _, s := range msg.Left {
		if piece := text[s.Start:s.End]; strings.ContainsAny(piece, "0123456789") {
			if len(out) == mostLeftOver {
				out = append(out, "...")
				break
			}
			out = append(out, shortened(piece))
		}
	}
	return strings.Join(out, "”, “")
}
