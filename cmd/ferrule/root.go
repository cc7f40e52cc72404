package main

import (
	"context"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"os"
	"os/user"

	"github.com/adrg/xdg"
	"github.com/spf13/cobra"

	"ferrule/bot"
	"ferrule/knowledge/starter"
	"ferrule/rules"
	"ferrule/rules/check"
	"ferrule/store"
)

type streams struct {
	in       io.Reader
	out, err io.Writer
}

// common holds the options that every command has.
type common struct {
	streams
	db   string
	pack string
	as   string
	json bool
}

func rootCommand(s streams) *cobra.Command {
	c := &common{streams: s}
	chat := &chatOptions{common: c}
	root := &cobra.Command{
		Use:   "ferrule",
		Short: "Find the fault in an intruder alarm system, one step at a time",
		Long: `Ferrule helps the people who install and service intruder alarm systems to
find a fault on site. Write what is wrong and what you measured; it answers
with what is wrong or what to measure next, why, and how to mend it.

Without a command it opens a conversation in the terminal.`,
		Args:          noArguments,
		SilenceErrors: true,
		SilenceUsage:  true,
		RunE:          func(cmd *cobra.Command, _ []string) error { return chat.run(cmd.Context()) },
	}
	root.CompletionOptions.HiddenDefaultCmd = true
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return usageError{err} })
	flags := root.PersistentFlags()
	flags.StringVar(&c.db, "db", "", "`file` that keeps the cases (default: in the user's data folder)")
	flags.StringVar(&c.pack, "pack", "", "`folder` of the pack (default: the starter pack inside the program)")
	flags.StringVar(&c.as, "as", "", "`name` of the person who speaks (default: the login name)")
	flags.BoolVar(&c.json, "json", false, "print JSON for another program, where there is something to read")
	chat.addFlags(root)
	root.AddCommand(chatCommand(c), askCommand(c), packCommand(c), reviewCommand(c), demoCommand(c), caseCommand(c), calcCommand(c), slackCommand(c))
	return root
}

func noArguments(cmd *cobra.Command, args []string) error {
	if len(args) > 0 {
		return usageError{fmt.Errorf("there is no command %q; to ask in one go: ferrule ask %q", args[0], args[0])}
	}
	return nil
}

// usage turns a complaint of cobra about arguments into wrong use.
func usage(check cobra.PositionalArgs) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if err := check(cmd, args); err != nil {
			return usageError{fmt.Errorf("%s: %w", cmd.CommandPath(), err)}
		}
		return nil
	}
}

// dbPath is the file that keeps the cases.
func (c *common) dbPath() (string, error) {
	if c.db != "" {
		return c.db, nil
	}
	path, err := xdg.DataFile("ferrule/cases.db")
	if err != nil {
		return "", fmt.Errorf("finding a place for the cases (name one with --db FILE): %w", err)
	}
	return path, nil
}

// openStore opens the case book, or reaches the process that holds it.
func (c *common) openStore(ctx context.Context) (store.Store, string, error) {
	path, err := c.dbPath()
	if err != nil {
		return nil, "", err
	}
	st, err := store.OpenPath(ctx, path, store.Options{})
	if err != nil {
		return nil, path, fmt.Errorf("opening the case book %s: %w", path, err)
	}
	return st, path, nil
}

// actor is the pseudonym of the person who speaks: the case book keeps no names.
func (c *common) actor() string {
	name := c.as
	if name == "" {
		if u, err := user.Current(); err == nil {
			name = u.Username
		}
	}
	return bot.Pseudonym(name)
}

// packFiles is the folder that --pack names, or the starter pack.
func (c *common) packFiles(dir string) (fs.FS, string, error) {
	if dir == "" {
		dir = c.pack
	}
	if dir == "" {
		return starter.FS, "the starter pack", nil
	}
	info, err := os.Stat(dir)
	if err != nil {
		return nil, dir, fmt.Errorf("opening the pack: %w", err)
	}
	if !info.IsDir() {
		return nil, dir, usageError{fmt.Errorf("%s is a file; a pack is a folder (ferrule pack init DIR writes one)", dir)}
	}
	return os.DirFS(dir), dir, nil
}

// program loads, checks and compiles the pack.
func (c *common) program() (*rules.Program, error) {
	files, _, err := c.packFiles("")
	if err != nil {
		return nil, err
	}
	program, _, err := check.Files(files)
	return program, err
}

func (c *common) log() *slog.Logger {
	return slog.New(slog.NewTextHandler(c.err, &slog.HandlerOptions{Level: slog.LevelWarn}))
}

func (c *common) newBot(st store.Store) (*bot.Bot, error) {
	program, err := c.program()
	if err != nil {
		return nil, err
	}
	prepared, err := c.withLearned(bot.Prepare(program))
	if err != nil {
		return nil, err
	}
	return bot.New(c.log(), prepared, st, version), nil
}
