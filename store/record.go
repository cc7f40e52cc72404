package store

import (
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
)

// record is what one change added to a case, as it is stored. The reply is
// kept here and not beside the delivery key, so that erasing the text of a
// case finds it.
type record struct {
	delivery string
	reply    []byte
	events   []Event
}

// recordMark starts every record, so that another form can follow one day.
const recordMark = 1

var errRecord = errors.New("damaged record")

// encodeRecord writes the mark, the delivery key and the reply with their
// lengths, and the events as JSON.
func encodeRecord(r record) ([]byte, error) {
	events, err := json.Marshal(r.events)
	if err != nil {
		return nil, fmt.Errorf("encode events: %w", err)
	}
	b := make([]byte, 0, len(events)+len(r.delivery)+len(r.reply)+2*binary.MaxVarintLen64+1)
	b = append(b, recordMark)
	b = appendBytes(b, []byte(r.delivery))
	b = appendBytes(b, r.reply)
	return append(b, events...), nil
}

// decodeRecord reads a record. The result shares nothing with b.
func decodeRecord(b []byte) (record, error) {
	if len(b) == 0 || b[0] != recordMark {
		return record{}, fmt.Errorf("%w: unknown form", errRecord)
	}
	delivery, b, ok := cutBytes(b[1:])
	if !ok {
		return record{}, fmt.Errorf("%w: delivery key cut short", errRecord)
	}
	reply, b, ok := cutBytes(b)
	if !ok {
		return record{}, fmt.Errorf("%w: reply cut short", errRecord)
	}
	r := record{delivery: string(delivery)}
	if len(reply) > 0 {
		r.reply = append([]byte(nil), reply...)
	}
	if err := json.Unmarshal(b, &r.events); err != nil {
		return record{}, fmt.Errorf("%w: events: %w", errRecord, err)
	}
	return r, nil
}

// appendBytes appends a part with its length before it.
func appendBytes(b, part []byte) []byte {
	b = binary.AppendUvarint(b, uint64(len(part)))
	return append(b, part...)
}

// cutBytes takes the part that appendBytes wrote off the front.
func cutBytes(b []byte) (part, rest []byte, ok bool) {
	n, width := binary.Uvarint(b)
	if width <= 0 || n > uint64(len(b)-width) {
		return nil, nil, false
	}
	b = b[width:]
	return b[:n], b[n:], true
}

// decodeRecords reads a case's records and folds their events.
func decodeRecords(raw [][]byte) (Case, error) {
	var events []Event
	for i, b := range raw {
		r, err := decodeRecord(b)
		if err != nil {
			return Case{}, fmt.Errorf("change %d: %w", i+1, err)
		}
		events = append(events, r.events...)
	}
	return Fold(events), nil
}
