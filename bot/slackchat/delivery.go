// Package slackchat is the Slack transport: it turns what Slack delivers into
// events of a conversation, and says who may do what. How deliveries come in
// (socket, webhook) and how replies go out (outbox) are packages of their own;
// blocks draws, markup reads.
package slackchat

import (
	"context"
	"encoding/json"
)

// Kind is what a delivery is, by Slack's names.
type Kind string

// The kinds of delivery that are used here.
const (
	Events       Kind = "events_api"
	SlashCommand Kind = "slash_commands"
	Interactive  Kind = "interactive"
)

// Delivery is what Slack delivers once or more, by Socket Mode or by HTTP.
type Delivery struct {
	Kind Kind
	// Payload is JSON as Socket Mode carries it; a slash command that came as
	// a form is an object of strings.
	Payload json.RawMessage
	Attempt int    // 0 the first time
	Reason  string // why it is delivered again, such as timeout
}

// Receiver takes deliveries in the order in which they arrive. It returns soon;
// done is called once, from any goroutine, when the delivery is stored or needs
// no storing: with what the acknowledgement carries, or nil. With an error the
// delivery was not taken, and is not to be acknowledged.
type Receiver func(ctx context.Context, d Delivery, done func(answer []byte, err error))
