package slackchat

import (
	"encoding/json"
	"fmt"
)

// The events are read with as little as is used: one odd field of an attachment
// would make slack-go lose the whole message.

// wrapper is an event with what Slack says about it.
type wrapper struct {
	Team  string          `json:"team_id"`
	ID    string          `json:"event_id"`
	Event json.RawMessage `json:"event"`
}

// event is any inner event.
type event struct {
	Type string `json:"type"`
	message
	Channel     string   `json:"channel"`
	ChannelType string   `json:"channel_type"`
	Tab         string   `json:"tab"` // of app_home_opened
	Message     *message `json:"message"`
	Previous    *message `json:"previous_message"`
	Deleted     string   `json:"deleted_ts"`
}

// message is a message as events and histories have it.
type message struct {
	Subtype string `json:"subtype"`
	User    string `json:"user"`
	Bot     string `json:"bot_id"`
	Team    string `json:"team"` // of the writer, in shared channels
	Text    string `json:"text"`
	Stamp   string `json:"ts"`
	Thread  string `json:"thread_ts"`
	Edited  *edit  `json:"edited"`
	Files   []file `json:"files"`

	late bool // found afterwards, and not delivered
}

type edit struct {
	User  string `json:"user"`
	Stamp string `json:"ts"`
}

// file is a photo or file. Slack tells more of it, or asks to look it up.
type file struct {
	ID     string `json:"id"`
	Name   string `json:"name"`
	Link   string `json:"permalink"`
	Access string `json:"file_access"`
}

// decodeEvent reads a payload of the Events API.
func decodeEvent(payload []byte) (wrapper, event, error) {
	var w wrapper
	if err := json.Unmarshal(payload, &w); err != nil {
		return w, event{}, fmt.Errorf("reading an event: %w", err)
	}
	var e event
	if err := json.Unmarshal(w.Event, &e); err != nil {
		var kind struct {
			Type string `json:"type"`
		}
		_ = json.Unmarshal(w.Event, &kind) // what it is helps whoever reads the error
		return w, e, fmt.Errorf("reading an event of type %q: %w", kind.Type, err)
	}
	return w, e, nil
}

// written are the subtypes of what somebody wrote; everything else, such as
// that somebody joined, is no message to answer.
var written = map[string]bool{"": true, "file_share": true, "thread_broadcast": true, "me_message": true}
