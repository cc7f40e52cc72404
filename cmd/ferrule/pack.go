package main

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"ferrule/bot/intake"
	"ferrule/knowledge"
	"ferrule/knowledge/starter"
	"ferrule/rules"
	"ferrule/rules/check"
)

func packCommand(c *common) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "pack",
		Short: "Write out, check and describe a pack of rules",
		Args:  usage(cobra.NoArgs),
		RunE:  func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	cmd.AddCommand(
		&cobra.Command{
			Use:   "init DIR",
			Short: "Write the starter pack to a folder for editing",
			Args:  usage(cobra.ExactArgs(1)),
			RunE:  func(_ *cobra.Command, args []string) error { return packInit(c, args[0]) },
		},
		packCheckCommand(c),
		packTestCommand(c),
		packLearnedCommand(c),
		&cobra.Command{
			Use:   "schema",
			Short: "Print the JSON Schema of a pack file, for editors",
			Args:  usage(cobra.NoArgs),
			RunE: func(*cobra.Command, []string) error {
				return printJSON(c.out, knowledge.Schema())
			},
		},
		&cobra.Command{
			Use:   "formulas",
			Short: "List the formulas that rules and derived readings may call",
			Args:  usage(cobra.NoArgs),
			RunE:  func(*cobra.Command, []string) error { return packFormulas(c) },
		},
	)
	return cmd
}

func first(args []string) string {
	if len(args) == 0 {
		return ""
	}
	return args[0]
}

func packFormulas(c *common) error {
	if c.json {
		return printJSON(c.out, rules.Formulas())
	}
	for _, f := range rules.Formulas() {
		fmt.Fprintf(c.out, "%s, in %s\n  %s. Source: %s\n", f.Usage, f.Unit, f.Says, f.Source)
	}
	return nil
}

// packInit writes the starter pack; it never overwrites a file.
func packInit(c *common, dir string) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return fmt.Errorf("making the folder: %w", err)
	}
	names, err := starterFiles()
	if err != nil {
		return err
	}
	for _, name := range names {
		if err := os.MkdirAll(filepath.Join(dir, filepath.Dir(name)), 0o755); err != nil {
			return fmt.Errorf("making the folder: %w", err)
		}
		if _, err := os.Lstat(filepath.Join(dir, name)); err == nil {
			return refusal{fmt.Errorf("%s exists already; nothing was written", filepath.Join(dir, name))}
		}
	}
	for _, name := range names {
		src, err := fs.ReadFile(starter.FS, name)
		if err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(dir, name), src, 0o644); err != nil {
			return fmt.Errorf("writing the pack: %w", err)
		}
	}
	fmt.Fprintf(c.out, "Wrote %d files to %s. Edit them, then: ferrule pack check %s\n", len(names), dir, dir)
	return nil
}

// starterFiles are the files of the starter pack.
func starterFiles() ([]string, error) {
	var names []string
	err := fs.WalkDir(starter.FS, ".", func(name string, e fs.DirEntry, err error) error {
		if err == nil && !e.IsDir() {
			names = append(names, name)
		}
		return err
	})
	return names, err
}

func packCheckCommand(c *common) *cobra.Command {
	var pairs bool
	cmd := &cobra.Command{
		Use:   "check [DIR]",
		Short: "Check a pack: every fault with its place, or its counts",
		Long: `Check says every fault of a pack with its place, or how much is in it.

With --pairs it lists the causes that explain the same complaint, two by two,
with the evidence that tells them apart best: the ratio of the two in one band
that at least one of them shows in 30 of 100 cases. The weakest come first.`,
		Args: usage(cobra.MaximumNArgs(1)),
		RunE: func(_ *cobra.Command, args []string) error {
			if pairs {
				return packPairs(c, first(args))
			}
			return packCheck(c, first(args))
		},
	}
	cmd.Flags().BoolVar(&pairs, "pairs", false, "list the pairs of causes and what tells them apart")
	return cmd
}

func packCheck(c *common, dir string) error {
	files, name, err := c.packFiles(dir)
	if err != nil {
		return err
	}
	_, pack, err := check.Files(files)
	if pack != nil {
		// What the rules can't see: words that mean two things.
		err = append(knowledge.ProblemsOf(err), intake.Collisions(pack)...).Err()
	}
	if c.json {
		return packCheckJSON(c, pack, err)
	}
	if err != nil {
		return err
	}
	fmt.Fprintf(c.out, "%s is clean: %s.\n%s\n", name, check.Count(pack), pack.Hash)
	return nil
}

// checkState is what pack check --json prints.
type checkState struct {
	Clean    bool         `json:"clean"`
	Pack     string       `json:"pack"`
	Counts   check.Counts `json:"counts"`
	Problems []problem    `json:"problems"`
}

type problem struct {
	File   string `json:"file"`
	Line   int    `json:"line"`
	Column int    `json:"column"`
	Wrong  string `json:"wrong"`
	Advice string `json:"advice"`
}

func packCheckJSON(c *common, pack *knowledge.Pack, err error) error {
	s := checkState{Clean: err == nil, Problems: []problem{}}
	if pack != nil {
		s.Pack, s.Counts = pack.Hash, check.Count(pack)
	}
	for _, p := range knowledge.ProblemsOf(err) {
		s.Problems = append(s.Problems, problem{p.File, p.Line, p.Column, p.Wrong, p.Advice})
	}
	if printErr := printJSON(c.out, s); printErr != nil {
		return printErr
	}
	if err != nil {
		return refusal{fmt.Errorf("the pack has %d problems", len(s.Problems))}
	}
	return nil
}
