package service_test

import (
	"strings"
	"testing"

	"ferrule/bot/slackchat/slackfake"
	"ferrule/store"
)

// A case from a mention to its closing form, with a button and a form between.
func TestCase(t *testing.T) {
	both(t, func(t *testing.T, http bool) {
		f := newFirm(t, http, slackfake.Options{})
		f.start()
		root := f.say(faults, ada, f.fake.Mention()+" wireless keypad won't enrol, signal 72 %", "")
		first := f.answered(faults, root, 1)
		if !strings.Contains(first.Text, "72 %") {
			t.Errorf("first answer: %s", first.Text)
		}
		f.say(faults, ben, "hub is gen 1", root) // somebody else, without a mention
		second := f.answered(faults, root, 2)
		if !strings.Contains(second.Text, "generation 1 hub cannot carry") {
			t.Errorf("second answer: %s", second.Text)
		}
		f.press(faults, second, ada, "Why?")
		if third := f.answered(faults, root, 3); !strings.Contains(third.Text, "common practice") {
			t.Errorf("why: %s", third.Text)
		}
		f.press(faults, second, ada, "Close the case")
		form := f.form(ada)
		if _, err := f.fake.Submit(ada, form.ID, map[string]string{"cause": "hub_generation_unsupported", "minutes": "x", "confirmed": "measurement"}); err != nil {
			t.Fatal(err)
		}
		f.wait("an error at the field", func() bool { v := f.fake.Views(ada); return len(v) > 0 && v[0].Errors["minutes"] != "" })
		if _, err := f.fake.Submit(ada, form.ID, map[string]string{"cause": "hub_generation_unsupported", "minutes": "22,5", "confirmed": "measurement"}); err != nil {
			t.Fatal(err)
		}
		if last := f.answered(faults, root, 4); !strings.Contains(last.Text, "Closed") {
			t.Errorf("closing: %s", last.Text)
		}
		cases := f.cases()
		if len(cases) != 1 || cases[0].State != store.Closed || cases[0].Outcome.Minutes != 22.5 || len(cases[0].Actors) != 2 {
			t.Errorf("%+v", cases)
		}
		f.settled()
		f.clean()
	})
}

// Several readings by form, with an error at a field first.
func TestReadingsForm(t *testing.T) {
	both(t, func(t *testing.T, http bool) {
		f := newFirm(t, http, slackfake.Options{})
		f.start()
		root := f.say(faults, ada, f.fake.Mention()+" weak signal on the wireless keypad", "")
		first := f.answered(faults, root, 1)
		f.press(faults, first, ben, "Several readings")
		form := f.form(ben)
		send := func(level string) {
			t.Helper()
			if _, err := f.fake.Submit(ben, form.ID, map[string]string{"radio.signal": level}); err != nil {
				t.Fatalf("%v\n%s", err, form.Blocks)
			}
		}
		send("140")
		f.wait("an error at the field", func() bool {
			v := f.fake.Views(ben)
			return len(v) > 0 && strings.Contains(v[0].Errors["radio.signal"], "0-100")
		})
		send("31,5 %")
		if second := f.answered(faults, root, 2); !strings.Contains(second.Text, "31.5 %") {
			t.Errorf("answer: %s", second.Text)
		}
		f.wait("the form to close", func() bool { return len(f.fake.Views(ben)) == 0 })
		f.settled()
		f.clean()
	})
}

// What is not for the bot is left alone, and no loop begins.
func TestLeftAlone(t *testing.T) {
	f := newFirm(t, false, slackfake.Options{})
	f.start()
	f.say(faults, ada, "keypad won't enrol", "") // no mention
	thread := f.say(faults, ben, "lunch?", "")
	f.say(faults, ada, "weak signal 30 % would be nice", thread) // no case there
	root := f.opened(faults, ada, " weak signal 30 %")
	if err := f.fake.Unfurl(faults, root); err != nil {
		t.Fatal(err)
	}
	f.say(faults, ada, "gen 2 hub", root)
	f.answered(faults, root, 2)
	f.settled()
	if n := len(f.fake.Messages(faults)); n != 7 {
		t.Errorf("%d messages: %q", n, texts(f.fake.Messages(faults)))
	}
	if len(f.cases()) != 1 {
		t.Errorf("%d cases", len(f.cases()))
	}
	f.clean()
}

// Direct messages go on with the open case, a slash command opens a thread, an
// edit is read again, a deletion drops the words, a photo is linked.
func TestOtherWaysToTalk(t *testing.T) {
	both(t, func(t *testing.T, http bool) {
		f := newFirm(t, http, slackfake.Options{})
		f.start()
		f.say(direct, ada, "weak signal 83 % on the wireless keypad", "")
		f.answered(direct, "", 1)
		second := f.say(direct, ada, "gen 1 hub", "")
		f.answered(direct, "", 2)
		if err := f.fake.Edit(direct, second, "gen 2 hub"); err != nil {
			t.Fatal(err)
		}
		if m := f.answered(direct, "", 3); !strings.Contains(m.Text, "generation 2") {
			t.Errorf("edited: %s", m.Text)
		}
		if err := f.fake.Delete(direct, second); err != nil {
			t.Fatal(err)
		}
		if _, err := f.fake.Share(direct, ada, []slackfake.File{{Name: "keypad.jpg"}}, "", ""); err != nil {
			t.Fatal(err)
		}
		if m := f.answered(direct, "", 4); !strings.Contains(m.Text, "not copied") {
			t.Errorf("photo: %s", m.Text)
		}
		if _, err := f.fake.Slash(faults, ben, "/ferrule", "tamper on zone 4, code 4711"); err != nil {
			t.Fatal(err)
		}
		f.wait("the question", func() bool { return len(f.answers(faults, "")) == 1 })
		question := f.answers(faults, "")[0]
		if strings.Contains(question.Text, "4711") || !strings.Contains(string(question.Blocks), ben) {
			t.Errorf("question: %s %s", question.Text, question.Blocks)
		}
		if m := f.answered(faults, question.TS, 1); !strings.Contains(m.Text, "removed a code") {
			t.Errorf("slash: %s", m.Text)
		}
		if _, err := f.fake.Slash(faults, ben, "/ferrule", ""); err != nil {
			t.Fatal(err)
		}
		f.wait("usage", func() bool { return len(f.fake.Ephemerals(faults)) == 1 })
		f.settled()
		cases := f.cases()
		if len(cases) != 2 {
			t.Fatalf("%d cases", len(cases))
		}
		linked := false
		for _, e := range cases[0].Events {
			if e.Message != nil && e.Message.ID == direct+"/"+second && e.Message.Text != "" {
				t.Errorf("the words of a deleted message are left: %q", e.Message.Text)
			}
			linked = linked || e.Note != nil && e.Note.Topic == "file" && strings.Contains(e.Note.Value, "https://")
		}
		if !linked {
			t.Error("the photo is not linked")
		}
		f.clean()
	})
}
