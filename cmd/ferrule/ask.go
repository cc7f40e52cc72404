package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"time"

	"github.com/spf13/cobra"

	"ferrule/bot"
)

func askCommand(c *common) *cobra.Command {
	var explain bool
	cmd := &cobra.Command{
		Use:   "ask TURN...",
		Short: "Have one new conversation, one argument a turn, and leave",
		Long: `Ask opens a new case, takes each argument as one message, and prints the last
reply; with --json the state of the case after it. With --explain it shows each
message with the pieces that were understood, what each became, and the words
that nothing was made of.`,
		Example: `  ferrule ask "wireless keypad won't enrol, gen 1 hub, signal 72 %"
  ferrule ask --json "keypad wont enrol" "gen 2 hub"
  ferrule ask --explain "kp wont enrol, sig 35, 10v8 at the far end, sry 38"`,
		Args: usage(cobra.MinimumNArgs(1)),
		RunE: func(cmd *cobra.Command, turns []string) error { return ask(cmd.Context(), c, turns, explain) },
	}
	cmd.Flags().BoolVar(&explain, "explain", false, "show what each piece of each message became")
	return cmd
}

func ask(ctx context.Context, c *common, turns []string, explain bool) (err error) {
	st, path, err := c.openStore(ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	b, err := c.newBot(st)
	if err != nil {
		return err
	}
	stream := unique()
	var last bot.Reply
	traces := []*bot.Trace{}
	for i, turn := range turns {
		stamp := strconv.Itoa(i + 1)
		last, err = b.Handle(ctx, bot.Text{
			Envelope: bot.Envelope{
				Actor: c.actor(), Conversation: "ask:" + stream, Delivery: "ask/" + stream + "/" + stamp,
				Message: stream + "/" + stamp, Sent: time.Now(),
			},
			Text: turn,
		})
		if err != nil {
			return fmt.Errorf("turn %d was not stored: %w", i+1, err)
		}
		if last.Trace != nil {
			traces = append(traces, last.Trace)
		}
	}
	if !c.json {
		fmt.Fprintf(c.err, "Cases are kept in %s\n", path)
		if explain {
			for _, tr := range traces {
				explainTrace(c.out, tr, c.coloured())
			}
		}
		_, err = fmt.Fprintln(c.out, last.Text())
		return err
	}
	snapshot, err := b.Snapshot(ctx, last)
	if err != nil {
		return err
	}
	if explain {
		snapshot.Messages = traces
	}
	return printJSON(c.out, snapshot)
}

func printJSON(w interface{ Write([]byte) (int, error) }, v any) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return fmt.Errorf("printing JSON: %w", err)
	}
	return nil
}
