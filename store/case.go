package store

import "time"

// Case is the present state of a case: a pure fold over its events.
type Case struct {
	ID           CaseID    `json:"case"`
	Version      uint64    `json:"version"`
	State        State     `json:"state"`
	Conversation string    `json:"conversation"`
	Site         SiteRef   `json:"site,omitempty"`
	Opened       time.Time `json:"opened"`
	Closed       time.Time `json:"closed,omitzero"`
	Last         time.Time `json:"last"` // of the newest event
	Symptom      string    `json:"symptom,omitempty"`
	Readings     []Reading `json:"readings,omitempty"` // in force, in the order first given; those taken back are left out
	Findings     []Finding `json:"findings,omitempty"` // newest of each rule
	Steps        []Step    `json:"steps,omitempty"`
	OnTest       *OnTest   `json:"on_test,omitempty"`
	Visit        *Visit    `json:"visit,omitempty"`
	Outcome      *Outcome  `json:"outcome,omitempty"`
	Actors       []string  `json:"actors,omitempty"`
	Events       []Event   `json:"events"`
}
