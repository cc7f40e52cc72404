package main

import (
	"context"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"ferrule/bot/demo"
	"ferrule/store"
)

func demoCommand(c *common) *cobra.Command {
	var seed uint64
	var inSlack bool
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "Write an invented year of 2,500 visits into an empty case book",
		Long: `Demo fills an empty case book with the invented year of an invented firm: about
340 sites and 2,500 visits, ending on Sunday 22 November 2026. Everything in it
is invented. The same seed gives the same year.

With --slack it starts a stand-in for Slack on this machine, and you play a
technician in its channel: what you see is what the bot would post.`,
		Example: "  ferrule demo --db demo.db && ferrule review --db demo.db\n  ferrule demo --slack",
		Args:    usage(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if inSlack {
				return runSlackDemo(cmd.Context(), c)
			}
			return runDemo(cmd.Context(), c, seed)
		},
	}
	cmd.Flags().BoolVar(&inSlack, "slack", false, "talk to the bot in a stand-in for Slack; cases are kept in memory unless --db names a file")
	cmd.Flags().Uint64Var(&seed, "seed", 1, "`number` from which the year is drawn")
	return cmd
}

func runDemo(ctx context.Context, c *common, seed uint64) error {
	program, err := c.program()
	if err != nil {
		return err
	}
	var progress func(done, of int)
	if terminal(c.err) {
		progress = func(done, of int) {
			if done%100 == 0 || done == of {
				fmt.Fprintf(c.err, "\r%d of %d cases", done, of)
			}
			if done == of {
				fmt.Fprintln(c.err)
			}
		}
	}
	return c.withStore(ctx, func(st store.Store) error {
		n, err := demo.Write(ctx, st, program, seed, progress)
		if errors.Is(err, demo.ErrNotEmpty) {
			return refusal{fmt.Errorf("%w: name another file with --db", err)}
		}
		if err != nil {
			return err
		}
		fmt.Fprintf(c.out, "Wrote %d invented cases. Read the last week with: ferrule review\n", n)
		return nil
	})
}
