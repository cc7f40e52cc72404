package bot

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"ferrule/bot/intake"
	"ferrule/bot/redact"
	"ferrule/knowledge"
	"ferrule/rules"
	"ferrule/store"
)

// Sheet is a form for several readings of a case at once.
type Sheet struct {
	Case     store.CaseID
	Version  uint64
	Language string
	Cautions []string // of what its fields ask to be measured, a line each; they stand before the fields
	Fields   []Field
}

// Field asks for one reading.
type Field struct {
	Reading string // its name: the key of Form.Fields
	Title   string // with the unit behind it
	Kind    knowledge.Kind
	Hint    string   // how it is taken
	Answers []Answer // of a choice, a set or yes/no
	Known   string   // what was given already
}

// Answer is one of the answers that a field takes: what is sent, and what is shown.
type Answer struct{ Value, Title string }

// mostFields keeps a form to what is filled in with one hand; mostMeasured of
// them are numbers that no step asks for.
const (
	mostFields   = 8
	mostMeasured = 4
)

// Sheet lays out the form of a case: what was asked for last, then what tells
// most. It gives store.ErrNotFound where there is no such case.
func (b *Bot) Sheet(ctx context.Context, id store.CaseID) (Sheet, error) {
	t, err := b.begin(ctx, Envelope{}, id)
	if err != nil {
		return Sheet{}, err
	}
	if t.old.ID == 0 {
		return Sheet{}, fmt.Errorf("laying out the form of case %d: %w", id, store.ErrNotFound)
	}
	s := Sheet{Case: id, Version: t.old.Version, Language: t.reply.Language}
	add := func(r *knowledge.Reading) {
		if r == nil || len(s.Fields) == mostFields || !r.Askable() || slices.ContainsFunc(s.Fields, func(f Field) bool { return f.Reading == r.Name.S }) {
			return
		}
		s.Fields = append(s.Fields, t.field(r))
		for _, name := range r.Cautions {
			if h := t.pack().Hazard(name.S); h != nil && !slices.Contains(s.Cautions, h.Short) {
				s.Cautions = append(s.Cautions, h.Short)
			}
		}
	}
	if last, ok := lastStep(t.old); ok {
		for _, name := range last.Readings {
			add(t.pack().Reading(name))
		}
	}
	in := t.input(t.old)
	wanted := t.use.model.Wanted(in, t.use.model.Assess(in))
	for _, r := range measured(wanted) {
		add(r)
	}
	for _, r := range wanted {
		add(r)
	}
	return s, nil
}

// measured are the first numbers: a form is opened to note several of them at
// once, and the questions that are answered by a button can wait.
func measured(wanted []*knowledge.Reading) []*knowledge.Reading {
	var out []*knowledge.Reading
	for _, r := range wanted {
		if r.Kind == knowledge.Number && r.Unit != "" && len(out) < mostMeasured {
			out = append(out, r)
		}
	}
	return out
}

func (t *turn) field(r *knowledge.Reading) Field {
	f := Field{Reading: r.Name.S, Title: upperFirst(t.title(r)), Kind: r.Kind, Hint: r.How}
	if r.Unit != "" {
		f.Title += " (" + r.Unit + ")"
	}
	if f.Hint == "" {
		f.Hint = r.Ask
	}
	switch r.Kind {
	case knowledge.YesNo:
		f.Title, f.Hint = r.Ask, r.How
		f.Answers = []Answer{{"yes", t.say("yes")}, {"no", t.say("no")}}
	case knowledge.Choice, knowledge.Set:
		for _, name := range t.pack().ChoiceNames(r) {
			f.Answers = append(f.Answers, Answer{name, t.choiceTitle(r, name)})
		}
	}
	if v := observed(t.old).Get(r.Name.S, t.focused(t.old, r.Class)); v.State == rules.Known {
		f.Known = t.value(r, v)
	}
	return f
}

// FieldErrors says what is wrong with fields of a form, by their names. Nothing
// of the form was taken.
type FieldErrors struct{ Fields map[string]string }

func (e *FieldErrors) Error() string {
	return fmt.Sprintf("%d fields of the form can't be used: %s", len(e.Fields), strings.Join(slices.Sorted(maps.Keys(e.Fields)), ", "))
}

// form takes the fields of a form, each for its reading. The form of a case
// that went on is still good, as a field names what it is about; that of a
// closed one is not.
func (t *turn) form(in Form) {
	if in.Case != t.old.ID || in.Version > t.old.Version || t.old.State != store.Open || !t.here() {
		t.reply.Headline = t.say("old_form")
		return
	}
	if in.Closing {
		t.closingForm(in)
		return
	}
	wrong := map[string]string{}
	var msg intake.Message
	var said []string
	for _, name := range slices.Sorted(maps.Keys(in.Fields)) {
		typed := strings.TrimSpace(in.Fields[name])
		r := t.pack().Reading(name)
		if typed == "" || r == nil {
			continue
		}
		given, says := t.readField(r, typed)
		if says != "" {
			wrong[name] = says
			continue
		}
		msg.Readings = append(msg.Readings, given)
		said = append(said, t.title(r)+" "+given.Text)
	}
	if len(wrong) > 0 {
		t.err = &FieldErrors{wrong}
		return
	}
	if len(said) == 0 {
		return
	}
	t.event(store.Event{Kind: store.KindMessage, Message: &store.Message{ID: t.env.Message, Text: strings.Join(said, "; ")}})
	t.take(msg)
	if t.stopped(msg) || t.danger(msg) {
		return
	}
	t.judge(msg)
}

// readField reads what was typed into the field of a reading, or says what is
// wrong with it.
func (t *turn) readField(r *knowledge.Reading, typed string) (given intake.Given, says string) {
	clean, found := redact.Redact(typed)
	if len(found) > 0 {
		return given, t.say("field_secret")
	}
	c := t.readingContext()
	c.Asked, c.Choices, c.Closing, c.Last = []string{r.Name.S}, nil, false, ""
	for _, text := range t.fieldTexts(r, clean) {
		msg := t.use.reader.Read(text, c)
		for _, g := range msg.Readings {
			if g.Reading != r.Name.S || len(msg.Readings) > 1 && !t.offered(r, clean) {
				continue
			}
			g.Text = clean
			if g.Value.State == rules.Questioned {
				return g, t.say("field_range", "Low", r.Plausible.Low, "High", t.withUnit(r, r.Plausible.High))
			}
			return g, ""
		}
	}
	switch {
	case r.Kind == knowledge.Number && r.Unit != "":
		return given, t.say("field_number", "Unit", r.Unit)
	case r.Kind == knowledge.Number:
		return given, t.say("field_plain_number")
	}
	return given, t.say("field_not_read")
}

// offered tells whether a text is an answer that the field of a reading offers.
// The words of one may tell something else besides, which was not asked.
func (t *turn) offered(r *knowledge.Reading, text string) bool {
	return slices.ContainsFunc(t.field(r).Answers, func(a Answer) bool { return a.Title == text })
}

// fieldTexts are the ways in which a field may be read: as it was typed, with
// the unit that its label names, and with its title.
func (t *turn) fieldTexts(r *knowledge.Reading, typed string) []string {
	out := []string{typed}
	if r.Kind == knowledge.Number && r.Unit != "" {
		out = append(out, typed+" "+r.Unit)
	}
	return append(out, r.Title+" "+typed)
}

func upperFirst(s string) string {
	if s == "" {
		return s
	}
	r := []rune(s)
	return strings.ToUpper(string(r[:1])) + string(r[1:])
}
