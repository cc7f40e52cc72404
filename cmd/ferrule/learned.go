package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

	"github.com/spf13/cobra"

	"ferrule/bot"
	"ferrule/knowledge"
	"ferrule/rules/diagnosis/learn"
	"ferrule/store"
)

func packLearnedCommand(c *common) *cobra.Command {
	var update, reset, all, score bool
	cmd := &cobra.Command{
		Use:   "learned",
		Short: "Show, renew or reset the numbers that the team's closed cases taught",
		Long: `Learned shows what the pack says, what the closed cases say, and what follows: how
often each cause is behind a complaint, what is seen with it, how often its repair
mends it, and how long that takes. The numbers are a file of their own beside the
case book; the pack stays as it is. --update learns them anew from the case book,
the same numbers from the same cases; --reset goes back to the pack alone. A bot
takes them when it starts. --score replays the cases and says how good the
probabilities were, with the numbers as they were learned by then and with the
pack alone.`,
		Args: usage(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			switch {
			case update && reset:
				return usageError{errors.New("--update and --reset do not go together")}
			case reset:
				return resetLearned(c)
			case update:
				return updateLearned(cmd.Context(), c)
			case score:
				return scoreLearned(cmd.Context(), c)
			}
			return showLearned(c, all)
		},
	}
	cmd.Flags().BoolVar(&update, "update", false, "learn from the closed cases of the case book")
	cmd.Flags().BoolVar(&reset, "reset", false, "forget what was learned")
	cmd.Flags().BoolVar(&score, "score", false, "replay the closed cases in time order, each judged by what was known before it")
	cmd.Flags().BoolVar(&all, "all", false, "show every number, not those alone that cases speak of")
	return cmd
}

// learnedPath is the file of the learned numbers: beside the case book.
func (c *common) learnedPath() (string, error) {
	db, err := c.dbPath()
	return db + ".learned.json", err
}

// learned reads the numbers for a pack; nil where nothing was learned. Numbers of
// another pack are left alone, and that is told.
func (c *common) learned(p *knowledge.Pack) (*learn.Numbers, error) {
	path, err := c.learnedPath()
	if err != nil {
		return nil, err
	}
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("opening the learned numbers: %w", err)
	}
	defer f.Close()
	l, err := learn.Decode(f)
	if err != nil {
		return nil, fmt.Errorf("reading %s (ferrule pack learned --update writes it anew, --reset removes it): %w", path, err)
	}
	numbers, err := l.Numbers(p)
	if errors.As(err, new(*learn.OtherPack)) {
		fmt.Fprintf(c.err, "The learned numbers are of another pack and are not used; ferrule pack learned --update learns them anew.\n")
		return nil, nil
	}
	return numbers, err
}

// withLearned adds the learned numbers to a pack, where there are some for it.
func (c *common) withLearned(p *bot.Prepared) (*bot.Prepared, error) {
	numbers, err := c.learned(p.Pack())
	if err != nil || numbers == nil {
		return p, err
	}
	return p.With(numbers), nil
}

func updateLearned(ctx context.Context, c *common) error {
	prepared, lessons, err := c.lessons(ctx)
	if err != nil {
		return err
	}
	l, err := learn.Learn(prepared.Pack(), slices.Values(lessons), learn.Default())
	if err != nil {
		return fmt.Errorf("learning from the case book: %w", err)
	}
	path, err := c.learnedPath()
	if err != nil {
		return err
	}
	if err := writeWhole(path, l.Encode); err != nil {
		return err
	}
	fmt.Fprintf(c.out, "Learned from %s; the numbers are in %s\n", closed(len(lessons)), path)
	return nil
}

// lessons are what the closed cases of the case book say, as the pack reads them.
func (c *common) lessons(ctx context.Context) (*bot.Prepared, []learn.Case, error) {
	program, err := c.program()
	if err != nil {
		return nil, nil, err
	}
	prepared := bot.Prepare(program)
	var lessons []learn.Case
	err = c.withStore(ctx, func(st store.Store) error {
		return eachCase(ctx, st, store.Query{State: store.Closed}, func(kase store.Case) error {
			if lesson, ok := prepared.Lesson(kase); ok {
				lessons = append(lessons, lesson)
			}
			return nil
		})
	})
	return prepared, lessons, err
}

// learnAgain is after how many cases the replay learns anew.
const learnAgain = 50

func scoreLearned(ctx context.Context, c *common) error {
	prepared, lessons, err := c.lessons(ctx)
	if err != nil {
		return err
	}
	if len(lessons) == 0 {
		return refusal{errors.New("there are no closed cases to replay")}
	}
	slices.SortStableFunc(lessons, func(a, b learn.Case) int { return cmp.Or(a.Closed.Compare(b.Closed), cmp.Compare(a.ID, b.ID)) })
	alone, err := learn.Prequential(prepared.Pack(), slices.Values(lessons), learn.Default(), len(lessons), func(_ *learn.Learned, kase learn.Case) learn.Forecast {
		return prepared.Forecast(kase)
	})
	if err != nil {
		return fmt.Errorf("replaying with the pack alone: %w", err)
	}
	var known *learn.Learned
	var failed error
	now := prepared
	learned, err := learn.Prequential(prepared.Pack(), slices.Values(lessons), learn.Default(), learnAgain, func(l *learn.Learned, kase learn.Case) learn.Forecast {
		if l != known {
			known = l
			numbers, err := l.Numbers(prepared.Pack())
			if err != nil {
				failed = errors.Join(failed, err)
			} else {
				now = prepared.With(numbers)
			}
		}
		return now.Forecast(kase)
	})
	if err := errors.Join(err, failed); err != nil {
		return fmt.Errorf("replaying with what was learned: %w", err)
	}
	if c.json {
		return printJSON(c.out, map[string]learn.Scores{"pack": alone, "learned": learned})
	}
	fmt.Fprintf(c.out, "%s, each judged by what was known before it:\n", closed(len(lessons)))
	for _, row := range []struct {
		name string
		s    learn.Scores
	}{{"the pack alone", alone}, {"as it was learned", learned}} {
		fmt.Fprintf(c.out, "%-18s log score %.3f nats, Brier %.3f; the true cause first in %.0f %%, among three in %.0f %%, mean rank %.1f\n",
			row.name, row.s.Log, row.s.Brier, 100*row.s.First.Share, 100*row.s.Third.Share, row.s.MeanRank)
	}
	fmt.Fprintln(c.out, "When it said (as learned), so often it was:")
	for _, b := range learned.Reliability {
		if b.Count > 0 {
			fmt.Fprintf(c.out, "  %3.0f-%3.0f %%: %5.1f %% said, %5.1f %% were (%.1f to %.1f), of %d\n", 100*b.From, 100*b.To, 100*b.Mean, 100*b.Share, 100*b.Low, 100*b.High, b.Count)
		}
	}
	return nil
}

func closed(n int) string {
	if n == 1 {
		return "1 closed case"
	}
	return fmt.Sprintf("%d closed cases", n)
}

func resetLearned(c *common) error {
	path, err := c.learnedPath()
	if err != nil {
		return err
	}
	if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("forgetting what was learned: %w", err)
	}
	fmt.Fprintln(c.out, "The pack's own numbers hold again.")
	return nil
}

func showLearned(c *common, all bool) error {
	program, err := c.program()
	if err != nil {
		return err
	}
	numbers, err := c.learned(program.Pack())
	if err != nil {
		return err
	}
	if numbers == nil {
		fmt.Fprintln(c.out, "Nothing was learned so far; the pack's own numbers hold. ferrule pack learned --update learns from the case book.")
		return nil
	}
	var lines []learn.Line
	for _, line := range numbers.Explain() {
		if all || line.Seen > 0 || line.Cases > 0 && (line.About == learn.AboutMinutes || line.About == learn.AboutStep) {
			lines = append(lines, line)
		}
	}
	if c.json {
		return printJSON(c.out, lines)
	}
	l := numbers.Learned()
	fmt.Fprintf(c.out, "From %s, for the pack %s.\n", closed(l.Cases()), l.Pack())
	for _, line := range lines {
		fmt.Fprintln(c.out, line)
	}
	for _, aside := range numbers.Aside() {
		fmt.Fprintf(c.out, "Left aside: the %s %s, in %d cases; the pack has no such name\n", aside.Kind, aside.Name, aside.Cases)
	}
	return nil
}

// writeWhole writes a file whole or not at all.
func writeWhole(path string, write func(io.Writer) error) error {
	beside, err := os.CreateTemp(filepath.Dir(path), ".learned-*")
	if err != nil {
		return fmt.Errorf("writing %s: %w", path, err)
	}
	err = errors.Join(write(beside), beside.Chmod(0o600), beside.Close())
	if err == nil {
		err = os.Rename(beside.Name(), path)
	}
	if err != nil {
		return fmt.Errorf("writing %s: %w", path, errors.Join(err, os.Remove(beside.Name())))
	}
	return nil
}
