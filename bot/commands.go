package bot

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"ferrule/bot/intake"
	"ferrule/bot/wording"
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
		if t.old.State == store.Closed {
			t.reopen() // what was closed as mended is not
			return true
		}
		t.failed()
		return false
	case intake.Cant:
		t.impossible()
		return false
	case intake.Reopen:
		t.reopen()
	case intake.Safe:
		t.safe()
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
	case s.Kind == string(diagnosis.Repair) && msg.Command == intake.NoCommand && msg.Gone:
		return t.done(msg) // "swapped the leads, fault gone"
	case s.Kind == stepConfirm && msg.Command == intake.Yes:
		t.close(msg)
		return true
	case s.Kind == stepConfirm && msg.Command == intake.No:
		t.failed()
		return false
	case s.Kind == stepConfirm && msg.Command == intake.NoCommand && len(msg.Symptoms) == 0 && !msg.Empty():
		// A value after the repair is welcome, and no answer yet.
		t.askWhetherGone(s.Cause, t.say("test_complaint"))
		return true
	}
	return false
}

func (t *turn) help() {
	h := Help(t.reply.Language)
	t.reply.Headline, t.reply.Details = h.Headline, h.Details
}

// Help is what can be said to the bot, in a language.
func Help(language string) Reply {
	say := wording.In(language).Say
	return Reply{Language: language, Headline: say("help"), Details: []string{
		say("help_look"), say("help_case"), say("help_work"), say("help_close"), say("help_calc"), say("help_language"),
	}}
}

// declined are the keys of what is said, by reason.
var declined = map[string]string{
	"defeat_alarm": "declined_defeat_alarm", "code_request": "declined_code_request", "live_work": "declined_live_work",
}

func (t *turn) decline(reason string) {
	t.reply.Declined = reason
	t.reply.Headline = t.say(cmp.Or(declined[reason], "declined_other"))
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
		t.reply.Headline = t.say("nothing_to_undo")
		return
	}
	for _, r := range t.old.Readings {
		if r.Message == last {
			taken = append(taken, r.Words)
		}
	}
	t.event(store.Event{Kind: store.KindUndo, Undo: &store.Undo{Message: last}})
	if len(taken) == 0 {
		t.reply.Headline = t.say("undone_message")
	} else {
		t.reply.Headline = t.say("undone", "Items", strings.Join(taken, "; "))
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
		t.reply.Headline = t.say("none_noted")
		return
	}
	t.reply.Headline = t.say("noted_so_far", "Count", len(c.Readings))
	for _, r := range c.Readings {
		reading := t.pack().Reading(r.Name)
		s, v, ok := fromStored(r)
		if reading == nil || !ok || r.State == stateStale {
			continue
		}
		line := fmt.Sprintf("%s: %s %s", t.subject(s), t.title(reading), t.formatStored(reading, v, r))
		if r.Words != "" {
			line += " " + t.say("from_words", "Words", r.Words)
		}
		t.reply.Details = append(t.reply.Details, line)
	}
}

// siteHistory lists what the site had before.
func (t *turn) siteHistory(ctx context.Context) {
	c := t.now()
	if c.Site == "" {
		t.reply.Headline = t.say("site_unknown")
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
	t.reply.Headline = t.say("site_cases", "Site", c.Site, "Count", len(t.reply.Details))
	if len(t.reply.Details) == 0 {
		t.reply.Headline = t.say("site_none", "Site", c.Site)
	}
	if site, _, err := t.bot.store.Site(ctx, c.Site); err == nil && len(site.Equipment) > 0 {
		t.reply.Details = append(t.reply.Details, t.say("equipment", "Items", strings.Join(site.Equipment, ", ")))
	} else if err != nil && !errors.Is(err, store.ErrNotFound) {
		t.err = fmt.Errorf("reading the site: %w", err)
	}
}

func (t *turn) historyLine(c store.Case) string {
	what := t.say("open")
	if c.Outcome != nil {
		what = t.causeTitle(c.Outcome.Cause)
	}
	return t.say("history_line", "Date", c.Opened.Format("2 Jan 2006"), "Case", c.ID, "What", what)
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
	t.reply.Headline = t.say("on_test", "Since", clock(since), "Until", clock(until))
	if msg.Reference != "" {
		t.reply.Headline = t.say("on_test_reference", "Since", clock(since), "Until", clock(until), "Reference", msg.Reference)
	}
	if assumed {
		t.reply.Details = append(t.reply.Details, t.say("on_test_no_end"))
	}
	if len(notes(t.old, topicOnTest)) == 0 {
		t.note(topicOnTest, "told")
		t.reply.Cautions = append(t.reply.Cautions, t.say("on_test_caution"))
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
		t.reply.Notices = append(t.reply.Notices, t.say("on_test_ended", "Until", clock(c.OnTest.Until)))
	case left <= warnBefore:
		t.reply.Notices = append(t.reply.Notices, t.say("on_test_ends", "Minutes", minutes(left.Minutes()), "Until", clock(c.OnTest.Until)))
	}
}

// offTest takes the system off test once it is said how that was confirmed.
// When the case was only waiting for that, closing goes on.
func (t *turn) offTest(msg intake.Message) bool {
	if msg.Confirmed == "" {
		t.reply.Headline = t.say("off_test_how")
		t.reply.Step = &Step{Kind: stepConfirm, Says: t.reply.Headline, Choices: t.sayAll("off_test_read_back", "off_test_unmonitored")}
		return true
	}
	t.event(store.Event{Kind: store.KindOnTest, OnTest: &store.OnTest{On: false, Confirmed: msg.Confirmed}})
	if s, ok := lastStep(t.old); ok && s.Kind == stepClose {
		t.close(msg)
		return true
	}
	t.reply.Headline = t.say("off_test_confirmed")
	if msg.Confirmed == "unmonitored" {
		t.reply.Headline = t.say("off_test_plain")
	}
	return true
}

func clock(at time.Time) string { return at.Format("15:04") }

// impossible notes that the step can't be done here. The reader gives its
// readings as not to be had, so that they are not asked for again.
func (t *turn) impossible() {
	s, ok := lastStep(t.old)
	if !ok {
		return
	}
	s.Result = resultImpossible
	t.event(store.Event{Kind: store.KindStep, Step: &s})
}
