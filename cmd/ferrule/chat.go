package main

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"github.com/adrg/xdg"
	"github.com/peterh/liner"
	"github.com/spf13/cobra"
	"golang.org/x/term"

	"ferrule/bot"
	"ferrule/bot/console"
	"ferrule/store"
)

type chatOptions struct {
	*common
	stream string
	pack   *livePack
}

func (o *chatOptions) addFlags(cmd *cobra.Command) {
	cmd.Flags().StringVar(&o.stream, "stream", "", "`name` of a piped dialogue: the same lines sent again under the same name add nothing")
}

func chatCommand(c *common) *cobra.Command {
	o := &chatOptions{common: c}
	cmd := &cobra.Command{
		Use:   "chat",
		Short: "Converse in the terminal, or over piped input",
		Args:  usage(cobra.NoArgs),
		RunE:  func(cmd *cobra.Command, _ []string) error { return o.run(cmd.Context()) },
	}
	o.addFlags(cmd)
	return cmd
}

func (o *chatOptions) run(ctx context.Context) error {
	return o.withBot(ctx, func(b *bot.Bot, _ store.Store, pack *livePack) error {
		o.pack = pack
		if terminal(o.in) && terminal(o.out) {
			return o.interactive(ctx, b)
		}
		return o.piped(ctx, b)
	})
}

// withBot runs f with a bot on the case book, which other commands reach through
// this one meanwhile, and the pack that it follows.
func (c *common) withBot(ctx context.Context, f func(*bot.Bot, store.Store, *livePack) error) (err error) {
	st, path, err := c.openStore(ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	b, err := c.newBot(st)
	if err != nil {
		return err
	}
	pack, err := c.live(b)
	if err != nil {
		return err
	}
	stop, err := serve(ctx, st, path)
	if err != nil {
		return err
	}
	defer stop()
	fmt.Fprintf(c.err, "Cases are kept in %s\n", path)
	return f(b, st, pack)
}

// serve lets other commands use the store while this one holds its file.
func serve(ctx context.Context, st store.Store, path string) (stop func(), err error) {
	bolt, ok := st.(*store.Bolt)
	if !ok {
		return func() {}, nil // somebody else holds the file and serves it
	}
	listener, err := bolt.Listen()
	if err != nil {
		return nil, fmt.Errorf("serving the case book to other commands: %w", err)
	}
	ctx, cancel := context.WithCancel(ctx)
	done := make(chan error, 1)
	go func() { done <- store.Serve(ctx, listener, bolt) }()
	return func() { cancel(); <-done }, nil
}

func (o *chatOptions) options() console.Options {
	return console.Options{Out: o.out, Stream: o.stream, Actor: o.actor(), Now: time.Now, Before: o.pack.look}
}

func (o *chatOptions) piped(ctx context.Context, b *bot.Bot) error {
	opts := o.options()
	if opts.Stream == "" {
		opts.Stream = "pipe-" + unique()
	}
	opts.Echo = true
	return console.Run(ctx, b, console.Pipe(o.in), opts)
}

func (o *chatOptions) interactive(ctx context.Context, b *bot.Bot) error {
	opts := o.options()
	if opts.Stream == "" {
		opts.Stream = "chat-" + unique()
	}
	opts.Direct = true
	opts.Colour = o.coloured()
	if f, ok := o.out.(*os.File); ok {
		if w, _, err := term.GetSize(int(f.Fd())); err == nil {
			opts.Width = w
		}
	}
	fmt.Fprintln(o.out, "Tell me what is wrong and what you measured. help for more, quit to leave.")
	fmt.Fprintln(o.out)
	ed := newEditor()
	defer ed.close()
	return console.Run(ctx, b, ed, opts)
}

// editor is line editing with a history that is kept between conversations.
// Lines that look as if they held a code never get into the history.
type editor struct {
	line    *liner.State
	history string
}

func newEditor() *editor {
	e := &editor{line: liner.NewLiner()}
	e.line.SetCtrlCAborts(true)
	if path, err := xdg.StateFile("ferrule/history"); err == nil {
		e.history = path
		if f, err := os.Open(filepath.Clean(path)); err == nil {
			_, _ = e.line.ReadHistory(f) // a broken history only costs the history
			_ = f.Close()
		}
	}
	return e
}

func (e *editor) ReadLine() (string, error) {
	line, err := e.line.Prompt("> ")
	if errors.Is(err, liner.ErrPromptAborted) {
		return "", io.EOF
	}
	if err == nil && console.Harmless(line) {
		e.line.AppendHistory(line)
	}
	return line, err
}

func (e *editor) close() {
	if e.history != "" {
		if f, err := os.OpenFile(e.history, os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o600); err == nil {
			_, _ = e.line.WriteHistory(f)
			_ = f.Close()
		}
	}
	_ = e.line.Close()
}

// coloured tells whether the output may carry colours.
func (c *common) coloured() bool {
	return terminal(c.out) && os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb"
}

func terminal(stream any) bool {
	f, ok := stream.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

func unique() string {
	var b [6]byte
	_, _ = rand.Read(b[:]) // never fails
	return hex.EncodeToString(b[:])
}
