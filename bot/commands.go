package bot

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"ferrule/bot/intake"
	"ferrule/rules/diagnosis"
	"ferrule/store"
)

// command carries out what the message asks for besides its readings; it
// tells whether the message is answered with that.
func (t *turn) command(ctx context.Context, msg intake.Message) bool {
	switch msg.Command {
	case intake.Why:
		t.why()
	case intake.More:
		t.more()
	case intake.Readings:
		t.readings()
	case intake.SiteHistory:
		t.siteHistory(ctx)
	case intake.Undo:
		t.undo()
	case intake.OnTest:
		t.onTest(msg)
	case intake.OffTest:
		return t.offTest(msg)
	case intake.Close, intake.NoFault:
		t.close(msg)
	case intake.Done:
		return t.done(msg)
	case intake.Failed:
		t.failed()
		return false
	case intake.Cant:
		t.impossible()
		return false
	default:
		return t.answer(msg)
	}
	return true
}

// answer takes a message that replies to a question of ours other than one
// for a reading.
func (t *turn) answer(msg intake.Message) bool {
	s, ok := lastStep(t.old)
	switch {
	case !ok:
		return false
	case s.Kind == stepClose:
		t.close(msg)
		return true
	case s.Kind == stepConfirm && msg.Command == intake.Yes:
		t.close(msg)
		return true
	case s.Kind == stepConfirm && msg.Command == intake.No:
		t.failed()
		return false
	}
	return false
}

func (t *turn) help() {
	t.reply.Headline = "Tell me what is wrong and what you measured, in your own words; I ask for one thing at a time."
	t.reply.Details = []string{
		"why: what a finding rests on. more: what else it could be. readings: all that I noted.",
		"undo: take back your last message. site: what this site had before. new: start another case.",
		"on test until 16:00 ref A12; off test, confirmed. done, still the same, can't do that here, don't know.",
		"close: keep what it was, such as: close, hub too old, 25 min, measured.",
	}
}

var declined = map[string]string{
	"defeat_alarm": "I don't help to silence, bypass or defeat an alarm. If it is your job, go the authorised way: the customer's permission, installer access and the monitoring station. If it disturbs you, call its keyholder or the police.",
	"code_request": "I don't know, give or keep codes. The customer sets user codes; a lost installer code goes through the authorised way of the system's owner and your office.",
	"live_work":    "I don't guide work on live mains parts. Isolate, lock off, prove dead, and leave it to a competent, licensed person; local codes have the last word.",
}

func (t *turn) decline(reason string) {
	t.reply.Declined = reason
	t.reply.Headline = declined[reason]
	if t.reply.Headline == "" {
		t.reply.Headline = "I don't help with that."
	}
}

// undo takes back the readings of the last message that gave any.
func (t *turn) undo() {
	last := ""
	taken := []string{}
	for _, r := range t.old.Readings {
		last = r.Message
	}
	newest := t.newestMessage()
	if newest != "" {
		last = newest
	}
	if last == "" {
		t.reply.Headline = "There is nothing to take back."
		return
	}
	for _, r := range t.old.Readings {
		if r.Message == last {
			taken = append(taken, r.Words)
		}
	}
	t.event(store.Event{Kind: store.KindUndo, Undo: &store.Undo{Message: last}})
	if len(taken) == 0 {
		t.reply.Headline = "Taken back: what your last message said."
	} else {
		t.reply.Headline = "Taken back: " + strings.Join(taken, "; ") + "."
	}
	t.judge(intake.Message{})
}

// newestMessage is the newest message of this person from which a reading or
// a symptom is still in force.
func (t *turn) newestMessage() string {
	undone := map[string]bool{}
	newest := ""
	for _, e := range t.old.Events {
		switch {
		case e.Kind == store.KindUndo:
			undone[e.Undo.Message] = true
		case e.Actor != t.env.Actor:
		case e.Kind == store.KindReading:
			newest = pick(newest, e.Reading.Message, undone)
		case e.Kind == store.KindSymptom:
			newest = pick(newest, e.Symptom.Message, undone)
		}
	}
	if undone[newest] {
		for _, e := range t.old.Events {
			if e.Actor == t.env.Actor && e.Kind == store.KindReading && !undone[e.Reading.Message] {
				newest = e.Reading.Message
			}
		}
	}
	if undone[newest] {
		return ""
	}
	return newest
}

func pick(old, new string, undone map[string]bool) string {
	if undone[new] {
		return old
	}
	return new
}

// readings lists everything that was noted, by subject.
func (t *turn) readings() {
	c := t.now()
	if len(c.Readings) == 0 {
		t.reply.Headline = "No reading has been noted yet."
		return
	}
	t.reply.Headline = fmt.Sprintf("Noted so far (%d):", len(c.Readings))
	for _, r := range c.Readings {
		reading := t.pack().Reading(r.Name)
		s, v, ok := fromStored(r)
		if reading == nil || !ok || r.State == stateStale {
			continue
		}
		line := fmt.Sprintf("%s: %s %s", s, reading.Title, formatStored(reading, v, r))
		if r.Words != "" {
			line += " (from “" + r.Words + "”)"
		}
		t.reply.Details = append(t.reply.Details, line)
	}
}

// siteHistory lists what the site had before.
func (t *turn) siteHistory(ctx context.Context) {
	c := t.now()
	if c.Site == "" {
		t.reply.Headline = "I don't know the site yet. Say: site and its reference."
		return
	}
	page, err := t.bot.store.Cases(ctx, store.Query{Site: c.Site, Newest: true, Limit: 6}, "")
	if err != nil {
		t.err = fmt.Errorf("reading the site's cases: %w", err)
		return
	}
	for _, old := range page.Cases {
		if old.ID != t.old.ID {
			t.reply.Details = append(t.reply.Details, t.historyLine(old))
		}
	}
	t.reply.Headline = fmt.Sprintf("Site %s: %d earlier cases.", c.Site, len(t.reply.Details))
	if len(t.reply.Details) == 0 {
		t.reply.Headline = fmt.Sprintf("Site %s: no earlier case.", c.Site)
	}
	if site, _, err := t.bot.store.Site(ctx, c.Site); err == nil && len(site.Equipment) > 0 {
		t.reply.Details = append(t.reply.Details, "Equipment: "+strings.Join(site.Equipment, ", ")+".")
	} else if err != nil && !errors.Is(err, store.ErrNotFound) {
		t.err = fmt.Errorf("reading the site: %w", err)
	}
}

func (t *turn) historyLine(c store.Case) string {
	line := fmt.Sprintf("%s, case %d: ", c.Opened.Format("2 Jan 2006"), c.ID)
	if c.Outcome == nil {
		return line + "open"
	}
	title := c.Outcome.Cause
	if cause := t.pack().Cause(c.Outcome.Cause); cause != nil {
		title = cause.Title
	}
	return line + title
}

const (
	// warnBefore is how long before its end a test period is mentioned.
	warnBefore = 15 * time.Minute
	// usualTest is assumed where no end is given.
	usualTest = 2 * time.Hour
)

// onTest notes that the system is on test, and until when.
func (t *turn) onTest(msg intake.Message) {
	since := t.env.Sent
	until, assumed := testEnd(msg, since)
	const what = "the whole system"
	t.event(store.Event{Kind: store.KindOnTest, OnTest: &store.OnTest{On: true, Since: since, Until: until, What: what, Reference: msg.Reference}})
	t.outbox = append(t.outbox, store.Outgoing{
		Key: "on-test/" + t.env.Conversation, Channel: t.env.Conversation, Due: until.Add(-warnBefore),
		Body: []byte(`{"timer":"` + topicOnTest + `"}`),
	})
	t.reply.Headline = fmt.Sprintf("On test from %s until %s: %s.", clock(since), clock(until), what)
	if msg.Reference != "" {
		t.reply.Headline = strings.TrimSuffix(t.reply.Headline, ".") + ", reference " + msg.Reference + "."
	}
	if assumed {
		t.reply.Details = append(t.reply.Details, "You gave no end, so I take two hours. Say on test until HH:MM to change it.")
	}
	if len(notes(t.old, topicOnTest)) == 0 {
		t.note(topicOnTest, "told")
		t.reply.Cautions = append(t.reply.Cautions, "On test silences no siren, and suspends hold-up and life-safety response. Tell the customer.")
	}
}

// testEnd is when a test period ends that starts at since: after a time, at
// the next such hour, or when it usually does.
func testEnd(msg intake.Message, since time.Time) (until time.Time, assumed bool) {
	switch {
	case msg.For > 0:
		return since.Add(msg.For), false
	case msg.UntilSet:
		midnight := time.Date(since.Year(), since.Month(), since.Day(), 0, 0, 0, 0, since.Location())
		if until = midnight.Add(msg.Until); !until.After(since) {
			until = until.AddDate(0, 0, 1)
		}
		return until, false
	}
	return since.Add(usualTest), true
}

// warnOnTest mentions a test period that is about to end or has ended.
func (t *turn) warnOnTest(c store.Case) {
	if c.OnTest == nil || !c.OnTest.On {
		return
	}
	left := c.OnTest.Until.Sub(t.env.Sent)
	switch {
	case left <= 0:
		t.reply.Notices = append(t.reply.Notices, "The time on test ended at "+clock(c.OnTest.Until)+": signals are acted on again. Say on test until HH:MM once it is extended, or off test.")
	case left <= warnBefore:
		t.reply.Notices = append(t.reply.Notices, fmt.Sprintf("On test ends in %.0f min, at %s.", left.Minutes(), clock(c.OnTest.Until)))
	}
}

// offTest takes the system off test once it is said how that was confirmed.
// When the case was only waiting for that, closing goes on.
func (t *turn) offTest(msg intake.Message) bool {
	if msg.Confirmed == "" {
		t.reply.Headline = "How was off-test confirmed? Send a signal and have the centre read it back, or say unmonitored."
		t.reply.Step = &Step{Kind: stepConfirm, Says: t.reply.Headline, Choices: []string{"off test, signal read back", "off test, unmonitored"}}
		return true
	}
	t.event(store.Event{Kind: store.KindOnTest, OnTest: &store.OnTest{On: false, Confirmed: msg.Confirmed}})
	if s, ok := lastStep(t.old); ok && s.Kind == stepClose {
		t.close(msg)
		return true
	}
	t.reply.Headline = "Off test, " + msg.Confirmed + "."
	return true
}

func clock(at time.Time) string { return at.Format("15:04") }

// impossible notes that the step can't be done here; its readings are not
// asked for again.
func (t *turn) impossible() {
	s, ok := lastStep(t.old)
	if !ok {
		return
	}
	s.Result = resultImpossible
	t.event(store.Event{Kind: store.KindStep, Step: &s})
	if s.Kind != string(diagnosis.Measure) {
		return
	}
	for _, name := range s.Readings {
		if r := t.pack().Reading(name); r != nil {
			t.unavailable(r)
		}
	}
}
