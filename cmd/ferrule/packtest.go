package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"ferrule/bot"
	"ferrule/bot/dialogue"
	"ferrule/knowledge"
	"ferrule/rules/check"
	"ferrule/store"
)

func packTestCommand(c *common) *cobra.Command {
	return &cobra.Command{
		Use:   "test [DIR]",
		Short: "Play the dialogues of a pack, run its examples, and say what they cover",
		Long: `Test runs the examples inside the rules and tables of a pack and plays the
dialogues in its folder "dialogues", each in an empty case book. It says which
expectations do not hold, and what was covered: rules seen true, false and
unknown, bands of tables, complaints.`,
		Args: usage(cobra.MaximumNArgs(1)),
		RunE: func(cmd *cobra.Command, args []string) error { return packTest(cmd.Context(), c, first(args)) },
	}
}

// tested is what pack test found.
type tested struct {
	Pack      string         `json:"pack"`
	Coverage  check.Coverage `json:"coverage"`
	Dialogues int            `json:"dialogues"`
	Failed    []string       `json:"failed"`
	Fired     int            `json:"rules_in_dialogues"`
	Symptoms  []string       `json:"symptoms"`
	Without   []string       `json:"symptoms_without"`
}

func packTest(ctx context.Context, c *common, dir string) error {
	files, name, err := c.packFiles(dir)
	if err != nil {
		return err
	}
	program, pack, err := check.Files(files)
	if err != nil {
		return err
	}
	out := tested{Pack: pack.Hash, Coverage: check.Covered(pack), Failed: []string{}, Symptoms: []string{}, Without: []string{}}
	faults, err := playAll(ctx, files, pack, bot.Prepare(program), &out)
	if err != nil {
		return err
	}
	if c.json {
		if err := printJSON(c.out, out); err != nil {
			return err
		}
	} else {
		printTested(c, name, out, faults)
	}
	if len(faults) > 0 {
		return refusal{fmt.Errorf("%d expectations of %d dialogues do not hold", len(faults), len(out.Failed))}
	}
	return nil
}

func playAll(ctx context.Context, files fs.FS, pack *knowledge.Pack, p *bot.Prepared, out *tested) ([]dialogue.Fault, error) {
	names, err := fs.Glob(files, "dialogues/*.txt")
	if err != nil {
		return nil, err
	}
	var faults []dialogue.Fault
	fired, symptoms := map[string]bool{}, map[string]bool{}
	for _, name := range names {
		src, err := fs.ReadFile(files, name)
		if err != nil {
			return nil, fmt.Errorf("reading a dialogue: %w", err)
		}
		d, err := dialogue.Parse(name, string(src))
		if err != nil {
			return nil, refusal{err}
		}
		result, err := playOne(ctx, p, d)
		if err != nil {
			return nil, err
		}
		out.Dialogues++
		if len(result.Faults) > 0 {
			out.Failed = append(out.Failed, name)
			faults = append(faults, result.Faults...)
		}
		for _, r := range result.Rules {
			fired[r] = true
		}
		for _, s := range strings.Split(result.Last.Symptom, ",") {
			symptoms[s] = true
		}
	}
	out.Fired = len(fired)
	for i := range pack.Symptoms {
		if s := pack.Symptoms[i].Name.S; symptoms[s] {
			out.Symptoms = append(out.Symptoms, s)
		} else {
			out.Without = append(out.Without, s)
		}
	}
	return faults, nil
}

// firstTurn is when the dialogues begin: a Monday afternoon.
var firstTurn = time.Date(2026, 11, 16, 14, 2, 0, 0, time.UTC)

func playOne(ctx context.Context, p *bot.Prepared, d *dialogue.Dialogue) (result dialogue.Result, err error) {
	st := store.NewMemory()
	defer func() { err = errors.Join(err, st.Close()) }()
	return dialogue.Play(ctx, bot.New(slog.New(slog.DiscardHandler), p, st, version), st, d, firstTurn)
}

func printTested(c *common, name string, out tested, faults []dialogue.Fault) {
	for _, f := range faults {
		fmt.Fprintf(c.out, "%v\n", f)
		for line := range strings.Lines(f.Reply) {
			fmt.Fprintf(c.out, "    %s\n", strings.TrimRight(line, "\n"))
		}
	}
	k := out.Coverage
	fmt.Fprintf(c.out, "%s: %d examples hold, %d of %d dialogues pass.\n", name, k.Examples, out.Dialogues-len(out.Failed), out.Dialogues)
	fmt.Fprintf(c.out, "Rules seen true %d, false %d, unknown %d, of %d; %d fire in dialogues.\n", k.True, k.False, k.Unknown, k.Rules, out.Fired)
	fmt.Fprintf(c.out, "Bands of tables seen %d of %d. Complaints with a dialogue %d of %d.\n", k.Seen, k.Bands, len(out.Symptoms), len(out.Symptoms)+len(out.Without))
	for _, gap := range []struct {
		what  string
		names []string
	}{{"Rules not seen in all three", k.Missing}, {"Complaints without a dialogue", out.Without}} {
		if len(gap.names) > 0 {
			shown := slices.Clone(gap.names[:min(len(gap.names), 12)])
			fmt.Fprintf(c.out, "%s: %s\n", gap.what, strings.Join(shown, ", "))
		}
	}
}
