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
	return &cobra.Command{
		Use:   "ask TURN...",
		Short: "Have one new conversation, one argument a turn, and leave",
		Long: `Ask opens a new case, takes each argument as one message, and prints the last
reply; with --json the state of the case after it.`,
		Example: `  ferrule ask "wireless keypad won't enrol, gen 1 hub, signal 72 %"
  ferrule ask --json "keypad wont enrol" "gen 2 hub"`,
		Args: usage(cobra.MinimumNArgs(1)),
		RunE: func(cmd *cobra.Command, turns []string) error { return ask(cmd.Context(), c, turns) },
	}
}

func ask(ctx context.Context, c *common, turns []string) (err error) {
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
	}
	if !c.json {
		fmt.Fprintf(c.err, "Cases are kept in %s\n", path)
		_, err = fmt.Fprintln(c.out, last.Text())
		return err
	}
	snapshot, err := b.Snapshot(ctx, last)
	if err != nil {
		return err
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
