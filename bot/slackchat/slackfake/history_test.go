package slackfake_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"ferrule/bot/slackchat/slackfake"

	"github.com/slack-go/slack"
)

func TestHistoryIsPagedAndBounded(t *testing.T) {
	fake := workspace(t, slackfake.Options{PerChannel: slackfake.Rate{Off: true}})
	api := client(fake)
	var stamps []string
	for i := range 5 {
		stamps = append(stamps, ok[string](t)(fake.Say(faults, ada, fmt.Sprint("m", i), "")))
	}
	_, reply, err := api.PostMessage(faults, slack.MsgOptionText("r", false), slack.MsgOptionTS(stamps[1]),
		slack.MsgOptionMetadata(slack.SlackMetadata{EventType: "case", EventPayload: map[string]any{"id": "a"}}))
	if err != nil {
		t.Fatal(err)
	}
	history := func(p slack.GetConversationHistoryParameters) string {
		p.ChannelID = faults
		var got []string
		for {
			h, err := api.GetConversationHistory(&p)
			if err != nil {
				return code(err)
			}
			for _, m := range h.Messages {
				got = append(got, m.Text)
			}
			if p.Cursor = h.ResponseMetaData.NextCursor; p.Cursor == "" {
				return strings.Join(got, " ")
			}
		}
	}
	for _, c := range []struct {
		name string
		p    slack.GetConversationHistoryParameters
		want string
	}{
		{"newest first, without replies", slack.GetConversationHistoryParameters{}, "m4 m3 m2 m1 m0"},
		{"pages", slack.GetConversationHistoryParameters{Limit: 2}, "m4 m3 m2 m1 m0"},
		{"oldest is left out", slack.GetConversationHistoryParameters{Oldest: stamps[2]}, "m4 m3"},
		{"oldest inclusive", slack.GetConversationHistoryParameters{Oldest: stamps[2], Inclusive: true}, "m4 m3 m2"},
		{"latest is left out", slack.GetConversationHistoryParameters{Latest: stamps[1]}, "m0"},
		{"between", slack.GetConversationHistoryParameters{Oldest: stamps[1], Latest: stamps[3], Inclusive: true}, "m3 m2 m1"},
		{"whole seconds", slack.GetConversationHistoryParameters{Oldest: "1"}, "m4 m3 m2 m1 m0"},
		{"bad cursor", slack.GetConversationHistoryParameters{Cursor: "next:2"}, "invalid_cursor"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := history(c.p); got != c.want {
				t.Errorf("got %q, want %q", got, c.want)
			}
		})
	}
	for _, with := range []bool{true, false} {
		all, _, _, err := api.GetConversationReplies(&slack.GetConversationRepliesParameters{ChannelID: faults, Timestamp: reply, IncludeAllMetadata: with})
		if err != nil || len(all) != 2 || all[0].ReplyCount != 1 || all[0].LatestReply != reply {
			t.Fatalf("the thread is %+v, %v", all, err)
		}
		if got := all[1].Metadata.EventPayload["id"]; (got == "a") != with {
			t.Errorf("include_all_metadata=%v gives the metadata %v", with, got)
		}
	}
	if _, _, _, err := api.GetConversationReplies(&slack.GetConversationRepliesParameters{ChannelID: faults, Timestamp: "1.000000"}); code(err) != "thread_not_found" {
		t.Errorf("a thread that there is not gives %q", code(err))
	}
	if err := fake.Delete(faults, stamps[1]); err != nil {
		t.Fatal(err)
	}
	if got := history(slack.GetConversationHistoryParameters{}); got != "m4 m3 m2 m0" {
		t.Errorf("after deleting, the history is %q", got)
	}
}

func TestChannelsAndPeopleAreListed(t *testing.T) {
	fake := workspace(t, slackfake.Options{})
	fake.AddChannel("C0OTHER", "other", ada)
	fake.Leave("C0OTHER", fake.BotUser())
	fake.AddPrivateChannel("C0SECRET", "secret", ada)
	fake.AddGroup("S0LEADS", ben)
	api := client(fake)
	var got []string
	p := slack.GetConversationsParameters{Types: []string{"public_channel", "private_channel", "im"}, Limit: 1}
	for {
		list, next, err := api.GetConversations(&p)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range list {
			got = append(got, fmt.Sprint(c.ID, " ", c.IsMember, " ", c.User))
		}
		if p.Cursor = next; next == "" {
			break
		}
	}
	want := []string{"C0FAULTS true ", "D0ADA false U0ADA", "C0OTHER false ", "C0SECRET true "}
	if !slices.Equal(got, want) {
		t.Errorf("channels: %q, want %q", got, want)
	}
	if u, err := api.GetUserInfo(ben); err != nil || u.Name != "ben" {
		t.Errorf("users.info gives %+v, %v", u, err)
	}
	if _, err := api.GetUserInfo("U0NONE"); code(err) != "user_not_found" {
		t.Errorf("nobody gives %q", code(err))
	}
	if m, err := api.GetUserGroupMembers("S0LEADS"); err != nil || !slices.Equal(m, []string{ben}) {
		t.Errorf("the group is %v, %v", m, err)
	}
	if c, err := api.GetConversationInfo(&slack.GetConversationInfoInput{ChannelID: faults}); err != nil || c.Name != "faults" || !c.IsMember {
		t.Errorf("the channel is %+v, %v", c, err)
	}
}

// What was deleted can't be answered, changed or found; its thread is still
// there under a stone.
func TestDeletedMessagesAreGone(t *testing.T) {
	fake := workspace(t, slackfake.Options{})
	api := client(fake)
	root := ok[string](t)(fake.Say(faults, ada, "secret", ""))
	reply := ok[string](t)(fake.Say(faults, ben, "a reply", root))
	if err := fake.Delete(faults, root); err != nil {
		t.Fatal(err)
	}
	if err := fake.Delete(faults, root); err == nil {
		t.Error("it can be deleted again")
	}
	if err := fake.Edit(faults, root, "x"); err == nil {
		t.Error("it can be changed")
	}
	if _, _, err := api.PostMessage(faults, slack.MsgOptionText("x", false), slack.MsgOptionTS(root)); code(err) != "thread_not_found" {
		t.Errorf("answering it gives %q", code(err))
	}
	all, _, _, err := api.GetConversationReplies(&slack.GetConversationRepliesParameters{ChannelID: faults, Timestamp: reply})
	if err != nil || len(all) != 2 || all[0].SubType != "tombstone" || all[0].Text == "secret" {
		t.Errorf("the thread is %+v, %v", all, err)
	}
	if n := len(fake.Messages(faults)); n != 1 {
		t.Errorf("%d messages are left", n)
	}
}
