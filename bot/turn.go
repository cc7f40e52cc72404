package bot

import (
	"cmp"
	"context"
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
	use    *Prepared
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

func (t *turn) pack() *knowledge.Pack { return t.use.model.Program().Pack() }

// text handles a message as typed.
func (t *turn) text(ctx context.Context, text string, secrets int) {
	if reason := t.unreadable(text); reason != "" {
		t.reply.Headline = reason
		return
	}
	clean, found := redact.Redact(text)
	t.read(ctx, clean, secrets+len(found), false)
}

// unreadable says why a message can't be used at all, or "".
func (t *turn) unreadable(text string) string {
	switch {
	case strings.TrimSpace(text) == "":
		return t.say("message_empty")
	case len(text) > longestMessage:
		return t.say("message_too_long", "Size", len(text)>>10)
	case !utf8.ValidString(text) || strings.ContainsRune(text, 0):
		return t.say("message_unreadable")
	}
	return ""
}

// read understands a redacted message and answers it.
func (t *turn) read(ctx context.Context, clean string, redacted int, edit bool) {
	if !(edit && t.recorded()) && t.calculates(clean) {
		return
	}
	msg := t.use.reader.Read(clean, t.readingContext())
	spoken := t.speakAs(msg)
	t.reply.Trace = t.trace(clean, msg)
	if redacted > 0 {
		t.reply.Notices = append(t.reply.Notices, t.say("secret_removed"))
	}
	if t.casual(msg, edit) {
		return
	}
	t.reply.Redacted = redacted
	if t.old.ID == 0 || msg.Command == intake.NewCase || (t.old.State == store.Closed && t.tellsMore(msg)) {
		t.open()
	}
	t.event(store.Event{Kind: store.KindMessage, Message: &store.Message{
		ID: t.env.Message, Text: clean, Redacted: redacted, Edit: edit,
	}})
	if spoken != "" {
		t.note(spoken, t.reply.Language)
	}
	t.site(msg)
	if msg.Declined != "" {
		t.decline(msg.Declined)
		return
	}
	if msg.Empty() {
		t.reply.Notices = append(t.reply.Notices, t.say("not_understood", "Text", shortened(clean)))
	} else if left := leftOver(clean, msg); left != "" {
		t.reply.Notices = append(t.reply.Notices, t.say("left_over", "Words", left))
	}
	for _, span := range msg.NoScale {
		t.reply.Notices = append(t.reply.Notices, t.say("no_scale", "Words", clean[span.Start:span.End]))
	}
	if msg.Passed > 0 {
		t.reply.Notices = append(t.reply.Notices, t.say("lines_passed_over", "Count", msg.Passed))
	}
	t.take(msg)
	if t.stopped(msg) || t.danger(msg) || t.command(ctx, msg) {
		return
	}
	t.judge(msg)
}

// recorded tells whether the message is part of the case; a calculation is not.
func (t *turn) recorded() bool {
	return holds(t.old, t.env.Message)
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
func (t *turn) casual(msg intake.Message, edit bool) bool {
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
			t.reply.Headline = t.greeting(msg.Command)
			return true
		}
	case intake.Speak:
		t.reply.Headline = t.say("language_set")
		if t.old.ID != 0 {
			t.note(topicLanguageSet, t.reply.Language)
		}
		return true
	case intake.NewCase:
		if fresh && !t.tellsSomething(msg) {
			t.reply.Headline = t.say("ready")
			return true
		}
	}
	if fresh && !t.tellsSomething(msg) && msg.Command == intake.NoCommand {
		t.reply.Headline = t.say("no_fault_in_that")
		t.reply.Details = []string{t.say("no_fault_example")}
		return true
	}
	if fresh && t.old.ID == 0 && msg.Command != intake.NoCommand && msg.Command != intake.NewCase && !t.tellsSomething(msg) {
		t.reply.Headline = t.say("no_case")
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

func (t *turn) greeting(c intake.Command) string {
	switch {
	case c == intake.Thanks && t.old.ID != 0 && t.old.State == store.Open:
		return t.say("welcome_open")
	case c == intake.Thanks:
		return t.say("welcome")
	}
	return t.say("hello")
}

// readingContext tells the reader what the conversation is about.
func (t *turn) readingContext() intake.Context {
	c := intake.Context{Focus: focus(t.old), Models: models(t.old, t.pack()), Symptoms: symptoms(t.old)}
	if c.Fresh = len(symptoms(t.old)) == 0; t.old.ID != 0 {
		c.Spoken = cmp.Or(t.lastNote(topicLanguage), english)
	}
	if s, ok := lastStep(t.old); ok {
		c.Likely, c.Choices, c.Closing = s.Cause, s.Choices, s.Kind == stepClose
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
			t.reply.Notices = append(t.reply.Notices, t.say("questioned", "Reading", t.title(r), "Words", g.Text, "Low", r.Plausible.Low, "High", t.withUnit(r, r.Plausible.High)))
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
	text := t.title(r)
	if s.N > 1 || len(observed(t.now()).Subjects(s.Class)) > 1 {
		text = t.say("of_subject", "Reading", text, "Subject", t.subject(s))
	}
	if v.State == rules.Unavailable {
		return text + " " + t.say("unavailable")
	}
	text += " " + t.value(r, v)
	if v.Certainty < 1 {
		text += " (" + t.say("not_sure") + ")"
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
			if title := t.symptomTitle(s.Symptom); len(t.old.Events) == 0 {
				t.reply.New = append([]string{title}, t.reply.New...)
			} else {
				t.reply.New = append(t.reply.New, t.say("also", "Symptom", title))
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
		t.reply.New = append(t.reply.New, t.say("site_noted", "Site", msg.Site))
	}
}

// edit reads an edited message again in place of the old one. One that is part
// of no case may be a calculation, which is done again.
func (t *turn) edit(ctx context.Context, text string) {
	if t.unreadable(text) != "" {
		return
	}
	clean, found := redact.Redact(text)
	switch {
	case !t.recorded():
		t.calculates(clean)
	case t.old.State == store.Open: // a typo mended afterwards changes no outcome
		t.read(ctx, clean, len(found), true)
	}
}

// stands tells whether the question of a reply, given by the case's version
// then, still waits for its answer. What was said since but asked nothing, such
// as why, leaves it standing.
func (t *turn) stands(id store.CaseID, version uint64) bool {
	switch {
	case id != t.old.ID || version > t.old.Version || !t.here():
		return false
	case version == t.old.Version:
		return true
	}
	s, ok := lastStep(t.old)
	return ok && t.old.State == store.Open && s.Result == "" && s.Version != 0 && s.Version <= version
}

// here tells whether the case is talked about where the event came from. Another
// case book numbers its cases alike, and its buttons may still be there.
func (t *turn) here() bool {
	if t.env.Direct {
		return slices.Contains(t.old.Actors, t.env.Actor)
	}
	return t.old.Conversation == t.env.Conversation
}

// choice takes a button as the answer that it stands for.
func (t *turn) choice(ctx context.Context, in Choice) {
	if !t.stands(in.Case, in.Version) {
		t.reply.Headline = t.say("old_button")
		return
	}
	t.text(ctx, in.Value, 0)
}

// timer says what a reminder is about, if it still holds.
func (t *turn) timer(in Timer) {
	if in.Topic == topicOnTest && t.old.OnTest != nil && t.old.OnTest.On {
		t.reply.Headline = t.say("on_test_still", "Until", clock(t.old.OnTest.Until))
	}
}

// deletion takes the words of a message away; of a message that is in no case
// there are none.
func (t *turn) deletion(in Deletion) {
	if t.recorded() {
		t.event(store.Event{Kind: store.KindMessage, Message: &store.Message{ID: in.Message, Deleted: true}})
	}
}

// file links a photo or file to the case. The first time it is said that it is
// not copied, and that photos may show codes.
func (t *turn) file(in File) {
	if t.old.ID == 0 {
		return
	}
	if len(notes(t.old, topicFile)) == 0 {
		t.reply.Notices = append(t.reply.Notices, t.say("file_linked"))
	}
	name, _ := redact.Redact(in.Name)
	t.note(topicFile, strings.TrimSpace(name+" "+in.Link))
}
