package bot

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"ferrule/bot/intake"
	"ferrule/bot/redact"
	"ferrule/knowledge"
	"ferrule/rules"
	"ferrule/rules/diagnosis"
	"ferrule/store"
)

// turn is the handling of one event: what the case was, what is added, and
// what is said.
type turn struct {
	bot    *Bot
	env    Envelope
	old    store.Case
	events []store.Event
	outbox []store.Outgoing
	reply  Reply
	err    error
}

func (t *turn) event(e store.Event) {
	e.At, e.Actor = t.env.Sent, t.env.Actor
	t.events = append(t.events, e)
}

func (t *turn) note(topic, value string) {
	t.event(store.Event{Kind: store.KindNote, Note: &store.Note{Topic: topic, Value: value}})
}

// now is the case with the events of this turn.
func (t *turn) now() store.Case {
	return store.Fold(append(slices.Clone(t.old.Events), t.events...))
}

func (t *turn) pack() *knowledge.Pack { return t.bot.model.Program().Pack() }

// text handles a message as typed.
func (t *turn) text(ctx context.Context, text string) {
	if reason := unreadable(text); reason != "" {
		t.reply.Headline = reason
		return
	}
	clean, found := redact.Redact(text)
	if len(found) > 0 {
		t.reply.Notices = append(t.reply.Notices, "I removed a code, number or address before storing anything. Please delete it from the chat too.")
	}
	t.read(ctx, clean, len(found), false)
}

// unreadable says why a message can't be used at all, or "".
func unreadable(text string) string {
	switch {
	case strings.TrimSpace(text) == "":
		return "That message is empty. Tell me what is wrong, and what you measured."
	case len(text) > longestMessage:
		return fmt.Sprintf("That message is too long (%d kB). Send me what is wrong and the readings, in a few lines.", len(text)>>10)
	case !utf8.ValidString(text) || strings.ContainsRune(text, 0):
		return "I can't read that: it is not text. Tell me what is wrong, and what you measured."
	}
	return ""
}

// read understands a redacted message and answers it.
func (t *turn) read(ctx context.Context, clean string, redacted int, edit bool) {
	msg := t.bot.reader.Read(clean, t.readingContext())
	if t.casual(ctx, msg, edit) {
		return
	}
	t.reply.Redacted = redacted
	if t.old.ID == 0 || msg.Command == intake.NewCase || (t.old.State == store.Closed && t.tellsMore(msg)) {
		t.open()
	}
	t.event(store.Event{Kind: store.KindMessage, Message: &store.Message{
		ID: t.env.Message, Text: clean, Redacted: redacted, Edit: edit,
	}})
	t.site(msg)
	if msg.Declined != "" {
		t.decline(msg.Declined)
		return
	}
	if msg.Empty() {
		t.reply.Notices = append(t.reply.Notices, "I could not make anything of “"+shortened(clean)+"”. Try it in other words, or pick an answer.")
	}
	t.take(msg)
	if t.danger(msg) || t.command(ctx, msg) {
		return
	}
	t.judge(msg)
}

// open starts a new case; the old one, if any, stays as it was.
func (t *turn) open() {
	t.old = store.Case{}
	t.event(store.Event{Kind: store.KindOpened, Opened: &store.Opened{Conversation: t.env.Conversation}})
}

// tellsMore is whether a message in a closed case's conversation starts on
// something new.
func (t *turn) tellsMore(msg intake.Message) bool {
	return len(msg.Symptoms) > 0 || len(msg.Readings) > 0 || msg.Command == intake.NewCase
}

// casual answers what needs no case: greetings, thanks, help, and words that
// say nothing about a fault before a case is open.
func (t *turn) casual(ctx context.Context, msg intake.Message, edit bool) bool {
	if edit || msg.Declined != "" {
		return false
	}
	fresh := t.old.ID == 0 || t.old.State == store.Closed
	switch msg.Command {
	case intake.Help:
		t.help()
		return true
	case intake.Greeting, intake.Thanks:
		if len(msg.Readings) == 0 && len(msg.Symptoms) == 0 {
			t.reply.Headline = greeting(msg.Command, t.old)
			return true
		}
	case intake.NewCase:
		if fresh && !t.tellsSomething(msg) {
			t.reply.Headline = "Ready. Tell me what is wrong, and what you measured."
			return true
		}
	}
	if fresh && !t.tellsSomething(msg) && msg.Command == intake.NoCommand {
		t.reply.Headline = "I did not find a fault or a reading in that."
		t.reply.Details = []string{"Tell me what is wrong and what you measured, such as: wireless keypad won't enrol, gen 1 hub, signal 72 %. Say help for more."}
		return true
	}
	if fresh && t.old.ID == 0 && msg.Command != intake.NoCommand && msg.Command != intake.NewCase && !t.tellsSomething(msg) {
		t.reply.Headline = "There is no case open here yet. Tell me what is wrong, and what you measured."
		return true
	}
	return false
}

// shortened is the beginning of a long text.
func shortened(text string) string {
	const most = 60
	if r := []rune(text); len(r) > most {
		return string(r[:most]) + "..."
	}
	return text
}

func (t *turn) tellsSomething(msg intake.Message) bool {
	return len(msg.Symptoms) > 0 || len(msg.Readings) > 0
}

func greeting(c intake.Command, old store.Case) string {
	switch {
	case c == intake.Thanks && old.ID != 0 && old.State == store.Open:
		return "You are welcome. When it is mended, say close, and I keep what it was."
	case c == intake.Thanks:
		return "You are welcome."
	}
	return "Hello. Tell me what is wrong, and what you measured."
}

// readingContext tells the reader what the conversation is about.
func (t *turn) readingContext() intake.Context {
	c := intake.Context{Focus: focus(t.old)}
	if s, ok := lastStep(t.old); ok {
		c.Likely = s.Cause
		if s.Kind == string(diagnosis.Measure) {
			c.Asked = s.Readings
		}
	}
	for _, r := range t.old.Readings {
		if reading := t.pack().Reading(r.Name); reading != nil && reading.Kind == knowledge.Number {
			c.Last = r.Name
		}
	}
	return c
}

// take turns what the message says into events.
func (t *turn) take(msg intake.Message) {
	have := observed(t.now())
	focused := map[rules.Subject]bool{}
	for _, g := range msg.Readings {
		r := t.pack().Reading(g.Reading)
		if r == nil {
			continue
		}
		v := g.Value
		if r.Kind == knowledge.Set {
			v = mergeSet(have.Get(g.Reading, g.Subject), v)
			have.Set(g.Reading, g.Subject, v)
		}
		stored := toStored(g.Reading, g.Subject, v)
		stored.Message, stored.Words, stored.Reason = t.env.Message, g.Text, g.Reason
		t.event(store.Event{Kind: store.KindReading, Reading: stored})
		if !focused[g.Subject] && len(have.Subjects(g.Subject.Class)) > 0 {
			focused[g.Subject] = true
		}
		if v.State == rules.Questioned {
			t.reply.Notices = append(t.reply.Notices, fmt.Sprintf("%s: %s is %s. I don't use it; please read it again.", r.Title, g.Text, g.Reason))
			continue
		}
		t.reply.New = append(t.reply.New, t.told(r, g.Subject, v))
	}
	t.focusOn(msg)
	t.complaint(msg)
}

// focusOn keeps the subjects that the message named first in each class.
func (t *turn) focusOn(msg intake.Message) {
	old := focus(t.old)
	seen := map[knowledge.Class]bool{}
	for _, g := range msg.Readings {
		if c := g.Subject.Class; !seen[c] && g.Subject.N != max(1, old[c]) {
			t.note(topicFocus, g.Subject.String())
		}
		seen[g.Subject.Class] = true
	}
}

// mergeSet adds what a message says of a set to what was known: each member
// is known by itself, and the later word on a member holds.
func mergeSet(old, v rules.Value) rules.Value {
	if old.State != rules.Known || v.State != rules.Known {
		return v
	}
	for _, m := range old.Has {
		if !slices.Contains(v.Has, m) && !slices.Contains(v.HasNot, m) {
			v.Has = append(slices.Clone(v.Has), m)
		}
	}
	for _, m := range old.HasNot {
		if !slices.Contains(v.Has, m) && !slices.Contains(v.HasNot, m) {
			v.HasNot = append(slices.Clone(v.HasNot), m)
		}
	}
	v.Certainty = min(v.Certainty, old.Certainty)
	return v
}

// told repeats a reading with its unit, so that a misreading is seen.
func (t *turn) told(r *knowledge.Reading, s rules.Subject, v rules.Value) string {
	text := r.Title
	if s.N > 1 || len(observed(t.now()).Subjects(s.Class)) > 1 {
		text += " of " + s.String()
	}
	if v.State == rules.Unavailable {
		return text + " not to be had"
	}
	text += " " + rules.Format(r, v)
	if v.Certainty < 1 {
		text += " (not sure)"
	}
	return text
}

// complaint adds the symptoms of a message to those of the case.
func (t *turn) complaint(msg intake.Message) {
	known := symptoms(t.old)
	added := false
	for _, s := range msg.Symptoms {
		if !slices.Contains(known, s.Symptom) && len(known) < 3 {
			known, added = append(slices.Clone(known), s.Symptom), true
			if title := t.pack().Symptom(s.Symptom).Title; len(t.old.Events) == 0 {
				t.reply.New = append([]string{title}, t.reply.New...)
			} else {
				t.reply.New = append(t.reply.New, "also "+title)
			}
		}
	}
	if added {
		t.event(store.Event{Kind: store.KindSymptom, Symptom: &store.Symptom{Name: strings.Join(known, ","), Message: t.env.Message}})
	}
}

// site records the site that a message names.
func (t *turn) site(msg intake.Message) {
	if msg.Site != "" {
		t.note(topicSite, msg.Site)
		t.reply.New = append(t.reply.New, "site "+msg.Site)
	}
}

// edit reads an edited message again in place of the old one.
func (t *turn) edit(ctx context.Context, text string) {
	if t.old.ID == 0 || unreadable(text) != "" {
		return
	}
	clean, found := redact.Redact(text)
	t.read(ctx, clean, len(found), true)
}

// choice takes a button as the answer that it stands for.
func (t *turn) choice(ctx context.Context, in Choice) {
	if in.Case != t.old.ID || in.Version != t.old.Version {
		t.reply.Headline = "That button belongs to an earlier question. Nothing was changed; please answer the newest one."
		return
	}
	t.text(ctx, in.Value)
}

// form takes the fields as one message, each by the title of its reading.
func (t *turn) form(ctx context.Context, in Form) {
	if in.Case != t.old.ID || in.Version != t.old.Version {
		t.reply.Headline = "The case has moved on since this form was opened. Nothing was changed; please open it again."
		return
	}
	var parts []string
	for name, value := range in.Fields {
		if r := t.pack().Reading(name); r != nil && strings.TrimSpace(value) != "" {
			parts = append(parts, r.Title+" "+value)
		}
	}
	slices.Sort(parts)
	t.text(ctx, strings.Join(parts, "; "))
}

// timer says what a reminder is about, if it still holds.
func (t *turn) timer(in Timer) {
	if in.Topic == topicOnTest && t.old.OnTest != nil && t.old.OnTest.On {
		t.reply.Headline = "Still on test until " + clock(t.old.OnTest.Until) + ". Take it off test in time, or say on test until HH:MM."
	}
}
