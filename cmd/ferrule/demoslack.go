package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/slack-go/slack"

	"ferrule/bot/slackchat/service"
	"ferrule/bot/slackchat/slackfake"
	"ferrule/store"
)

// The workspace of the demonstration; all of it is invented.
const (
	demoChannel = "C0FAULTS"
	demoUser    = "U0ADA"
	demoDirect  = "D0ADA"
	demoWait    = 10 * time.Second
)

const slackIntro = `A stand-in for Slack at %s: nothing leaves this machine.
You are ada in #faults, a technician of the invented Lantern Yard Alarms.

  TEXT        say it in the thread; the first line calls the bot
  2           press button 2 of the newest answer
  new         begin another thread
  /ferrule TEXT
  home        look at the bot's home page
  quit

Photos, edits, direct messages and what leads see can't be tried here.

`

// slackDemo is somebody at a keyboard who plays a person in Slack.
type slackDemo struct {
	*common
	fake   *slackfake.Server
	lines  *bufio.Scanner
	thread string
	seen   int // messages of the channel that were shown
	hints  int // to ada alone
	newest slackfake.Message
}

// runSlackDemo keeps its cases in memory unless a file is named.
func runSlackDemo(ctx context.Context, c *common) (err error) {
	st := store.Store(store.NewMemory())
	if c.db != "" {
		if st, _, err = c.openStore(ctx); err != nil {
			return err
		}
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	b, err := c.newBot(st)
	if err != nil {
		return err
	}
	fake, err := slackfake.New(slackfake.Options{})
	if err != nil {
		return fmt.Errorf("starting the stand-in for Slack: %w", err)
	}
	defer fake.Close()
	fake.AddUser(demoUser, "ada")
	fake.AddChannel(demoChannel, "faults", demoUser)
	fake.AddDirect(demoDirect, demoUser)

	ctx, stop := context.WithCancel(ctx)
	defer stop()
	ended := make(chan error, 1)
	go func() {
		ended <- service.Run(ctx, service.Options{
			Bot: b, Store: st, API: fake.URL(), Command: "/ferrule", Connections: 1,
			Tokens: service.Tokens{App: fake.AppToken(), Bot: fake.BotToken()},
		})
	}()
	fmt.Fprintf(c.out, slackIntro, fake.URL())
	d := &slackDemo{common: c, fake: fake, lines: bufio.NewScanner(c.in)}
	err = d.converse(ctx)
	stop()
	return errors.Join(err, <-ended)
}

func (d *slackDemo) converse(ctx context.Context) error {
	for {
		line, ok := d.ask("> ")
		if !ok || line == "quit" {
			return d.lines.Err()
		}
		if line == "" {
			continue
		}
		if err := d.do(ctx, line); err != nil {
			fmt.Fprintf(d.out, "%v\n", err)
		}
	}
}

// ask reads a line; false at the end.
func (d *slackDemo) ask(prompt string) (string, bool) {
	fmt.Fprint(d.out, prompt)
	if !d.lines.Scan() {
		fmt.Fprintln(d.out)
		return "", false
	}
	if !terminal(d.in) {
		fmt.Fprintln(d.out, d.lines.Text()) // piped input can't be seen
	}
	return strings.TrimSpace(d.lines.Text()), true
}

// do is what a line asks for.
func (d *slackDemo) do(ctx context.Context, line string) error {
	n, err := strconv.Atoi(line)
	switch {
	case line == "new":
		d.thread, d.newest = "", slackfake.Message{}
		return nil
	case line == "home":
		return d.home(ctx)
	case strings.HasPrefix(line, "/"):
		command, text, _ := strings.Cut(line, " ")
		if _, err := d.fake.Slash(demoChannel, demoUser, command, text); err != nil {
			return err
		}
		d.thread = ""
	case err == nil && len(buttonsOf(d.newest.Blocks)) > 0:
		buttons := buttonsOf(d.newest.Blocks)
		if n < 1 || n > len(buttons) {
			return fmt.Errorf("the newest answer has buttons 1 to %d; a value needs its unit here, such as %d V", len(buttons), n)
		}
		return d.press(ctx, buttons[n-1])
	default:
		text := line
		if d.thread == "" {
			text = d.fake.Mention() + " " + text
		}
		ts, err := d.fake.Say(demoChannel, demoUser, text, d.thread)
		if err != nil {
			return err
		}
		d.seen++ // one's own words need not be repeated
		if d.thread == "" {
			d.thread = ts
		}
	}
	return d.show(ctx)
}

// show waits for what the bot says, and prints it.
func (d *slackDemo) show(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(ctx, demoWait)
	defer cancel()
	err := d.fake.WaitFor(ctx, func() bool {
		all := d.fake.Messages(demoChannel)
		return len(d.fake.Ephemerals(demoChannel)) > d.hints || len(all) > d.seen && all[len(all)-1].ThreadTS != ""
	})
	if err != nil {
		return errors.New("nothing was answered")
	}
	hints := d.fake.Ephemerals(demoChannel)
	for _, e := range hints[d.hints:] {
		fmt.Fprintf(d.out, "  (only you see this) %s\n\n", e.Text)
	}
	d.hints = len(hints)
	all := d.fake.Messages(demoChannel)
	for _, m := range all[d.seen:] {
		if d.newest = m; m.ThreadTS != "" {
			d.thread = m.ThreadTS
		}
		d.print(m.Text, m.Blocks)
	}
	d.seen = len(all)
	return nil
}

// print shows a message as its plain text, with its buttons by number.
func (d *slackDemo) print(text string, blocks json.RawMessage) {
	for _, line := range strings.Split(text, "\n") {
		if strings.HasPrefix(line, "[") && strings.HasSuffix(line, "]") {
			continue // the answers, which are the buttons
		}
		fmt.Fprintf(d.out, "  %s\n", line)
	}
	var shown []string
	for i, b := range buttonsOf(blocks) {
		shown = append(shown, fmt.Sprintf("[%d %s]", i+1, b.Text.Text))
	}
	if len(shown) > 0 {
		fmt.Fprintf(d.out, "  %s\n", strings.Join(shown, " "))
	}
	fmt.Fprintln(d.out)
}

// buttonsOf are the buttons of a message, in order.
func buttonsOf(raw json.RawMessage) []*slack.ButtonBlockElement {
	var blocks slack.Blocks
	if json.Unmarshal(raw, &blocks) != nil {
		return nil
	}
	var out []*slack.ButtonBlockElement
	for _, b := range blocks.BlockSet {
		row, ok := b.(*slack.ActionBlock)
		if !ok {
			continue
		}
		for _, e := range row.Elements.ElementSet {
			if b, ok := e.(*slack.ButtonBlockElement); ok {
				out = append(out, b)
			}
		}
	}
	return out
}

// press presses a button; one that opens a form has it filled in.
func (d *slackDemo) press(ctx context.Context, b *slack.ButtonBlockElement) error {
	if _, err := d.fake.Press(demoChannel, d.newest.TS, demoUser, b.ActionID); err != nil {
		return err
	}
	if !strings.HasPrefix(b.ActionID, "open-") {
		return d.show(ctx)
	}
	wait, cancel := context.WithTimeout(ctx, demoWait)
	defer cancel()
	if err := d.fake.WaitFor(wait, func() bool { return len(d.fake.Views(demoUser)) > 0 }); err != nil {
		return errors.New("no form was opened")
	}
	return d.fill(ctx, d.fake.Views(demoUser)[0])
}

// fill asks for each field of a form, and sends it until it is taken.
func (d *slackDemo) fill(ctx context.Context, v slackfake.View) error {
	var blocks slack.Blocks
	if err := json.Unmarshal(v.Blocks, &blocks); err != nil {
		return fmt.Errorf("reading the form: %w", err)
	}
	values := map[string]string{}
	for _, b := range blocks.BlockSet {
		in, ok := b.(*slack.InputBlock)
		if !ok {
			continue
		}
		options := optionsOf(in.Element)
		for i, o := range options {
			fmt.Fprintf(d.out, "    %d %s\n", i+1, o.Text.Text)
		}
		typed, ok := d.ask(in.Label.Text + ": ")
		if !ok {
			return io.ErrUnexpectedEOF
		}
		if n, err := strconv.Atoi(typed); err == nil && n >= 1 && n <= len(options) {
			typed = options[n-1].Value
		}
		if typed != "" {
			values[in.BlockID] = typed
		}
	}
	if _, err := d.fake.Submit(demoUser, v.ID, values); err != nil {
		fmt.Fprintf(d.out, "  %v\n", err) // what Slack itself does not let pass
		return d.fill(ctx, v)
	}
	wait, cancel := context.WithTimeout(ctx, demoWait)
	defer cancel()
	_ = d.fake.WaitFor(wait, func() bool { // what is shown next says what became of it
		open := d.fake.Views(demoUser)
		return len(open) == 0 || len(open[0].Errors) > 0
	})
	if open := d.fake.Views(demoUser); len(open) > 0 {
		for field, wrong := range open[0].Errors {
			fmt.Fprintf(d.out, "  %s: %s\n", field, wrong)
		}
		return d.fill(ctx, open[0])
	}
	return d.show(ctx)
}

func optionsOf(e slack.BlockElement) []*slack.OptionBlockObject {
	switch e := e.(type) {
	case *slack.SelectBlockElement:
		return e.Options
	case *slack.MultiSelectBlockElement:
		return e.Options
	case *slack.RadioButtonsBlockElement:
		return e.Options
	}
	return nil
}

// home shows the bot's home page as text.
func (d *slackDemo) home(ctx context.Context) error {
	if _, err := d.fake.OpenHome(demoUser); err != nil {
		return err
	}
	before, _ := d.fake.Home(demoUser)
	wait, cancel := context.WithTimeout(ctx, demoWait)
	defer cancel()
	_ = d.fake.WaitFor(wait, func() bool { v, ok := d.fake.Home(demoUser); return ok && v.Hash != before.Hash })
	v, ok := d.fake.Home(demoUser)
	if !ok {
		return errors.New("no home page was shown")
	}
	var tree any
	if err := json.Unmarshal(v.Blocks, &tree); err != nil {
		return fmt.Errorf("reading the home page: %w", err)
	}
	printWords(d.out, tree)
	return nil
}

// printWords prints all texts of blocks, a line each.
func printWords(w io.Writer, v any) {
	switch v := v.(type) {
	case []any:
		for _, e := range v {
			printWords(w, e)
		}
	case map[string]any:
		if s, ok := v["text"].(string); ok && strings.TrimSpace(s) != "" {
			fmt.Fprintf(w, "  %s\n", strings.TrimSpace(s))
		}
		keys := make([]string, 0, len(v))
		for k := range v {
			keys = append(keys, k)
		}
		slices.Sort(keys)
		for _, k := range keys {
			printWords(w, v[k])
		}
	}
}
