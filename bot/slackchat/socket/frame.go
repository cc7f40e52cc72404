package socket

import (
	"bytes"
	"encoding/json"
	"regexp"

	"ferrule/bot/slackchat"
)

// frame is what Slack sends in one websocket message.
type frame struct {
	Type     string
	Envelope string // the ID to acknowledge, if there is one
	Delivery slackchat.Delivery
	Answers  bool   // an acknowledgement may carry a payload
	Reason   string // of a disconnect
	// Broken frames are no JSON object, or were cut off: of them only the type
	// and the envelope are known, if at all.
	Broken bool
}

// What a frame may be besides a delivery.
const (
	hello      = "hello"
	disconnect = "disconnect"
)

// decode reads a frame. A field that is not of its type counts as missing, so
// that one odd field loses nothing else.
func decode(data []byte) frame {
	var fields map[string]json.RawMessage
	if json.Unmarshal(data, &fields) != nil {
		return frame{Type: loose(looseType, data), Envelope: loose(looseEnvelope, data), Broken: true}
	}
	f := frame{
		Type:     field[string](fields["type"]),
		Envelope: field[string](fields["envelope_id"]),
		Reason:   field[string](fields["reason"]),
		Answers:  field[bool](fields["accepts_response_payload"]),
	}
	f.Delivery = slackchat.Delivery{
		Kind:    slackchat.Kind(f.Type),
		Payload: fields["payload"],
		Attempt: field[int](fields["retry_attempt"]),
		Reason:  field[string](fields["retry_reason"]),
	}
	return f
}

// deliverable says whether the frame is of a kind that the receiver knows and
// carries what that kind carries, a JSON object.
func (f frame) deliverable() bool {
	switch f.Delivery.Kind {
	case slackchat.Events, slackchat.SlashCommand, slackchat.Interactive:
		return !f.Broken && bytes.HasPrefix(f.Delivery.Payload, []byte("{"))
	}
	return false
}

func field[T any](raw json.RawMessage) T {
	var value T
	if len(raw) == 0 || json.Unmarshal(raw, &value) != nil {
		return *new(T)
	}
	return value
}

// A name with a quote on either side can't stand inside a JSON string, where
// the quotes are escaped: what somebody typed is never taken for a field.
var (
	looseEnvelope = regexp.MustCompile(`"envelope_id"\s*:\s*("[^"\\[:cntrl:]]+")`)
	looseType     = regexp.MustCompile(`"type"\s*:\s*("[^"\\[:cntrl:]]+")`)
)

// loose finds a string field in what is no JSON.
func loose(pattern *regexp.Regexp, data []byte) string {
	if m := pattern.FindSubmatch(data); m != nil {
		return field[string](m[1])
	}
	return ""
}

// mostAck is the size from which on Slack does not take an acknowledgement.
const mostAck = 20_480

// ack gives the frame that acknowledges an envelope, with the answer if it can
// be carried. The problem says why it is not, or why there is no frame at all.
func ack(f frame, answer []byte) (out []byte, problem string) {
	id, err := json.Marshal(f.Envelope)
	if err != nil || len(id) > mostAck/2 {
		return nil, "the envelope's ID is too long"
	}
	bare := []byte(`{"envelope_id":` + string(id) + `}`)
	if len(answer) == 0 {
		return bare, ""
	}
	if !f.Answers {
		return bare, "the envelope takes no answer"
	}
	with := bytes.NewBufferString(`{"envelope_id":` + string(id) + `,"payload":`)
	if json.Compact(with, answer) != nil {
		return bare, "the answer is no JSON"
	}
	with.WriteByte('}')
	if with.Len() >= mostAck {
		return bare, "the answer is too large"
	}
	return with.Bytes(), ""
}
