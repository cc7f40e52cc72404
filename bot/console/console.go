// Package console is the terminal transport: a conversation with line editing
// on a terminal, and the same conversation over piped input. One line is one
// message.
//
// It writes plain sentences; colour is an extra and only on a terminal. The
// width of the terminal is respected.
package console

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"github.com/fatih/color"
	"github.com/jedib0t/go-pretty/v6/text"

	"ferrule/bot"
	"ferrule/bot/redact"
	"ferrule/store"
)

// Lines gives the lines that somebody types. ReadLine returns io.EOF at the end.
type Lines interface {
	ReadLine() (string, error)
}

// Options shape a conversation.
type Options struct {
	Out    io.Writer
	Stream string // names the conversation and, with the line's number, each delivery
	Actor  string // pseudonym of the person who speaks
	Direct bool   // continue the person's open case
	Echo   bool   // repeat each line before its reply: piped input can't be seen
	Colour bool
	Width  int // 0: no wrapping
	Now    func() time.Time
	Before func() // called before each message is handled; may be nil
}

// Run converses until the lines end or ctx is done. A reply is written only
// after its message was stored; an error means that the message before it was
// not stored.
func Run(ctx context.Context, b *bot.Bot, lines Lines, o Options) error {
	p := newPrinter(o)
	var last store.CaseID
	for n := 1; ; n++ {
		line, err := lines.ReadLine()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return fmt.Errorf("reading line %d: %w", n, err)
		}
		if strings.TrimSpace(line) == "" {
			continue
		}
		if word := strings.ToLower(strings.TrimSpace(line)); o.Direct && (word == "quit" || word == "exit" || word == "bye") {
			return nil
		}
		if o.Echo {
			p.echo(line)
		}
		if o.Before != nil {
			o.Before()
		}
		stamp := strconv.Itoa(n)
		reply, err := b.Handle(ctx, bot.Text{
			Envelope: bot.Envelope{
				Actor: o.Actor, Conversation: "terminal:" + o.Stream, Direct: o.Direct,
				Delivery: "terminal/" + o.Stream + "/" + stamp, Message: o.Stream + "/" + stamp, Sent: o.Now(),
			},
			Text: line,
		})
		if err != nil {
			return fmt.Errorf("line %d was not stored: %w", n, err)
		}
		p.reply(reply, reply.Case != last && reply.Case != 0)
		last = reply.Case
	}
}

// Pipe reads lines from r; one that is longer than a message may be is cut,
// since it is turned down anyway.
func Pipe(r io.Reader) Lines { return &pipe{bufio.NewReaderSize(r, 64<<10)} }

type pipe struct{ r *bufio.Reader }

const longestLine = 1 << 20

func (p *pipe) ReadLine() (string, error) {
	var line []byte
	for {
		part, err := p.r.ReadSlice('\n')
		if len(line) < longestLine {
			line = append(line, part...)
		}
		switch {
		case errors.Is(err, bufio.ErrBufferFull):
			continue
		case errors.Is(err, io.EOF) && len(line) > 0:
			return strings.TrimRight(string(line), "\r\n"), nil
		case err != nil:
			return "", err
		}
		return strings.TrimRight(string(line), "\r\n"), nil
	}
}

// printer draws replies as text.
type printer struct {
	o                         Options
	head, care, choice, faint *color.Color
}

func newPrinter(o Options) *printer {
	p := &printer{o, color.New(color.Bold), color.New(color.FgYellow), color.New(color.FgCyan), color.New(color.Faint)}
	for _, c := range []*color.Color{p.head, p.care, p.choice, p.faint} {
		if o.Colour {
			c.EnableColor()
		} else {
			c.DisableColor()
		}
	}
	return p
}

func (p *printer) echo(line string) {
	if len(line) > 200 {
		line = line[:200] + "..."
	}
	fmt.Fprintf(p.o.Out, "> %s\n", strings.ToValidUTF8(line, "?"))
}

func (p *printer) reply(r bot.Reply, opened bool) {
	if opened {
		fmt.Fprintln(p.o.Out, p.faint.Sprintf("(case %d)", r.Case))
	}
	for i, line := range strings.Split(r.Text(), "\n") {
		style := p.style(i, line)
		for j, part := range strings.Split(p.wrap(line), "\n") {
			if j > 0 && strings.HasPrefix(line, "  - ") {
				part = "    " + part
			}
			fmt.Fprintln(p.o.Out, style(part))
		}
	}
	fmt.Fprintln(p.o.Out)
}

func (p *printer) style(i int, line string) func(...any) string {
	switch {
	case strings.HasPrefix(line, "Careful: "):
		return p.care.Sprint
	case strings.HasPrefix(line, "["):
		return p.choice.Sprint
	case strings.HasPrefix(line, "Noted: "):
		return p.faint.Sprint
	case i == 0:
		return p.head.Sprint
	}
	return fmt.Sprint
}

func (p *printer) wrap(line string) string {
	if p.o.Width < 20 {
		return line
	}
	width := p.o.Width
	if strings.HasPrefix(line, "  - ") {
		width -= 4
	}
	body := strings.TrimLeft(line, " ")
	return line[:len(line)-len(body)] + text.WrapSoft(body, width)
}

// Harmless tells whether a line may be kept in a history: one that holds a
// code or another secret may not.
func Harmless(line string) bool {
	_, found := redact.Redact(line)
	return len(found) == 0
}
