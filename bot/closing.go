package bot

import (
	"encoding/json"
	"slices"
	"strings"

	"ferrule/bot/intake"
	"ferrule/knowledge"
	"ferrule/rules/diagnosis"
	"ferrule/store"
)

// Kinds of step besides those of diagnosis.
const (
	stepConfirm = "confirm"
	stepClose   = "close"
	stepStop    = "stop" // hands off, until it is safe
)

// noFault is the outcome of a case in which nothing was wrong.
const noFault = "no_fault"

// done takes a repair as carried out, and has the complaint tested again.
func (t *turn) done(msg intake.Message) bool {
	s, ok := lastStep(t.old)
	if !ok || s.Kind != string(diagnosis.Repair) {
		if ok && s.Kind == stepConfirm {
			t.close(msg)
			return true
		}
		if ok && s.Kind == string(diagnosis.Measure) && len(msg.Readings) > 0 {
			return false
		}
		t.close(msg)
		return true
	}
	s.Result = resultDone
	t.event(store.Event{Kind: store.KindStep, Step: &s})
	says := t.say("test_complaint")
	if cause := t.pack().Cause(s.Cause); cause != nil {
		if cause.Normal {
			t.close(msg)
			return true
		}
		says = t.say("test_success", "Success", strings.TrimSuffix(cause.Success, ".")+".")
	}
	t.askWhetherGone(s.Cause, says)
	return true
}

// askWhetherGone has the complaint tested after the repair of a cause.
func (t *turn) askWhetherGone(cause, says string) {
	t.reply.Headline = says
	t.reply.Step = &Step{Kind: stepConfirm, Cause: cause, Says: says, Choices: t.sayAll("yes", "no_still_the_same")}
	t.propose()
}

// failed notes that the last repair did not help. What the repair changed has
// to be read again, so a blocker's readings are stale.
func (t *turn) failed() {
	for _, s := range slices.Backward(t.old.Steps) {
		if s.Kind != string(diagnosis.Repair) && s.Kind != stepConfirm || s.Cause == "" {
			continue
		}
		t.event(store.Event{Kind: store.KindStep, Step: &store.Step{Kind: string(diagnosis.Repair), Cause: s.Cause, Result: resultFailed}})
		t.reply.New = append(t.reply.New, t.say("did_not_help"))
		t.stale(s.Cause)
		return
	}
}

// stale marks the readings on which a mended blocker rested.
func (t *turn) stale(cause string) {
	program := t.use.model.Program()
	for i := range t.pack().Rules {
		r := &t.pack().Rules[i]
		if r.Kind != knowledge.Blocker || r.Cause.S != cause {
			continue
		}
		for _, name := range program.RuleReadings(i) {
			for _, old := range t.old.Readings {
				if reading := t.pack().Reading(name); old.Name == name && old.State == stateKnown && reading != nil && reading.Askable() && !strings.HasSuffix(name, ".model") {
					old.State, old.Message = stateStale, t.env.Message
					t.event(store.Event{Kind: store.KindReading, Reading: &old})
				}
			}
		}
	}
}

// reopen opens a closed case again: the fault came back.
func (t *turn) reopen() {
	if t.old.ID == 0 || t.old.State != store.Closed {
		t.reply.Headline = t.say("nothing_to_reopen")
		return
	}
	t.event(store.Event{Kind: store.KindOutcome, Outcome: &store.Outcome{Reopened: true}})
	t.failed()
	t.judge(intake.Message{})
	t.reply.Headline = t.say("reopened", "Case", t.old.ID)
}

// closing is what is known of the outcome so far, over several turns.
type closing struct {
	Cause     string  `json:"cause,omitempty"`
	Minutes   float64 `json:"minutes,omitempty"`
	Confirmed string  `json:"confirmed,omitempty"`
}

// close gathers cause, minutes and how the fix was confirmed, asks once for
// what is missing, and closes the case.
func (t *turn) close(msg intake.Message) {
	c := t.now()
	if c.State == store.Closed {
		t.reply.Headline = t.say("closed_already", "Case", c.ID)
		return
	}
	k := t.gather(c, msg)
	if body, err := json.Marshal(k); err == nil {
		t.note(topicClosing, string(body))
	}
	if missing, choices := t.missing(c, k, msg.Causes); missing != "" {
		t.reply.Headline = missing
		t.reply.Step = &Step{Kind: stepClose, Cause: k.Cause, Says: missing, Choices: choices}
		t.propose()
		return
	}
	t.event(store.Event{Kind: store.KindOutcome, Outcome: &store.Outcome{Cause: k.Cause, Fix: t.fixOf(k.Cause), Minutes: k.Minutes, Confirmed: k.Confirmed}})
	t.reply.Headline = t.say("closed", "Cause", t.causeTitle(k.Cause), "Minutes", minutes(k.Minutes), "Confirmed", t.say("confirmed_"+k.Confirmed))
	t.reply.Step = nil
	if k.Confirmed == "unproven" {
		t.reply.Details = append(t.reply.Details, t.say("unproven_teaches_less"))
	}
}

// confirmations are the ways in which a fix is confirmed, best first; what is
// said of them stands under confirmed_ in the catalogue.
var confirmations = []string{"measurement", "swap_back", "symptom_gone", "unproven"}

func (t *turn) gather(c store.Case, msg intake.Message) closing {
	var k closing
	if said := notes(c, topicClosing); len(said) > 0 {
		if err := json.Unmarshal([]byte(said[len(said)-1]), &k); err != nil {
			t.bot.log.Warn("a closing note can't be read", "case", c.ID, "error", err)
		}
	}
	s, _ := lastStep(t.old)
	switch {
	case msg.Command == intake.NoFault:
		k.Cause = noFault
	case msg.Cause != "":
		k.Cause = msg.Cause
	case k.Cause == "" && s.Cause != "":
		k.Cause = s.Cause
	case k.Cause == "":
		k.Cause = t.mended(c)
	}
	if msg.Minutes > 0 {
		k.Minutes = msg.Minutes
	}
	switch {
	case slices.Contains(confirmations, msg.Confirmed):
		k.Confirmed = msg.Confirmed
	case k.Confirmed == "" && s.Kind == stepConfirm && (msg.Command == intake.Yes || msg.Command == intake.Done):
		k.Confirmed = "symptom_gone"
	}
	return k
}

// mended is the cause of the last repair that was carried out.
func (t *turn) mended(c store.Case) string {
	for _, s := range slices.Backward(c.Steps) {
		if s.Kind == string(diagnosis.Repair) && s.Result == resultDone {
			return s.Cause
		}
	}
	return ""
}

// missing asks for what closing still needs: off test first, since a visit
// can't end on test.
func (t *turn) missing(c store.Case, k closing, candidates []string) (string, []string) {
	switch {
	case c.OnTest != nil && c.OnTest.On:
		return t.say("still_on_test", "Since", clock(c.OnTest.Since)), t.sayAll("off_test_read_back", "off_test_unmonitored")
	case k.Cause == "":
		return t.say("what_was_it"), t.likelyCauses(c, candidates)
	case k.Minutes == 0 && k.Confirmed == "":
		return t.say("minutes_and_how"), []string{"20 min, " + t.say("measured"), "20 min, " + t.say("complaint_gone")}
	case k.Minutes == 0:
		return t.say("how_many_minutes"), []string{"10 min", "20 min", "45 min"}
	case k.Confirmed == "":
		return t.say("how_confirmed"), t.sayAll("measured", "swapped_back", "complaint_gone", "unproven")
	}
	return "", nil
}

// likelyCauses are offered when it is not clear what it was: those that the
// words could mean, else the likeliest.
func (t *turn) likelyCauses(c store.Case, candidates []string) []string {
	const most = 4
	var out []string
	for _, name := range candidates {
		if len(out) < most {
			out = append(out, t.causeTitle(name))
		}
	}
	if len(out) == 0 {
		for _, p := range t.use.model.Assess(t.input(c)).Causes {
			if p.Cause != nil && len(out) < most {
				out = append(out, p.Cause.Title)
			}
		}
	}
	return append(out, t.sayAll("no_fault_found", "something_else")...)
}

func (t *turn) causeTitle(name string) string {
	switch c := t.pack().Cause(name); {
	case c != nil:
		return c.Title
	case name == noFault:
		return t.say("no_fault_found")
	}
	return t.say("something_else")
}

func (t *turn) fixOf(name string) string {
	if c := t.pack().Cause(name); c != nil && len(c.Fix.Steps) > 0 {
		return c.Fix.Steps[0]
	}
	return ""
}

func messages(c store.Case) int {
	n := 0
	for _, e := range c.Events {
		if e.Kind == store.KindMessage {
			n++
		}
	}
	return n
}

// askSite asks once which site it is.
func (t *turn) askSite(c store.Case) {
	if c.Site != "" || len(notes(c, topicAsked)) > 0 || messages(c) < 3 {
		return
	}
	t.note(topicAsked, "asked")
	t.reply.Details = append(t.reply.Details, t.say("which_site"))
}
