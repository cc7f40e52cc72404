// Package storetest holds every implementation of store.Store to the same
// behaviour.
package storetest

import (
	"context"
	"errors"
	"testing"

	"ferrule/store"
)

// Open opens an empty store and sees to it that it is closed after the test.
type Open func(t *testing.T) store.Store

// Reopen closes a store and opens what it left behind.
type Reopen func(t *testing.T, s store.Store) store.Store

// Conformance runs the suite. reopen is nil for a store that keeps nothing.
func Conformance(t *testing.T, open Open, reopen Reopen) {
	suite := map[string]func(*testing.T, *harness){
		"Open a case":                testOpenCase,
		"Go on with a case":          testVersions,
		"Repeated delivery":          testRepeatedDelivery,
		"Delivery without a case":    testDeliveryWithoutCase,
		"Refused changes":            testRefused,
		"Whole or not at all":        testWhole,
		"Conversation":               testConversation,
		"Last open case":             testLastOpen,
		"Late site":                  testLateSite,
		"Lists":                      testLists,
		"List while cases are added": testListWhileGrowing,
		"Odd cursors":                testCursors,
		"Weekly counters":            testWeeks,
		"Weeks of the year's end":    testWeekOfYearEnd,
		"Sites":                      testSites,
		"Outbox":                     testOutbox,
		"Outbox replacement":         testOutboxReplacement,
		"Outbox retry":               testOutboxRetry,
		"Outbox case":                testOutboxCase,
		"Outbox held":                testOutboxHeld,
		"Erase text":                 testEraseText,
		"Deletion":                   testDeletion,
		"Nothing is shared":          testNothingShared,
		"Odd values":                 testOddValues,
		"Ended context":              testContext,
		"Concurrent writers":         testConcurrentWriters,
		"Race for one version":       testRaceForVersion,
		"Race of one delivery":       testRaceOfDelivery,
		"Closed store":               testClosed,
		"Random operations":          testRandom,
	}
	for name, test := range suite {
		t.Run(name, func(t *testing.T) {
			test(t, &harness{T: t, Store: open(t), open: open, reopen: reopen})
		})
	}
}

// harness is a store under test with shorthands that fail the test.
type harness struct {
	*testing.T
	store.Store
	open   Open
	reopen Reopen
}

// again reopens a durable store, so that the second half of a test finds out
// whether the first was stored.
func (h *harness) again() {
	h.Helper()
	if h.reopen != nil {
		h.Store = h.reopen(h.T, h.Store)
	}
}

func (h *harness) ctx() context.Context { return h.T.Context() }

func (h *harness) apply(c store.Change) store.Receipt {
	h.Helper()
	r, err := h.Apply(h.ctx(), c)
	if err != nil {
		h.Fatalf("apply %+v: %v", c, err)
	}
	return r
}

// opened opens a case with a message of the actor in a conversation.
func (h *harness) opened(conversation, actor string, more ...store.Event) store.CaseID {
	h.Helper()
	events := append([]store.Event{opening(actor, 0, conversation, ""), saying(actor, 0, "m1", "hello")}, more...)
	return h.apply(store.Change{Events: events}).Case
}

// goOn applies events to a case at its present version.
func (h *harness) goOn(id store.CaseID, events ...store.Event) store.Receipt {
	h.Helper()
	return h.apply(store.Change{Case: id, Expected: h.load(id).Version, Events: events})
}

func (h *harness) load(id store.CaseID) store.Case {
	h.Helper()
	c, err := h.Case(h.ctx(), id)
	if err != nil {
		h.Fatalf("case %d: %v", id, err)
	}
	return c
}

func (h *harness) wantErr(doing string, err, want error) {
	h.Helper()
	if !errors.Is(err, want) {
		h.Errorf("%s: error %v, want %v", doing, err, want)
	}
}
