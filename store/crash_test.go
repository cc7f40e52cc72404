package store_test

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"ferrule/store"
)

// writersOfChild is how many conversations the killed process leads at once,
// so that it dies within groups of changes.
const writersOfChild = 8

// childWrite writes until it is killed. After each change was acknowledged it
// says so on one line, in one write.
func childWrite(args []string) error {
	b, err := store.OpenBolt(args[0], store.Options{})
	if err != nil {
		return err
	}
	var mu sync.Mutex
	var wg sync.WaitGroup
	for w := range writersOfChild {
		wg.Go(func() {
			err := converse(b, args[1], w, func(delivery string, r store.Receipt) {
				mu.Lock()
				defer mu.Unlock()
				fmt.Printf("%s %d %d\n", delivery, r.Case, r.Version)
			})
			fmt.Println("error:", err)
		})
	}
	wg.Wait()
	return nil
}

// converse applies changes to one case for ever.
func converse(s store.Store, round string, writer int, acknowledged func(string, store.Receipt)) error {
	ctx := context.Background()
	actor := fmt.Sprintf("actor-%d", writer)
	c := store.Change{Events: []store.Event{{Kind: store.KindOpened, Actor: actor, Opened: &store.Opened{Conversation: round + actor}}}}
	for n := 1; ; n++ {
		c.Delivery = fmt.Sprintf("%s:%s:%d", round, actor, n)
		c.Outbox = []store.Outgoing{{Key: c.Delivery, Body: []byte(c.Delivery)}}
		c.Events = append(c.Events, store.Event{Kind: store.KindMessage, Actor: actor, Message: &store.Message{ID: c.Delivery, Text: strings.Repeat("x", n%700)}})
		if n%5 == 0 {
			c.Events = append(c.Events, store.Event{Kind: store.KindOutcome, Actor: actor, Outcome: &store.Outcome{Cause: "lid", Minutes: 1, Reopened: n%2 == 0}})
		}
		r, err := s.Apply(ctx, c)
		if err != nil {
			return err
		}
		acknowledged(c.Delivery, r)
		c = store.Change{Case: r.Case, Expected: r.Version}
	}
}

// A killed process loses nothing that it had acknowledged, and nothing is
// there twice.
func TestKilledWhileWriting(t *testing.T) {
	path := newFile(t)
	rounds := 6
	if testing.Short() {
		rounds = 2
	}
	total := 0
	for round := range rounds {
		acknowledged := killOne(t, path, fmt.Sprint("round", round), time.Duration(30+40*round)*time.Millisecond)
		total += len(acknowledged)
		checkAcknowledged(t, path, acknowledged)
	}
	t.Logf("%d changes were acknowledged in %d rounds", total, rounds)
	if total == 0 {
		t.Error("nothing was written before the kill")
	}
}

// killOne runs a writing process for a while, kills it and returns what it
// had acknowledged.
func killOne(t *testing.T, path, round string, after time.Duration) map[string]store.Receipt {
	t.Helper()
	c := child(t, "write", path, round)
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	acknowledged := map[string]store.Receipt{}
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		if len(acknowledged) == 0 {
			time.AfterFunc(after, func() { _ = c.Process.Kill() })
		}
		var delivery string
		var r store.Receipt
		if n, _ := fmt.Sscanf(lines.Text(), "%s %d %d", &delivery, &r.Case, &r.Version); n != 3 {
			t.Fatalf("the writer says %q", lines.Text())
		}
		acknowledged[delivery] = r
	}
	if err := c.Wait(); err == nil {
		t.Error("the writer ended by itself")
	}
	return acknowledged
}

func checkAcknowledged(t *testing.T, path string, acknowledged map[string]store.Receipt) {
	t.Helper()
	checkFile(t, path)
	b := openBolt(t, path)
	defer b.Close()
	last := map[store.CaseID]uint64{}
	for delivery, want := range acknowledged {
		last[want.Case] = max(last[want.Case], want.Version)
		got, err := b.Apply(t.Context(), store.Change{Delivery: delivery})
		if err != nil || !got.Repeated || got.Case != want.Case || got.Version != want.Version {
			t.Errorf("%s was acknowledged as %+v, and is %+v, %v", delivery, want, got, err)
		}
	}
	for id, version := range last {
		c, err := b.Case(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		// The last change may have been stored and not acknowledged.
		if c.Version != version && c.Version != version+1 {
			t.Errorf("case %d: version %d, acknowledged %d", id, c.Version, version)
		}
		seen := map[string]bool{}
		for _, e := range c.Events {
			if e.Message == nil {
				continue
			}
			if seen[e.Message.ID] {
				t.Errorf("case %d: %s is there twice", id, e.Message.ID)
			}
			seen[e.Message.ID] = true
		}
		if uint64(len(seen)) != c.Version {
			t.Errorf("case %d: %d messages at version %d", id, len(seen), c.Version)
		}
	}
}

// A disk without room fails the change, not the file.
func TestFullDisk(t *testing.T) {
	path := newFile(t)
	out, err := child(t, "full disk", path).Output()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	var acknowledged uint64
	if _, err := fmt.Sscanf(string(out), "acknowledged %d", &acknowledged); err != nil || acknowledged == 0 {
		t.Fatalf("the writer says %q", out)
	}
	b := openBolt(t, path)
	if c, err := b.Case(t.Context(), 1); err != nil || c.Version != acknowledged {
		t.Errorf("version %d, %v; acknowledged %d", c.Version, err, acknowledged)
	}
}

// childFullDisk writes until there is no room, and then looks whether the
// store has stopped.
func childFullDisk(args []string) error {
	ctx := context.Background()
	b, err := store.OpenBolt(args[0], store.Options{})
	if err != nil {
		return err
	}
	if err := limitFiles(1 << 20); err != nil {
		return err
	}
	text := strings.Repeat("x", 100_000)
	c := store.Change{Events: []store.Event{{Kind: store.KindOpened, Opened: &store.Opened{}}}}
	for n := range uint64(100) {
		r, applyErr := b.Apply(ctx, c)
		if applyErr == nil {
			c = store.Change{Case: r.Case, Expected: r.Version, Events: []store.Event{{Kind: store.KindMessage, Message: &store.Message{ID: "m", Text: text}}}}
			continue
		}
		if !errors.Is(applyErr, store.ErrUncertain) {
			return fmt.Errorf("apply: %w", applyErr)
		}
		if _, err := b.Apply(ctx, c); !errors.Is(err, store.ErrUnavailable) {
			return fmt.Errorf("apply after a failure: %w", err)
		}
		if _, err := b.Case(ctx, 1); !errors.Is(err, store.ErrUnavailable) {
			return fmt.Errorf("case after a failure: %w", err)
		}
		fmt.Println("acknowledged", n)
		return b.Close()
	}
	return errors.New("the disk was never full")
}

// A file that is moved away while it is open takes no more changes: they
// could never be found again.
func TestMovedAway(t *testing.T) {
	path := newFile(t)
	b := openBolt(t, path)
	change := store.Change{Events: []store.Event{{Kind: store.KindOpened, Opened: &store.Opened{}}}}
	if _, err := b.Apply(t.Context(), change); err != nil {
		t.Fatal(err)
	}
	aside := filepath.Join(filepath.Dir(path), "aside.db")
	if err := os.Rename(path, aside); err != nil {
		t.Fatal(err)
	}
	if _, err := b.Apply(t.Context(), change); !errors.Is(err, store.ErrUnavailable) {
		t.Errorf("apply to a file that is gone: %v", err)
	}
	if err := os.Rename(aside, path); err != nil {
		t.Fatal(err)
	}
	if r, err := b.Apply(t.Context(), change); err != nil || r.Case != 2 {
		t.Errorf("apply when it is back: %+v, %v", r, err)
	}
}
