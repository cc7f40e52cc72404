package main

import (
	"fmt"
	"io"
	"io/fs"
	"path/filepath"
	"strings"

	"ferrule/bot"
	"ferrule/rules/check"
)

// livePack follows the folder of a pack: what the support lead saves counts
// from the next message on, if it checks clean. A pack with faults changes
// nothing; the faults are told once.
type livePack struct {
	files fs.FS
	bot   *bot.Bot
	tell  io.Writer
	// learned adds the numbers that cases taught, where there are some for a pack.
	learned func(*bot.Prepared) (*bot.Prepared, error)
	seen    string // the state of the files when they were last looked at
}

func (c *common) live(b *bot.Bot) (*livePack, error) {
	files, _, err := c.packFiles("")
	if err != nil {
		return nil, err
	}
	l := &livePack{files: files, bot: b, tell: c.err, learned: c.withLearned}
	if l.seen, err = fingerprint(files); err != nil {
		return nil, err
	}
	return l, nil
}

// look takes the pack over if its files changed since the last look.
func (l *livePack) look() {
	state, err := fingerprint(l.files)
	if err != nil {
		fmt.Fprintf(l.tell, "The pack can't be looked at: %v. The one before goes on.\n", err)
		return
	}
	if state == l.seen {
		return
	}
	l.seen = state
	program, _, err := check.Files(l.files)
	if err != nil {
		fmt.Fprintf(l.tell, "The changed pack has faults and is not taken over; the one before goes on:\n%v\n", err)
		return
	}
	prepared, err := l.learned(bot.Prepare(program))
	if err != nil {
		fmt.Fprintf(l.tell, "%v; the pack's own numbers hold.\n", err)
	}
	l.bot.Use(prepared)
	fmt.Fprintf(l.tell, "The changed pack is taken over: %s.\n", program.Pack().Hash)
}

// fingerprint tells whether the files of a pack are the same: their names,
// sizes and times. The embedded pack never changes.
func fingerprint(files fs.FS) (string, error) {
	var b strings.Builder
	err := fs.WalkDir(files, ".", func(name string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() || filepath.Ext(name) != ".yaml" && filepath.Ext(name) != ".yml" {
			return err
		}
		info, err := e.Info()
		if err != nil {
			return err
		}
		fmt.Fprintf(&b, "%s %d %d\n", name, info.Size(), info.ModTime().UnixNano())
		return nil
	})
	if err != nil {
		return "", fmt.Errorf("looking at the pack: %w", err)
	}
	return b.String(), nil
}
