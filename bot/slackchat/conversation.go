package slackchat

import (
	"strconv"
	"strings"
	"time"
)

// transport is the first part of the name of a conversation in Slack.
const transport = "slack"

// conversation is where a case is talked about: a thread of a channel, or, with
// no thread, a direct channel as such.
type conversation struct{ team, channel, thread string }

// String is its name as the store keeps it.
func (c conversation) String() string {
	return strings.Join([]string{transport, c.team, c.channel, c.thread}, ":")
}

// parseConversation reads a name; false for one of another transport.
func parseConversation(name string) (conversation, bool) {
	parts := strings.Split(name, ":")
	if len(parts) != 4 || parts[0] != transport || parts[1] == "" || parts[2] == "" {
		return conversation{}, false
	}
	return conversation{parts[1], parts[2], parts[3]}, true
}

// direct tells whether it is a direct channel, by Slack's names of channels.
func (c conversation) direct() bool { return isDirect(c.channel) }

func isDirect(channel string) bool { return strings.HasPrefix(channel, "D") }

// delivery is the key of what happened in a channel.
func (c conversation) delivery(what ...string) string {
	return strings.Join(append([]string{transport, c.team, c.channel}, what...), "/")
}

// timeOf is the time that a stamp of Slack's tells, such as
// 1795594304.000200: seconds, and what makes it unique.
func timeOf(stamp string) (time.Time, bool) {
	whole, part, _ := strings.Cut(stamp, ".")
	seconds, err := strconv.ParseInt(whole, 10, 64)
	if err != nil || seconds <= 0 || len(part) > 6 {
		return time.Time{}, false
	}
	micros := int64(0)
	if part != "" {
		if micros, err = strconv.ParseInt((part + "000000")[:6], 10, 64); err != nil || micros < 0 {
			return time.Time{}, false
		}
	}
	return time.Unix(seconds, micros*1000).UTC(), true
}

// stampOf is the stamp of a time.
func stampOf(t time.Time) string {
	return strconv.FormatInt(t.Unix(), 10) + "." + strconv.FormatInt(1_000_000+int64(t.Nanosecond()/1000), 10)[1:]
}
