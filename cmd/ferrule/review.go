package main

import (
	"context"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"ferrule/store"
	"ferrule/store/review"
)

func reviewCommand(c *common) *cobra.Command {
	var week string
	cmd := &cobra.Command{
		Use:   "review",
		Short: "Review a week: what was mended, what it cost, what came back, what is left to do",
		Long: `Review says what a week was like, in words that can be read aloud, with the
figures behind them: cases and hours by cause, site and equipment against the
eight weeks before; repeat visits within 30 days; open cases; sites that are
still on test or were left with reduced protection.

Without --week it takes the last whole week in the case book.`,
		Example: "  ferrule review\n  ferrule review --week 2026-W47 --json",
		Args:    usage(cobra.NoArgs),
		RunE:    func(cmd *cobra.Command, _ []string) error { return runReview(cmd.Context(), c, week) },
	}
	cmd.Flags().StringVar(&week, "week", "", "ISO `week`, such as 2026-W47 (default: the last whole week in the case book)")
	return cmd
}

func runReview(ctx context.Context, c *common, name string) error {
	program, err := c.program()
	if err != nil {
		return err
	}
	return c.withStore(ctx, func(st store.Store) error {
		var w review.Week
		var err error
		if name != "" {
			if w, err = review.ParseWeek(name); err != nil {
				return usageError{err}
			}
		} else if w, err = review.LastWhole(ctx, st); errors.Is(err, review.ErrEmpty) {
			return refusal{fmt.Errorf("%w (ferrule demo writes a year of invented ones)", err)}
		} else if err != nil {
			return err
		}
		r, err := review.Make(ctx, st, program.Pack(), w)
		if err != nil {
			return err
		}
		if c.json {
			return printJSON(c.out, r)
		}
		_, err = fmt.Fprint(c.out, r.Text())
		return err
	})
}
