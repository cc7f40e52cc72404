package outbox_test

import (
	"context"
	"fmt"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"ferrule/bot/slackchat/outbox"
	"ferrule/store"
)

// nothing is a Sender that takes everything at once.
type nothing struct {
	posts atomic.Int64
	want  int64
	done  chan struct{}
}

func (n *nothing) Post(context.Context, store.Leased) error {
	if n.posts.Add(1) == n.want {
		close(n.done)
	}
	return nil
}

func (n *nothing) Posted(context.Context, store.Leased) (bool, error) { return false, nil }

// backlog fills a new file with entries for 256 channels.
func backlog(b *testing.B, n int) store.Store {
	b.Helper()
	s, err := store.OpenPath(b.Context(), filepath.Join(b.TempDir(), "cases.db"), store.Options{})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = s.Close() })
	var entries []store.Outgoing
	for i := range n {
		entries = append(entries, store.Outgoing{Channel: fmt.Sprint("C", i%256), Body: make([]byte, 500)})
		if len(entries) == 1000 || i == n-1 {
			put(b, s, entries...)
			entries = entries[:0]
		}
	}
	return s
}

// BenchmarkBacklog sends entries with nothing to wait for but the store, and
// does the same work on the bare store from as many goroutines as channels.
// The ratio is the figure that travels.
func BenchmarkBacklog(b *testing.B) {
	const size = 4096
	var ours, bare time.Duration
	for b.Loop() {
		ours += sendBacklog(b, size)
		bare += drain(b, size)
	}
	entries := float64(size * b.N)
	b.ReportMetric(entries/ours.Seconds(), "entries/s")
	b.ReportMetric(entries/bare.Seconds(), "bare-entries/s")
	b.ReportMetric(ours.Seconds()/bare.Seconds(), "ratio")
	b.ReportMetric(0, "ns/op")
}

func sendBacklog(b *testing.B, size int) time.Duration {
	s := backlog(b, size)
	n := &nothing{want: int64(size), done: make(chan struct{})}
	begun := time.Now()
	w := start(b, s, n, func(o *outbox.Options) { o.Every = 1 })
	<-n.done
	if err := w.stop(); err != nil { // the last are marked
		b.Fatal(err)
	}
	took := time.Since(begun)
	if l := left(b, s); l != "" {
		b.Fatalf("left: %d bytes", len(l))
	}
	return took
}

// drain leases and takes out everything.
func drain(b *testing.B, size int) time.Duration {
	s := backlog(b, size)
	begun := time.Now()
	var wg sync.WaitGroup
	queue := make(chan uint64)
	for range 256 {
		wg.Go(func() {
			for id := range queue {
				if err := s.Sent(b.Context(), id); err != nil {
					b.Error(err)
				}
			}
		})
	}
	for taken := 0; taken < size; {
		leased, err := s.Lease(b.Context(), time.Now(), time.Minute, 500)
		if err != nil {
			b.Fatal(err)
		}
		for _, e := range leased {
			queue <- e.ID
		}
		taken += len(leased)
	}
	close(queue)
	wg.Wait()
	return time.Since(begun)
}
