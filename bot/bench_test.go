package bot_test

import (
	"fmt"
	"io/fs"
	"log/slog"
	"path"
	"path/filepath"
	"sync/atomic"
	"testing"
	"time"

	"ferrule/bot"
	"ferrule/bot/dialogue"
	"ferrule/knowledge/starter"
	"ferrule/store"
)

// BenchmarkHandle answers first messages, each in a conversation of its own,
// and stores them on disk; their steps are remembered, as those of a busy day
// mostly are.
func BenchmarkHandle(b *testing.B) {
	names, err := fs.Glob(starter.FS, "dialogues/*.txt")
	if err != nil || len(names) == 0 {
		b.Fatal(names, err)
	}
	var says []string
	for _, name := range names {
		src, err := fs.ReadFile(starter.FS, name)
		if err != nil {
			b.Fatal(err)
		}
		d, err := dialogue.Parse(path.Base(name), string(src))
		if err != nil {
			b.Fatal(err)
		}
		says = append(says, d.Turns[0].Says)
	}
	st, err := store.OpenBolt(filepath.Join(b.TempDir(), "cases.db"), store.Options{})
	if err != nil {
		b.Fatal(err)
	}
	defer st.Close()
	talk := bot.New(slog.New(slog.DiscardHandler), prepared(b), st, "test")
	var n atomic.Int64
	answer := func() {
		i := int(n.Add(1))
		key := fmt.Sprint("bench/", i)
		_, err := talk.Handle(b.Context(), bot.Text{Text: says[i%len(says)], Envelope: bot.Envelope{
			Actor: key, Conversation: key, Delivery: key, Message: key, Sent: start.Add(time.Duration(i) * time.Second), Post: true,
		}})
		if err != nil {
			b.Error(err)
		}
	}
	for range says {
		answer()
	}
	b.SetParallelism(32)
	b.ReportAllocs()
	b.ResetTimer()
	b.RunParallel(func(pb *testing.PB) {
		for pb.Next() {
			answer()
		}
	})
}
