package store

import (
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

var day = time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)

// The builders below make events short enough to read a test as a dialogue.
type script []Event

func (s *script) add(actor string, e Event) *script {
	e.Actor, e.At = actor, day.Add(time.Duration(len(*s))*time.Minute)
	*s = append(*s, e)
	return s
}

func (s *script) says(actor, id, text string) *script {
	return s.add(actor, Event{Kind: KindMessage, Message: &Message{ID: id, Text: text}})
}

func (s *script) edits(actor, id, text string) *script {
	return s.add(actor, Event{Kind: KindMessage, Message: &Message{ID: id, Text: text, Edit: true}})
}

func (s *script) deletes(actor, id string) *script {
	return s.add(actor, Event{Kind: KindMessage, Message: &Message{ID: id, Deleted: true}})
}

func (s *script) undoes(actor, id string) *script {
	return s.add(actor, Event{Kind: KindUndo, Undo: &Undo{Message: id}})
}

func (s *script) reads(actor, id string, value float64) *script {
	return s.reading(actor, Reading{Message: id, Low: value, High: value})
}

func (s *script) reading(actor string, r Reading) *script {
	r.Name, r.Subject, r.Certainty = "radio.signal", "device 1", 1
	if r.State == "" {
		r.State = StateKnown
	}
	return s.add(actor, Event{Kind: KindReading, Reading: &r})
}

func (s *script) symptom(id, name string) *script {
	return s.add("ada", Event{Kind: KindSymptom, Symptom: &Symptom{Name: name, Message: id}})
}

// held writes the readings in force as "35 known" or "+a -b known".
func held(c Case) []string {
	var all []string
	for _, r := range c.Readings {
		s := ""
		if r.Low != 0 {
			s = fmt.Sprint(r.Low, " ")
		}
		for _, h := range r.Has {
			s += "+" + h + " "
		}
		for _, h := range r.HasNot {
			s += "-" + h + " "
		}
		all = append(all, s+r.State)
	}
	return all
}

func TestReadingsInForce(t *testing.T) {
	tests := []struct {
		name   string
		events *script
		want   []string
	}{
		{"one", new(script).reads("ada", "m1", 35), []string{"35 known"}},
		{"later by the same person replaces", new(script).reads("ada", "m1", 35).reads("ada", "m2", 40), []string{"40 known"}},
		{"two people who agree", new(script).reads("ada", "m1", 35).reads("ben", "m2", 35), []string{"35 known", "35 known"}},
		{"two people who differ", new(script).reads("ada", "m1", 35).reads("ben", "m2", 40), []string{"35 conflicting", "40 conflicting"}},
		{"settled by the first", new(script).reads("ada", "m1", 35).reads("ben", "m2", 40).reads("ada", "m3", 38), []string{"38 known"}},
		{"settled by the second", new(script).reads("ada", "m1", 35).reads("ben", "m2", 40).reads("ben", "m3", 38), []string{"38 known"}},
		{"not settled by a third", new(script).reads("ada", "m1", 35).reads("ben", "m2", 40).reads("cy", "m3", 38),
			[]string{"35 conflicting", "40 conflicting", "38 conflicting"}},
		{"two in one message", new(script).reads("ada", "m1", 35).reads("ada", "m1", 40), []string{"35 conflicting", "40 conflicting"}},
		{"two in one message that agree", new(script).reads("ada", "m1", 35).reads("ada", "m1", 35), []string{"35 known"}},
		{"one message settled by the next", new(script).reads("ada", "m1", 35).reads("ada", "m1", 40).reads("ada", "m2", 41), []string{"41 known"}},
		{"settled by two in one message", new(script).reads("ada", "m1", 35).reads("ben", "m2", 40).reads("ada", "m3", 36).reads("ada", "m3", 37),
			[]string{"36 conflicting", "37 conflicting"}},
		{"marked by the bot", new(script).reading("ada", Reading{Message: "m1", Low: 35, State: StateConflicting}).
			reading("ada", Reading{Message: "m1", Low: 40, State: StateConflicting}), []string{"35 conflicting", "40 conflicting"}},
		{"a lone mark stays", new(script).reading("ada", Reading{Message: "m1", Low: 35, State: StateConflicting}), []string{"35 conflicting"}},
		{"a mark whose rival was taken back", new(script).reads("ada", "m1", 35).
			reading("ben", Reading{Message: "m2", Low: 40, State: StateConflicting}).undoes("ada", "m1"), []string{"40 known"}},
		{"undo lets the earlier come back", new(script).reads("ada", "m1", 35).reads("ada", "m2", 40).undoes("ada", "m2"), []string{"35 known"}},
		{"undo ends a conflict", new(script).reads("ada", "m1", 35).reads("ben", "m2", 40).undoes("ben", "m2"), []string{"35 known"}},
		{"undo of a settlement brings the conflict back", new(script).reads("ada", "m1", 35).reads("ben", "m2", 40).reads("ada", "m3", 38).undoes("ada", "m3"),
			[]string{"35 conflicting", "40 conflicting"}},
		{"undo of nothing", new(script).reads("ada", "m1", 35).undoes("ada", "m9").undoes("ada", ""), []string{"35 known"}},
		{"edit replaces", new(script).says("ada", "m1", "35").reads("ada", "m1", 35).edits("ada", "m1", "53").reads("ada", "m1", 53), []string{"53 known"}},
		{"edit that gives nothing", new(script).says("ada", "m1", "35").reads("ada", "m1", 35).edits("ada", "m1", "thanks"), nil},
		{"edit after undo counts", new(script).says("ada", "m1", "35").reads("ada", "m1", 35).undoes("ada", "m1").edits("ada", "m1", "53").reads("ada", "m1", 53),
			[]string{"53 known"}},
		{"deletion keeps the reading", new(script).says("ada", "m1", "35").reads("ada", "m1", 35).deletes("ada", "m1"), []string{"35 known"}},
		{"questioned stands beside", new(script).reads("ada", "m1", 35).reading("ada", Reading{Message: "m2", Low: 140, State: StateQuestioned}),
			[]string{"35 known", "140 questioned"}},
		{"questioned until answered", new(script).reads("ada", "m1", 35).reading("ada", Reading{Message: "m2", Low: 140, State: StateQuestioned}).reads("ada", "m3", 40),
			[]string{"40 known"}},
		{"unavailable", new(script).reading("ada", Reading{Message: "m1", State: StateUnavailable}), []string{"unavailable"}},
		{"a value ends unavailable", new(script).reading("ada", Reading{Message: "m1", State: StateUnavailable}).reads("ben", "m2", 35), []string{"35 known"}},
		{"unavailable takes the own value back", new(script).reads("ada", "m1", 35).reading("ada", Reading{Message: "m2", State: StateUnavailable}), []string{"unavailable"}},
		{"unavailable to another changes nothing", new(script).reads("ada", "m1", 35).reading("ben", Reading{Message: "m2", State: StateUnavailable}), []string{"35 known"}},
		{"sets add up", new(script).reading("ada", Reading{Message: "m1", Has: []string{"a"}}).reading("ada", Reading{Message: "m2", Has: []string{"b"}}), []string{"+b +a known"}},
		{"sets are overridden by member", new(script).reading("ada", Reading{Message: "m1", Has: []string{"a", "b"}}).reading("ada", Reading{Message: "m2", HasNot: []string{"a"}}),
			[]string{"+b -a known"}},
		{"sets of two people that agree", new(script).reading("ada", Reading{Message: "m1", Has: []string{"a"}}).reading("ben", Reading{Message: "m2", HasNot: []string{"b"}}),
			[]string{"+a known", "-b known"}},
		{"sets of two people that differ", new(script).reading("ada", Reading{Message: "m1", Has: []string{"a"}}).reading("ben", Reading{Message: "m2", HasNot: []string{"a"}}),
			[]string{"+a conflicting", "-a conflicting"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if diff := cmp.Diff(tt.want, held(Fold(*tt.events))); diff != "" {
				t.Errorf("in force (-want +got):\n%s", diff)
			}
		})
	}
}

func TestSymptomIsTheNewestNotTakenBack(t *testing.T) {
	s := new(script).symptom("m1", "weak_signal").symptom("m2", "tamper")
	if got := Fold(*s).Symptom; got != "tamper" {
		t.Errorf("newest: %q", got)
	}
	if got := Fold(*s.undoes("ada", "m2")).Symptom; got != "weak_signal" {
		t.Errorf("after undo: %q", got)
	}
	if got := Fold(*s.edits("ada", "m1", "nothing")).Symptom; got != "" {
		t.Errorf("after the edit: %q", got)
	}
}

func TestDeletionDropsTheWords(t *testing.T) {
	events := *new(script).says("ada", "m1", "the lid is open").
		reading("ada", Reading{Message: "m1", Low: 1, Words: "lid is open"}).says("ada", "m2", "stays").deletes("ada", "m1")
	c := Fold(events)
	if c.Events[0].Message.Text != "" || c.Events[1].Reading.Words != "" || c.Readings[0].Words != "" {
		t.Errorf("words are still there: %+v", c.Events)
	}
	if c.Events[2].Message.Text != "stays" {
		t.Error("the words of another message went, too")
	}
	if events[0].Message.Text == "" || events[1].Reading.Words == "" {
		t.Error("Fold changed the events that it was given")
	}
}

func TestFactsOfACase(t *testing.T) {
	s := new(script)
	s.add("ada", Event{Kind: KindOpened, Opened: &Opened{Conversation: "chat:x:1"}})
	s.says("ada", "m1", "keypad is dead")
	s.add("bot", Event{Kind: KindMessage, Message: &Message{ID: "b1", Text: "look at the fuse", FromBot: true}})
	s.add("bot", Event{Kind: KindFinding, Finding: &Finding{Rule: "a", Says: "old"}})
	s.add("bot", Event{Kind: KindFinding, Finding: &Finding{Rule: "b"}})
	s.add("bot", Event{Kind: KindFinding, Finding: &Finding{Rule: "a", Says: "new"}})
	s.add("bot", Event{Kind: KindStep, Step: &Step{Kind: "measure"}})
	s.add("ben", Event{Kind: KindOnTest, OnTest: &OnTest{On: true}})
	s.add("ben", Event{Kind: KindOnTest, OnTest: &OnTest{On: false, Confirmed: "read back"}})
	s.add("ben", Event{Kind: KindVisit, Visit: &Visit{Left: "mended"}})
	s.add("ben", Event{Kind: KindNote, Note: &Note{Topic: TopicSite, Value: "lantern-12"}})
	s.add("ben", Event{Kind: KindOutcome, Outcome: &Outcome{Cause: "fuse", Minutes: 12}})
	c := Fold(*s)
	want := Case{
		State: Closed, Conversation: "chat:x:1", Site: "lantern-12",
		Opened: day, Closed: day.Add(11 * time.Minute), Last: day.Add(11 * time.Minute),
		Findings: []Finding{{Rule: "b"}, {Rule: "a", Says: "new"}},
		Steps:    []Step{{Kind: "measure"}},
		OnTest:   &OnTest{Confirmed: "read back"},
		Visit:    &Visit{Left: "mended"},
		Outcome:  &Outcome{Cause: "fuse", Minutes: 12},
		Actors:   []string{"ada", "ben"},
		Events:   *s,
	}
	if diff := cmp.Diff(want, c); diff != "" {
		t.Errorf("closed case (-want +got):\n%s", diff)
	}
	s.add("ada", Event{Kind: KindOutcome, Outcome: &Outcome{Reopened: true}})
	c = Fold(*s)
	if c.State != Open || !c.Closed.IsZero() || c.Outcome != nil {
		t.Errorf("reopened: %v %v %v", c.State, c.Closed, c.Outcome)
	}
}

// Fold has an answer for every sequence, also for events that no Apply would
// accept, and gives the same one again.
func TestFoldIsTotal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		events := rapid.SliceOfN(rapid.Make[Event](), 0, 30).Draw(t, "events")
		first, second := Fold(events), Fold(events)
		if first.State != Open && first.State != Closed {
			t.Fatalf("state %q", first.State)
		}
		if (first.Outcome != nil) != (first.State == Closed) {
			t.Fatalf("outcome %v in state %q", first.Outcome, first.State)
		}
		if len(first.Readings) != len(second.Readings) || len(first.Events) != len(events) {
			t.Fatal("folded differently the second time")
		}
	})
}
