package main

import (
	"context"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"ferrule/bot/slackchat"
	"ferrule/bot/slackchat/service"
	"ferrule/knowledge"
	"ferrule/store"
	"ferrule/store/review"
)

func reviewCommand(c *common) *cobra.Command {
	var week, post, team string
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
		RunE: func(cmd *cobra.Command, _ []string) error {
			return runReview(cmd.Context(), c, week, posting{post, team})
		},
	}
	cmd.Flags().StringVar(&post, "post", "", "post it in the Slack channel with this `ID`, once for each week; ferrule slack sends it")
	cmd.Flags().StringVar(&team, "team", "", "`ID` of the workspace to post in (default: that of the newest case from Slack)")
	cmd.Flags().StringVar(&week, "week", "", "ISO `week`, such as 2026-W47 (default: the last whole week in the case book)")
	return cmd
}

// posting is where a review goes besides the terminal.
type posting struct{ channel, team string }

func runReview(ctx context.Context, c *common, name string, to posting) error {
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
		if to.channel != "" {
			return to.post(ctx, c, st, program.Pack(), w)
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

// post puts the review into the outbox. It is no fault that it was posted before.
func (to posting) post(ctx context.Context, c *common, st store.Store, pack *knowledge.Pack, w review.Week) error {
	if to.team == "" {
		var err error
		if to.team, err = slackchat.NewestTeam(ctx, st); err != nil {
			return fmt.Errorf("looking for the workspace: %w", err)
		}
	}
	if to.team == "" {
		return usageError{errors.New("no case came from Slack yet; name the workspace with --team")}
	}
	switch err := service.PostReview(ctx, st, pack, to.team, to.channel, w); {
	case errors.Is(err, service.ErrPosted), errors.Is(err, service.ErrNothingToSay):
		fmt.Fprintf(c.out, "Nothing to post: %v.\n", err)
	case err != nil:
		return err
	default:
		fmt.Fprintf(c.out, "The review of %s goes to %s as soon as ferrule slack runs.\n", w, to.channel)
	}
	return nil
}
