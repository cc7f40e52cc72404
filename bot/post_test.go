package bot_test

import (
	"strings"
	"testing"
	"time"

	"ferrule/bot"
	"ferrule/store"
)

// posted are the replies that wait in the outbox, oldest first.
func posted(t *testing.T, st store.Store) []bot.Reply {
	t.Helper()
	leased, err := st.Lease(t.Context(), start.Add(24*time.Hour), time.Hour, 100)
	if err != nil {
		t.Fatal(err)
	}
	var out []bot.Reply
	for _, l := range leased {
		p, err := bot.ReadPosting(t.Context(), st, l.Outgoing)
		if err != nil {
			t.Fatal(err)
		}
		if p.Reply != nil {
			out = append(out, *p.Reply)
		}
	}
	return out
}

// A reply is stored with its message, with the number that the case got, and
// once for a message that comes twice; so is one that changes no case.
func TestPost(t *testing.T) {
	k := newTalk(t)
	for _, text := range []string{"hello", "weak signal 30 %", "weak signal 30 %"} {
		env := k.envelope()
		env.Post, env.Delivery = true, text
		r, err := k.bot.Handle(t.Context(), bot.Text{Envelope: env, Text: text})
		if err != nil || r.Empty() {
			t.Fatal(r, err)
		}
	}
	out := posted(t, k.store)
	if len(out) != 2 || out[0].Case != 0 || out[1].Case != 1 || out[1].Version != 1 {
		t.Errorf("posted: %+v", out)
	}
	env := k.envelope()
	env.Post = true
	if r, err := k.bot.Handle(t.Context(), bot.Text{Envelope: env, Text: "help"}); err != nil || r.Case != 1 || r.Version != 1 {
		t.Errorf("help: case %d, version %d, %v", r.Case, r.Version, err)
	}
}

// Of messages that arrive together the last is answered, and says what was
// noted of all.
func TestFollowedMessages(t *testing.T) {
	k := newTalk(t)
	say := func(text string, followed bool, news []string) bot.Reply {
		env := k.envelope()
		env.Post, env.Followed, env.News = true, followed, news
		r, err := k.bot.Handle(t.Context(), bot.Text{Envelope: env, Text: text})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	first := say("weak signal 83 %", true, nil)
	second := say("gen 2 hub", false, first.New)
	if noted := second.Noted(); !strings.Contains(noted, "83 %") || !strings.Contains(noted, "generation") {
		t.Errorf("noted: %s", noted)
	}
	if out := posted(t, k.store); len(out) != 1 || !strings.Contains(out[0].Noted(), "83 %") {
		t.Errorf("posted: %+v", out)
	}
	say("why", true, nil) // was asked for, so it is said
	if out := posted(t, k.store); len(out) != 1 || len(out[0].Details) == 0 {
		t.Errorf("posted: %+v", out)
	}
}

// Who writes directly goes on with the open case, wherever it was opened, and
// not with a closed one of the same conversation.
func TestDirectGoesOnWithTheOpenCase(t *testing.T) {
	k := newTalk(t)
	direct := func(text string) bot.Reply {
		env := k.envelope()
		env.Conversation, env.Direct = "test:direct", true
		r, err := k.bot.Handle(t.Context(), bot.Text{Envelope: env, Text: text})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	own := direct("weak signal 30 %")
	direct("close, it was too far away, 20 min, measured")
	elsewhere := k.say("keypad won't enrol")
	if r := direct("gen 2 hub"); r.Case != elsewhere.Case || r.Case == own.Case {
		t.Errorf("went on with case %d; %d is open", r.Case, elsewhere.Case)
	}
}

// A deletion or a photo where there is no case is no fault and opens none.
func TestNothingToDeleteOrLink(t *testing.T) {
	k := newTalk(t)
	for _, in := range []bot.Incoming{bot.Deletion{Envelope: k.envelope()}, bot.File{Envelope: k.envelope(), Name: "a.jpg", Link: "https://x"}, bot.Choice{Envelope: k.envelope(), Case: 9, Version: 1, Value: "yes"}} {
		if r, err := k.bot.Handle(t.Context(), in); err != nil || r.Case != 0 {
			t.Errorf("%T: %+v, %v", in, r, err)
		}
	}
	r := k.say("weak signal 30 %")
	if gone, err := k.bot.Handle(t.Context(), bot.Deletion{Envelope: k.envelope()}); err != nil || gone.Case != 0 {
		t.Errorf("a deletion of what the case does not hold: %+v, %v", gone, err)
	}
	photo, err := k.bot.Handle(t.Context(), bot.File{Envelope: k.envelope(), Name: "code 4711.jpg", Link: "https://x/a"})
	if err != nil || !strings.Contains(photo.Text(), "not copied") || photo.Case != r.Case {
		t.Errorf("%q, %v", photo.Text(), err)
	}
	if again, _ := k.bot.Handle(t.Context(), bot.File{Envelope: k.envelope(), Name: "b.jpg", Link: "https://x/b"}); again.Text() != "" {
		t.Errorf("said again: %q", again.Text())
	}
	c, _ := k.store.Case(t.Context(), r.Case)
	if said := c.Events[len(c.Events)-2].Note.Value; strings.Contains(said, "4711") || !strings.Contains(said, "https://x/a") {
		t.Errorf("stored: %q", said)
	}
}

// A reply that is held is the caller's to send, with the number of its case.
func TestHeldReply(t *testing.T) {
	k := newTalk(t)
	env := k.envelope()
	env.Post, env.Held = true, start.Add(time.Hour)
	r, err := k.bot.Handle(t.Context(), bot.Text{Envelope: env, Text: "weak signal 30 %"})
	if err != nil || r.Entry == nil {
		t.Fatal(r, err)
	}
	p, err := bot.ReadPosting(t.Context(), k.store, r.Entry.Outgoing)
	if err != nil || p.Reply.Case != r.Case || p.Reply.Version != r.Version || p.Reply.Text() != r.Text() {
		t.Errorf("%+v, %v", p, err)
	}
	if leased, _ := k.store.Lease(t.Context(), start.Add(30*time.Minute), time.Minute, 10); len(leased) != 0 {
		t.Errorf("handed to somebody else as well: %+v", leased)
	}
	if leased, _ := k.store.Lease(t.Context(), start.Add(2*time.Hour), time.Minute, 10); len(leased) != 1 || leased[0].ID != r.Entry.ID {
		t.Errorf("after its time: %+v", leased)
	}
	if again, _ := k.bot.Handle(t.Context(), bot.Text{Envelope: env, Text: "weak signal 30 %"}); again.Entry != nil {
		t.Error("a repeated delivery gives the entry again")
	}
}
