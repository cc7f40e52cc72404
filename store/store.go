package store

import (
	"context"
	"errors"
	"time"
)

// Typed conditions on which a caller decides.
var (
	// ErrConflict: Change.Expected no longer is the case's version.
	ErrConflict = errors.New("the case has moved on")
	// ErrUnavailable: nothing was written and the store can't be used now.
	ErrUnavailable = errors.New("the store can't be used")
	// ErrUncertain: the commit may or may not have reached the disk; the
	// store stops serving until it is opened again.
	ErrUncertain = errors.New("it is not known whether the change was stored")
	// ErrNotFound: no such case, site or device.
	ErrNotFound = errors.New("not found")
	// ErrNewerFormat: the file was written by a newer version of the program.
	ErrNewerFormat = errors.New("the store was written by a newer version")
)

// Change is all that one incoming message does. It is applied whole or not
// at all, in one transaction. What can never be applied, such as an event
// whose part is missing, is refused with ErrInvalid.
//
// A change without a case and without events only touches the register and
// the outbox; one of a case without events counts as a version all the same.
// A deleted message (Message.Deleted) also takes its words out of the events
// that were stored before.
type Change struct {
	Delivery string // transport, conversation and the message's own stamp; empty: never repeated
	Case     CaseID // 0 opens a case when Events starts with KindOpened
	Expected uint64 // version of the case that the change rests on; ignored for a new case
	Events   []Event
	Sites    []Site
	Devices  []Device
	Outbox   []Outgoing
	Reply    []byte // the reply as the transport stores it, given back with a repeated delivery
}

// Receipt tells what a change became.
type Receipt struct {
	Case     CaseID
	Version  uint64   // of the case after the change: the number of changes applied to it
	Repeated bool     // the delivery had been applied before; nothing was changed now
	Reply    []byte   // of the first delivery, when Repeated
	Outbox   []uint64 `json:",omitempty"` // IDs of the change's outgoing messages, in order; none when Repeated
}

// Site is an entry of the site register.
type Site struct {
	Ref             SiteRef   `json:"ref"`
	Name            string    `json:"name,omitempty"` // what the team calls it; no address
	Grade           int       `json:"grade,omitempty"`
	PathCategory    string    `json:"path_category,omitempty"`
	Equipment       []string  `json:"equipment,omitempty"` // model names
	BatteryDate     time.Time `json:"battery_date,omitzero"`
	NextMaintenance time.Time `json:"next_maintenance,omitzero"`
}

// Device is one device of a site. One of a site that is not registered is
// kept, and shows up when the site is.
type Device struct {
	Site     SiteRef            `json:"site"`
	Subject  string             `json:"subject"` // such as "device 3"
	Model    string             `json:"model,omitempty"`
	Firmware string             `json:"firmware,omitempty"`
	Handover map[string]float64 `json:"handover,omitempty"` // readings at hand-over
}

// Outgoing is a message that waits to be sent. An entry with the same Key as
// a waiting one replaces it; an empty Due means at once. The store fills in the
// case and its version after the change, of a change that has a case: a body
// that is made before the commit can't know them. With Held set, the entry is
// handed to whoever applies the change, as if leased until then: Receipt.Outbox
// has its ID.
type Outgoing struct {
	Key     string    `json:"key"`
	Channel string    `json:"channel"`
	Due     time.Time `json:"due,omitzero"`
	Body    []byte    `json:"body"`
	Case    CaseID    `json:"case,omitempty"`
	Version uint64    `json:"version,omitempty"`
	Held    time.Time `json:"held,omitzero"`
}

// Leased is an outbox entry handed to one worker until its lease ends.
type Leased struct {
	ID uint64
	Outgoing
	Attempts int // how often it was handed out, this time included
}

// Query selects cases for a list. Zero fields select everything.
type Query struct {
	State  State // "" for all
	Site   SiteRef
	Since  time.Time // opened at or after
	Before time.Time // opened before
	Newest bool      // newest first
	Limit  int       // page size; 0 means 100, 1000 is the most
}

// State is what a case is at present.
type State string

// The states of a case.
const (
	Open   State = "open"
	Closed State = "closed"
)

// Page is one page of a list. Next continues it; only an empty Next ends it,
// as a page of long cases is shorter than its limit.
type Page struct {
	Cases []Case
	Next  Cursor
}

// Cursor continues a list. It is opaque to the caller.
type Cursor string

// WeekCount is how many cases of a cause were closed in an ISO week, and the
// minutes they took. The week is that of the closing time in UTC.
type WeekCount struct {
	Week    string `json:"week"` // such as 2026-W47
	Cause   string `json:"cause"`
	Symptom string `json:"symptom"`
	Cases   int    `json:"cases"`
	Minutes int    `json:"minutes"`
}

// Store keeps sites, devices and cases. All implementations pass
// storetest.Conformance. Every method returns ErrUnavailable (wrapped) when
// the store can't be used, and a context's error when that ended first.
type Store interface {
	// Apply applies a change whole or not at all. It returns ErrConflict
	// when Expected is not the case's version, and ErrUncertain when the
	// commit's fate is not known. A Delivery that was applied before
	// returns the first Receipt with Repeated set.
	Apply(ctx context.Context, c Change) (Receipt, error)
	// Case returns a case folded from its events; ErrNotFound if none.
	Case(ctx context.Context, id CaseID) (Case, error)
	// Cases lists cases in order of their numbers, a page at a time.
	Cases(ctx context.Context, q Query, after Cursor) (Page, error)
	// Conversation returns the newest case opened in a conversation;
	// ErrNotFound if none.
	Conversation(ctx context.Context, conversation string) (CaseID, error)
	// LastOpen returns the newest case in which the actor wrote and which
	// is still open; ErrNotFound if none.
	LastOpen(ctx context.Context, actor string) (CaseID, error)
	// Site returns a site and its devices; ErrNotFound if none.
	Site(ctx context.Context, ref SiteRef) (Site, []Device, error)
	// Sites lists the register in order of reference.
	Sites(ctx context.Context, after SiteRef, limit int) ([]Site, error)
	// Weeks returns the weekly counters between two ISO weeks, inclusive, in
	// order of week, cause and symptom. An empty week is no bound.
	Weeks(ctx context.Context, from, to string) ([]WeekCount, error)
	// Lease hands out up to n entries that are due, oldest first, for a
	// time, after which they are due again.
	Lease(ctx context.Context, now time.Time, lease time.Duration, n int) ([]Leased, error)
	// Sent takes an entry out of the outbox; Retry makes it due again at
	// another time. An entry that is not there, because it was replaced or
	// sent by another worker, is no error.
	Sent(ctx context.Context, id uint64) error
	Retry(ctx context.Context, id uint64, due time.Time) error
	// EraseText drops the text of a case's messages, keeping its events:
	// also the words that readings quote, and the replies that were kept
	// for repeated deliveries. Messages waiting in the outbox stay.
	EraseText(ctx context.Context, id CaseID) error
	// Close releases the store. It may be called again.
	Close() error
}
