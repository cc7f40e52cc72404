package bot

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"ferrule/bot/intake"
	"ferrule/rules/diagnosis"
	"ferrule/store"
)

// ClosingSheet is the form that closes a case.
type ClosingSheet struct {
	Case      store.CaseID
	Version   uint64
	Language  string
	Causes    []Answer // likeliest first
	Confirmed []Answer // best first
	Cause     string   // what it was as far as is known
}

// The fields of a closing form.
const (
	FieldCause     = "cause"
	FieldMinutes   = "minutes"
	FieldConfirmed = "confirmed"
)

// mostClosing is how many causes a closing form offers.
const mostClosing = 8

// ClosingSheet lays out the form that closes a case.
func (b *Bot) ClosingSheet(ctx context.Context, id store.CaseID) (ClosingSheet, error) {
	t, err := b.begin(ctx, Envelope{}, id)
	if err != nil {
		return ClosingSheet{}, err
	}
	if t.old.ID == 0 {
		return ClosingSheet{}, fmt.Errorf("laying out the closing form of case %d: %w", id, store.ErrNotFound)
	}
	s := ClosingSheet{Case: id, Version: t.old.Version, Language: t.reply.Language, Cause: t.mended(t.old)}
	add := func(name string) {
		if name != "" && !slices.ContainsFunc(s.Causes, func(a Answer) bool { return a.Value == name }) {
			s.Causes = append(s.Causes, Answer{name, upperFirst(t.causeTitle(name))})
		}
	}
	add(s.Cause)
	a := t.use.model.Assess(t.input(t.old))
	for _, f := range a.Blockers {
		add(causeName(f.Rule))
	}
	for _, p := range a.Causes {
		if p.Cause != nil && len(s.Causes) < mostClosing {
			add(p.Name())
		}
	}
	add(noFault)
	add(diagnosis.SomethingElse)
	for _, c := range confirmations {
		s.Confirmed = append(s.Confirmed, Answer{c, upperFirst(t.say("confirmed_" + c))})
	}
	return s, nil
}

// closingForm closes the case as the form says; what is missing, such as being
// off test, is asked for as it would be in words.
func (t *turn) closingForm(in Form) {
	msg := intake.Message{Command: intake.Close, Cause: in.Fields[FieldCause], Confirmed: in.Fields[FieldConfirmed]}
	wrong := map[string]string{}
	var err error
	if msg.Minutes, err = readMinutes(in.Fields[FieldMinutes]); err != nil || !(msg.Minutes >= 1 && msg.Minutes <= 24*60) { // not a number is neither
		wrong[FieldMinutes] = t.say("field_minutes")
	}
	if known := t.pack().Cause(msg.Cause) != nil || msg.Cause == noFault || msg.Cause == diagnosis.SomethingElse; !known {
		wrong[FieldCause] = t.say("field_not_read")
	}
	if !slices.Contains(confirmations, msg.Confirmed) {
		wrong[FieldConfirmed] = t.say("field_not_read")
	}
	if len(wrong) > 0 {
		t.err = &FieldErrors{wrong}
		return
	}
	text := fmt.Sprintf("%s: %s min, %s", t.causeTitle(msg.Cause), minutes(msg.Minutes), t.say("confirmed_"+msg.Confirmed))
	t.event(store.Event{Kind: store.KindMessage, Message: &store.Message{ID: t.env.Message, Text: text}})
	t.close(msg)
}

// readMinutes reads a number with a point or a comma, and min behind it if somebody wrote it.
func readMinutes(typed string) (float64, error) {
	number := strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(typed), "min"))
	return strconv.ParseFloat(strings.ReplaceAll(number, ",", "."), 64)
}
