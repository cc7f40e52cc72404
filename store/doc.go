// Package store keeps sites, devices and cases.
//
// A case is a list of events; its present state is a pure fold over them
// (Fold), which no implementation does in its own way. One incoming message
// is one Change, applied whole or not at all. There are three forms of Store,
// and storetest.Conformance holds all of them to the same behaviour:
//
//   - Bolt, one bbolt file, which one process holds;
//   - Remote, the same file through the unix socket on which the process that
//     holds it serves it (Serve, Dial);
//   - Memory, for tests.
//
// OpenPath chooses between the first two. The package imports nothing else of the
// module, and never asks a clock for anything that it stores: times come with
// the events.
//
// # The file
//
// Numbers in keys are big-endian, so that they sort. Strings in keys contain
// no zero byte; 0 below is one that separates. "number" of a name is that of
// the dictionary.
//
//	bucket         key                             value
//	meta           "format"                        the format in decimal, now 2
//	records        case (8) version (8)            what one change added: record.go
//	rows           case (8)                        the case in 32 bytes: row.go; the bucket's
//	                                               sequence is the newest case's number
//	weeks          "2026-W47" cause (4) symptom (4)  closed cases (8), their minutes (8)
//	names          kind (1) name                   number (4); kind s site, c cause, y symptom
//	numbers        number (4)                      kind (1) name; the sequence is the last number
//	deliveries     stamp 0 the rest of the key     case and version (varints); where the case
//	                                               is 0, the reply
//	conversations  conversation                    the newest case (8) opened in it
//	open           actor 0 case (8)                empty; open cases in which the actor wrote
//	sites          reference                       Site as JSON
//	devices        site 0 subject                  Device as JSON
//	outbox         entry (8)                       due (8) attempts (4) Outgoing as JSON; the
//	                                               sequence is the last entry's number
//	outbox_due     due (8) entry (8)               empty; due is in nanoseconds since 1970, and
//	                                               while an entry is leased, the lease's end
//	outbox_keys    Outgoing.Key                    entry (8)
//
// A change is one transaction, in which its record, the row, the counters and
// the indexes move together. Nothing that grows with a case is written again:
// the row is carried on from the row before (summary.after), the counters
// move by the difference of the two rows, and only taking something back,
// closing and reopening fold the case anew. Records of one case lie beside
// each other, cases and stamps of deliveries grow, so a group of changes
// dirties few pages.
//
// Weeks are ISO weeks of the time, in UTC, at which the case was closed.
//
// # Writing
//
// One goroutine writes (writer.go). It commits together whatever is queued,
// checks the preconditions of the whole group before it writes anything, and
// leaves out the changes that fail, so that they do not fail their
// neighbours. After a commit that failed, the changes in it return
// ErrUncertain and the store serves nothing any more: only opening the file
// again tells what reached the disk.
//
// # Formats
//
// Format 1 had rows of 28 bytes, without the minutes, and counters of cases
// only (8 bytes). Opening such a file for writing makes both anew in one
// transaction. A file of a newer format is not touched.
package store
