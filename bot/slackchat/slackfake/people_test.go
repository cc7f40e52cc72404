package slackfake_test

import (
	"slices"
	"strings"
	"testing"

	"ferrule/bot/slackchat/slackfake"
)

// A mention is two events of one ts, in either order.
func TestMentionsAreTwoEvents(t *testing.T) {
	for order, want := range map[slackfake.Order][]string{
		slackfake.MentionFirst: {"app_mention", "message", "app_mention", "message"},
		slackfake.MessageFirst: {"message", "app_mention", "message", "app_mention"},
		slackfake.Alternating:  {"app_mention", "message", "message", "app_mention"},
	} {
		fake := workspace(t, slackfake.Options{Order: order})
		s := dial(t, fake)
		var got, ids []string
		for range 2 {
			said := ok[string](t)(fake.Say(faults, ada, fake.Mention()+" x", ""))
			for range 2 {
				e := s.next()
				id, kind, _, ts := e.inner()
				got, ids = append(got, kind), append(ids, id)
				if ts != said {
					t.Errorf("ts is %s, want %s", ts, said)
				}
				s.ack(e.EnvelopeID, "")
			}
		}
		slices.Sort(ids)
		if !slices.Equal(got, want) || len(slices.Compact(ids)) != 4 {
			t.Errorf("order %d: %q with the IDs %q", order, got, ids)
		}
	}
}

// Each thing that people do makes the events that Slack makes of it.
func TestEventsOfWhatPeopleDo(t *testing.T) {
	fake := workspace(t, slackfake.Options{Order: slackfake.MentionFirst})
	s := dial(t, fake)
	ts := ok[string](t)(fake.Say(faults, ada, "hello", ""))
	steps := []struct {
		name string
		do   func() error
		want []string
	}{
		{"a reply", func() error { return second(fake.Say(faults, ben, "hi", ts)) }, []string{`"parent_user_id":"U0ADA"`, `"thread_ts":"` + ts + `"`, `"channel_type":"channel"`}},
		{"an edit", func() error { return fake.Edit(faults, ts, "hello!") }, []string{`"subtype":"message_changed"`, `"edited":{"user":"U0ADA"`, `"text":"hello"`, `"text":"hello!"`}},
		{"an unfurled link", func() error { return fake.Unfurl(faults, ts) }, []string{`"subtype":"message_changed"`, `"from_url"`}},
		{"a file", func() error {
			return second(fake.Share(faults, ada, []slackfake.File{{Name: "a.png", MIME: "image/png", Content: []byte("x")}}, "look", ""))
		}, []string{`"subtype":"file_share"`, `"mimetype":"image/png"`}},
		{"a file that hides", func() error {
			return second(fake.Share(faults, ada, []slackfake.File{{Name: "b.png", CheckInfo: true}}, "", ""))
		}, []string{`"file_access":"check_file_info"`}},
		{"deleting", func() error { return fake.Delete(faults, ts) }, []string{`"subtype":"message_deleted"`, `"deleted_ts":"` + ts + `"`}},
		{"a home page", func() error { return second(fake.OpenHome(ada)) }, []string{`"type":"app_home_opened"`, `"tab":"home"`}},
	}
	s.ack(s.next().EnvelopeID, "")
	for _, step := range steps {
		if err := step.do(); err != nil {
			t.Fatalf("%s: %v", step.name, err)
		}
		e := s.next()
		s.ack(e.EnvelopeID, "")
		for _, want := range step.want {
			if !strings.Contains(string(e.Payload), want) {
				t.Errorf("%s: no %s in %s", step.name, want, e.Payload)
			}
		}
	}
	wait(t, fake, "all acknowledged", func() bool { return fake.Undelivered() == 0 })
	if n := len(fake.Deliveries()); n != len(steps)+1 {
		t.Errorf("%d deliveries", n)
	}
	fake.Uninstall()
	for _, want := range []string{"app_uninstalled", "tokens_revoked"} {
		e := s.next()
		if _, kind, _, _ := e.inner(); kind != want {
			t.Errorf("after uninstalling comes %s, want %s", kind, want)
		}
		s.ack(e.EnvelopeID, "")
	}
	clean(t, fake)
}
