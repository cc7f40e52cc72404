package webhook

import (
	"encoding/json"
	"errors"
	"fmt"
	"mime"
	"net/url"

	"ferrule/bot/slackchat"
)

// message is what a body says: a delivery, a challenge, or nothing that
// concerns the receiver.
type message struct {
	kind      slackchat.Kind
	payload   json.RawMessage
	challenge string
	ignored   string // the type of what has no kind
}

// longestType bounds what is logged of a type that is not known.
const longestType = 64

// parse reads a body that has been verified. Errors never quote it.
func parse(contentType string, body []byte) (message, error) {
	// What is no form is tried as JSON, as Slack's own receiver does.
	if media, _, err := mime.ParseMediaType(contentType); err == nil && media == "application/x-www-form-urlencoded" {
		return parseForm(body)
	}
	return parseJSON(body)
}

func parseJSON(body []byte) (message, error) {
	var outer struct {
		Type      string `json:"type"`
		Challenge string `json:"challenge"`
	}
	if err := json.Unmarshal(body, &outer); err != nil {
		return message{}, errors.New("the body is no JSON object of Slack's")
	}
	switch outer.Type {
	case "":
		return message{}, errors.New("the JSON has no type")
	case "event_callback":
		return message{kind: slackchat.Events, payload: body}, nil
	case "url_verification":
		if outer.Challenge == "" {
			return message{}, errors.New("the challenge is empty")
		}
		return message{challenge: outer.Challenge}, nil
	default:
		return message{ignored: outer.Type[:min(len(outer.Type), longestType)]}, nil
	}
}

func parseForm(body []byte) (message, error) {
	form, err := url.ParseQuery(string(body))
	switch {
	case err != nil:
		return message{}, errors.New("the form can't be decoded")
	case form.Has("payload"):
		return parseInteraction([]byte(form.Get("payload")))
	case form.Has("command"):
		return parseCommand(form)
	case form.Get("ssl_check") == "1":
		// Slack tries the certificate of a command's address now and then.
		return message{ignored: "ssl_check"}, nil
	default:
		return message{}, errors.New("the form has neither payload nor command")
	}
}

func parseInteraction(payload []byte) (message, error) {
	var object map[string]json.RawMessage
	if err := json.Unmarshal(payload, &object); err != nil || object == nil {
		return message{}, errors.New("the payload is no JSON object")
	}
	return message{kind: slackchat.Interactive, payload: payload}, nil
}

// parseCommand makes an object of a form, of repeated keys the first: this is
// how Socket Mode carries a command.
func parseCommand(form url.Values) (message, error) {
	first := make(map[string]string, len(form))
	for key, values := range form {
		first[key] = values[0]
	}
	payload, err := json.Marshal(first)
	if err != nil {
		return message{}, fmt.Errorf("writing a command as JSON: %w", err)
	}
	return message{kind: slackchat.SlashCommand, payload: payload}, nil
}
