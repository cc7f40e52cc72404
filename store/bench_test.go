package store

import (
	"fmt"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"go.etcd.io/bbolt"
)

// The benchmarks compare the store, in the same run and alternating, with a
// bbolt file that takes the same bytes under one ordered key and does nothing
// else: absolute times are those of one disk in one minute, ratios travel.

// turn is what a message with two readings, a finding, a step and a reply
// does: about 1.5 KB.
func turn(conversation string, n int) Change {
	at := day.Add(time.Duration(n) * time.Minute)
	id := fmt.Sprintf("%d.%06d", at.Unix(), n)
	e := func(k Kind, actor string) Event { return Event{Kind: k, At: at, Actor: actor} }
	said, signal, version, finding, step, reply := e(KindMessage, "p-77"), e(KindReading, "p-77"), e(KindReading, "p-77"), e(KindFinding, "bot"), e(KindStep, "bot"), e(KindMessage, "bot")
	said.Message = &Message{ID: id, Text: "sig 35% at the back door, hub is on 1.10, still will not enrol"}
	signal.Reading = &Reading{Name: "radio.signal", Subject: "device 1", Message: id, Low: 35, High: 35, Certainty: 1, State: StateKnown, Words: "sig 35%"}
	version.Reading = &Reading{Name: "hub.firmware", Subject: "hub 1", Message: id, Text: "1.10", Certainty: 1, State: StateKnown, Words: "hub is on 1.10"}
	finding.Finding = &Finding{Rule: "hub-firmware-too-old", RuleKind: "blocker", Cause: "hub_firmware_old", Says: "The hub's firmware is too old for this device.",
		Because: []string{"hub.firmware = 1.10"}, Source: "common practice", Pack: "sha256:3f5a0f7c", Learned: "12", Program: "0.1"}
	step.Step = &Step{Kind: "repair", Cause: "hub_firmware_old", Says: "Bring the hub to version 1.14 or newer, then enrol again.", Minutes: 15}
	reply.Message = &Message{ID: "b" + id, FromBot: true, Text: "The hub's firmware is too old for this device. Bring the hub to version 1.14 or newer, then enrol again."}
	return Change{
		Delivery: "chat:" + conversation + ":" + id, Events: []Event{said, signal, version, finding, step, reply}, Reply: []byte(reply.Message.Text),
		Outbox: []Outgoing{{Key: id, Channel: conversation, Body: []byte(reply.Message.Text)}},
	}
}

func openBench(b *testing.B) *Bolt {
	b.Helper()
	s, err := OpenBolt(filepath.Join(b.TempDir(), "cases.db"), Options{})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = s.Close() })
	return s
}

// bare is a bbolt file with one bucket.
type bare struct {
	db *bbolt.DB
	n  atomic.Uint64
}

func openBare(b *testing.B) *bare {
	b.Helper()
	db, err := bbolt.Open(filepath.Join(b.TempDir(), "bare.db"), 0o600, &bbolt.Options{FreelistType: bbolt.FreelistMapType, InitialMmapSize: mapSize})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = db.Close() })
	if err := db.Update(func(tx *bbolt.Tx) error { _, err := tx.CreateBucket([]byte("x")); return err }); err != nil {
		b.Fatal(err)
	}
	return &bare{db: db}
}

// commit commits values of the given sizes in one transaction.
func (r *bare) commit(values ...[]byte) error {
	return r.db.Update(func(tx *bbolt.Tx) error {
		for _, v := range values {
			if err := tx.Bucket([]byte("x")).Put(key64(r.n.Add(1)), v); err != nil {
				return err
			}
		}
		return nil
	})
}

// openFor opens a case and applies to it.
func openFor(b *testing.B, s Store, conversation string) Receipt {
	b.Helper()
	r, err := s.Apply(b.Context(), Change{Events: []Event{{Kind: KindOpened, At: day, Actor: "p-77", Opened: &Opened{Conversation: conversation}}}})
	if err != nil {
		b.Fatal(err)
	}
	return r
}

// sizeOf is how many bytes a change stores.
func sizeOf(b *testing.B, c Change) int {
	b.Helper()
	c.Case = 1
	p, err := prepare(c)
	if err != nil {
		b.Fatal(err)
	}
	n := len(p.record) + len(p.Delivery)
	for _, o := range p.outbox {
		n += len(o)
	}
	return n
}

// BenchmarkApply: one message, one writer.
func BenchmarkApply(b *testing.B) {
	s, raw := openBench(b), openBare(b)
	r := openFor(b, s, "c")
	payload := make([]byte, sizeOf(b, turn("c", 1)))
	var ours, theirs time.Duration
	for n := 0; b.Loop(); n++ {
		if n%20 == 0 { // cases are not endless
			r = openFor(b, s, "c")
		}
		c := turn("c", n)
		c.Case, c.Expected = r.Case, r.Version
		begun := time.Now()
		var err error
		if r, err = s.Apply(b.Context(), c); err != nil {
			b.Fatal(err)
		}
		ours += time.Since(begun)
		b.StopTimer()
		begun = time.Now()
		if err := raw.commit(payload); err != nil {
			b.Fatal(err)
		}
		theirs += time.Since(begun)
		b.StartTimer()
	}
	b.ReportMetric(float64(ours)/float64(theirs), "x-bare-commit")
	b.ReportMetric(float64(len(payload)), "B/message")
}

// writers is how many write at once in the benchmarks of a busy store.
const writers = 64

// BenchmarkApply64: a message each of 64 writers, each in cases of its own,
// against 64 values in groups as large as can be: all of a round in one
// commit, which the bare file is told and the store has to find out.
func BenchmarkApply64(b *testing.B) {
	s, raw := openBench(b), openBare(b)
	payload := make([]byte, sizeOf(b, turn("c", 1)))
	values := make([][]byte, writers)
	for i := range values {
		values[i] = payload
	}
	receipts := make([]Receipt, writers)
	for w := range writers {
		receipts[w] = openFor(b, s, fmt.Sprint("room", w))
	}
	const rounds = 10
	var ours, theirs time.Duration
	messages := 0
	for n := 0; b.Loop(); n += rounds {
		begun := time.Now()
		var wg sync.WaitGroup
		for w := range writers {
			wg.Go(func() { speak(b, s, &receipts[w], w, n, rounds) })
		}
		wg.Wait()
		ours += time.Since(begun)
		messages += writers * rounds
		b.StopTimer()
		begun = time.Now()
		for range rounds {
			if err := raw.commit(values...); err != nil {
				b.Fatal(err)
			}
		}
		theirs += time.Since(begun)
		b.StartTimer()
	}
	b.ReportMetric(float64(messages)/ours.Seconds(), "messages/s")
	b.ReportMetric(float64(ours)/float64(theirs), "x-bare-groups")
}

func speak(b *testing.B, s Store, r *Receipt, writer, from, rounds int) {
	room := fmt.Sprint("room", writer)
	for n := from; n < from+rounds; n++ {
		c := turn(room, n)
		c.Delivery, c.Outbox[0].Key = fmt.Sprint(c.Delivery, writer), fmt.Sprint(n, room)
		c.Case, c.Expected = r.Case, r.Version
		if n%20 == 0 {
			c.Case = 0
			c.Events = append([]Event{{Kind: KindOpened, At: day, Actor: "p-77", Opened: &Opened{Conversation: room}}}, c.Events...)
		}
		got, err := s.Apply(b.Context(), c)
		if err != nil {
			b.Error(err)
			return
		}
		*r = got
	}
}

// fill applies cases of ten messages, many at once. Each third is closed.
func fill(b *testing.B, s Store, cases int) {
	b.Helper()
	var wg sync.WaitGroup
	for w := range writers {
		wg.Go(func() {
			for i := w; i < cases; i += writers {
				room := fmt.Sprint("room", i)
				c := turn(room, i)
				c.Outbox = nil
				c.Events = append([]Event{{Kind: KindOpened, At: day.AddDate(0, 0, i*300/cases), Actor: fmt.Sprint("p-", i%9), Opened: &Opened{Conversation: room}}}, c.Events...)
				for n := range 10 {
					r, err := s.Apply(b.Context(), c)
					if err != nil {
						b.Error(err)
						return
					}
					c = turn(room, i+n+1)
					c.Outbox, c.Case, c.Expected = nil, r.Case, r.Version
					if n == 8 && i%3 == 0 {
						c.Events = append(c.Events, Event{Kind: KindOutcome, At: day.AddDate(0, 0, i*300/cases), Outcome: &Outcome{Cause: fmt.Sprint("cause", i%12), Minutes: 30}})
					}
				}
			}
		})
	}
	wg.Wait()
}

const filled = 2000

// BenchmarkCase: one case of ten messages, read and folded.
func BenchmarkCase(b *testing.B) {
	s := openBench(b)
	fill(b, s, filled)
	for n := 0; b.Loop(); n++ {
		if _, err := s.Case(b.Context(), CaseID(1+n*7%filled)); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkPage: a page of 100 open cases, newest first.
func BenchmarkPage(b *testing.B) {
	s := openBench(b)
	fill(b, s, filled)
	for b.Loop() {
		if page, err := s.Cases(b.Context(), Query{State: Open, Newest: true}, ""); err != nil || len(page.Cases) != 100 {
			b.Fatal(len(page.Cases), err)
		}
	}
}

// BenchmarkWeeks: the counters of a year.
func BenchmarkWeeks(b *testing.B) {
	s := openBench(b)
	fill(b, s, filled)
	n := 0
	for b.Loop() {
		counts, err := s.Weeks(b.Context(), "", "")
		if err != nil || len(counts) == 0 {
			b.Fatal(err)
		}
		n = len(counts)
	}
	b.ReportMetric(float64(n), "counters")
}

// BenchmarkRows: what a list looks at, without the cases that it finds.
func BenchmarkRows(b *testing.B) {
	s := openBench(b)
	fill(b, s, filled)
	for b.Loop() {
		page, err := s.Cases(b.Context(), Query{Before: day.AddDate(-1, 0, 0)}, "")
		if err != nil || len(page.Cases) != 0 {
			b.Fatal(err)
		}
	}
}

// BenchmarkFold: a case of twenty messages, without reading it.
func BenchmarkFold(b *testing.B) {
	var events []Event
	for n := range 20 {
		events = append(events, turn("c", n).Events...)
	}
	for b.Loop() {
		Fold(events)
	}
}
