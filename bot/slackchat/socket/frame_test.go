package socket

import (
	"encoding/json"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"
)

// No acknowledgement is ever as large as what Slack does not take, and each
// that is given names the envelope.
func TestAcknowledgementsFit(t *testing.T) {
	sizes := []int{0, 1, 10 * mostAck}
	for n := mostAck - 60; n <= mostAck; n++ {
		sizes = append(sizes, n)
	}
	for _, n := range sizes {
		answer, _ := json.Marshal(strings.Repeat("a", n))
		out, problem := ack(frame{Envelope: "e1", Answers: true}, answer)
		if len(out) >= mostAck || (problem == "") != strings.Contains(string(out), "payload") {
			t.Errorf("an answer of %d bytes gave a frame of %d, %q", len(answer), len(out), problem)
		}
		if fits := len(`{"envelope_id":"e1","payload":}`)+len(answer) < mostAck; fits != (problem == "") {
			t.Errorf("an answer of %d bytes: %q", len(answer), problem)
		}
	}
	if out, problem := ack(frame{Envelope: "e1"}, nil); string(out) != `{"envelope_id":"e1"}` || problem != "" {
		t.Errorf("without an answer: %s, %q", out, problem)
	}
	if out, _ := ack(frame{Envelope: strings.Repeat("e", mostAck)}, nil); out != nil {
		t.Error("an ID of any length is acknowledged")
	}
	rapid.Check(t, func(t *rapid.T) {
		f := frame{Envelope: rapid.StringN(1, 200, -1).Draw(t, "id"), Answers: rapid.Bool().Draw(t, "answers")}
		out, _ := ack(f, []byte(rapid.String().Draw(t, "answer")))
		if !json.Valid(out) || decode(out).Envelope != f.Envelope {
			t.Fatalf("%q gave %s", f.Envelope, out)
		}
	})
}

func FuzzDecode(f *testing.F) {
	for _, seed := range []string{
		event("e1"), event("e1")[:60], `{"type":"hello"}`, `{"type":"disconnect","reason":"warning"}`, "null", "[]", "\xff",
		`{"envelope_id":"x","envelope_id":"y","payload":{}}`, `{"envelope_id":7}`, `{"payload":{"text":oops},"envelope_id":"x"}`,
	} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		got := decode(data)
		var object map[string]any
		if json.Unmarshal(data, &object) == nil {
			if id, _ := object["envelope_id"].(string); id != got.Envelope || got.Broken {
				t.Errorf("the envelope is %q, not %q", id, got.Envelope)
			}
			if kind, _ := object["type"].(string); kind != got.Type {
				t.Errorf("the type is %q, not %q", kind, got.Type)
			}
		} else if !got.Broken || got.deliverable() {
			t.Error("what is no object was taken for a frame")
		}
		if got.deliverable() && !json.Valid(got.Delivery.Payload) {
			t.Errorf("the payload is no JSON: %q", got.Delivery.Payload)
		}
		if !utf8.ValidString(got.Envelope) || !utf8.ValidString(short(got.Type)) {
			t.Error("a text is no UTF-8")
		}
		if out, _ := ack(got, nil); out != nil && (!json.Valid(out) || len(out) >= mostAck) {
			t.Errorf("the acknowledgement is %q", out)
		}
		// Cut off after its envelope, it is still acknowledged.
		cut := append([]byte(`{"envelope_id":"first","payload":`), data...)
		if id := decode(cut[:len(cut):len(cut)]).Envelope; id == "" {
			t.Errorf("%q has no envelope", cut)
		}
	})
}
