package store

import (
	"encoding/binary"
	"fmt"
	"strings"
)

// The buckets; doc.go says what is in them.
var (
	bucketMeta          = []byte("meta")
	bucketRecords       = []byte("records")
	bucketRows          = []byte("rows")
	bucketWeeks         = []byte("weeks")
	bucketNames         = []byte("names")
	bucketNumbers       = []byte("numbers")
	bucketDeliveries    = []byte("deliveries")
	bucketConversations = []byte("conversations")
	bucketOpen          = []byte("open")
	bucketSites         = []byte("sites")
	bucketDevices       = []byte("devices")
	bucketOutbox        = []byte("outbox")
	bucketOutboxDue     = []byte("outbox_due")
	bucketOutboxKeys    = []byte("outbox_keys")
)

// allBuckets lists the buckets of a file of the present format.
var allBuckets = [][]byte{
	bucketMeta, bucketRecords, bucketRows, bucketWeeks, bucketNames, bucketNumbers, bucketDeliveries,
	bucketConversations, bucketOpen, bucketSites, bucketDevices, bucketOutbox, bucketOutboxDue, bucketOutboxKeys,
}

func key64(n uint64) []byte { return binary.BigEndian.AppendUint64(nil, n) }

// pair64 is a key of two numbers, ordered by the first.
func pair64(a, b uint64) []byte {
	return binary.BigEndian.AppendUint64(key64(a), b)
}

// joined is a key of two strings without zero bytes. Its prefix, joined(a, ""),
// is shared by exactly the keys with the same first string.
func joined(a, b string) []byte {
	k := make([]byte, 0, len(a)+1+len(b))
	k = append(k, a...)
	k = append(k, 0)
	return append(k, b...)
}

// openKey orders the open cases in which an actor wrote.
func openKey(actor string, id CaseID) []byte {
	return binary.BigEndian.AppendUint64(joined(actor, ""), uint64(id))
}

// deliveryKey turns a delivery round, so that the message's own stamp, after
// the last colon, comes first: stamps grow with time, and keys that arrive in
// order share pages, where keys that begin with a conversation would each
// dirty another one.
func deliveryKey(delivery string) []byte {
	i := strings.LastIndexByte(delivery, ':')
	if i < 0 {
		return joined(delivery, "")
	}
	return joined(delivery[i+1:], delivery[:i+1])
}

// weekKeySize is the length of a key of the weekly counters: the week as
// text, and the numbers of cause and symptom.
const weekKeySize = weekSize + 4 + 4

const weekSize = len("2026-W47")

func weekKey(r row) []byte {
	k := make([]byte, 0, weekKeySize)
	k = append(k, weekOf(r.closed)...)
	k = binary.BigEndian.AppendUint32(k, r.cause)
	return binary.BigEndian.AppendUint32(k, r.symptom)
}

// caseOf reads a case's number from a key of the rows.
func caseOf(k []byte) (CaseID, error) {
	if len(k) != 8 {
		return 0, fmt.Errorf("damaged key of %d bytes", len(k))
	}
	return CaseID(binary.BigEndian.Uint64(k)), nil
}
