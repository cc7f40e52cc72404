package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"ferrule/bot"
	"ferrule/bot/slackchat"
	"ferrule/bot/slackchat/manifest"
	"ferrule/bot/slackchat/service"
	"ferrule/store"
)

// slackOptions are the flags of ferrule slack.
type slackOptions struct {
	*common
	manifest, check bool

	listen, url                   string
	team, name, command           string
	channels, technicians, leads  []string
	review                        string
	connections                   int
	appFile, botFile, signingFile string
	api                           string // another address than Slack's, for tests
	getenv                        func(string) string
}

func slackCommand(c *common) *cobra.Command {
	o := &slackOptions{common: c, getenv: os.Getenv}
	cmd := &cobra.Command{
		Use:   "slack",
		Short: "Run the bot in your Slack",
		Long: `Slack runs the bot in a workspace of Slack, by Socket Mode: it needs no public
address. With --listen it takes Slack's requests over HTTP instead, behind a
proxy of yours that speaks TLS.

The tokens come from the environment (SLACK_APP_TOKEN, SLACK_BOT_TOKEN, and for
--listen SLACK_SIGNING_SECRET) or from files. --manifest prints what to paste
where an app is made; --check says whether the tokens are right.

It runs until it is stopped; what is under way is finished first. While it runs,
the other commands reach the case book through it.`,
		Example: `  ferrule slack --manifest
  SLACK_APP_TOKEN=xapp-... SLACK_BOT_TOKEN=xoxb-... ferrule slack --check
  ferrule slack --app-token-file app.token --bot-token-file bot.token --leads U012ABC`,
		Args: usage(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error { return o.run(cmd.Context()) },
	}
	f := cmd.Flags()
	f.BoolVar(&o.manifest, "manifest", false, "print the app manifest (YAML; JSON with --json) and leave")
	f.BoolVar(&o.check, "check", false, "hold the tokens against the manifest, say what is missing, and leave")
	f.StringVar(&o.listen, "listen", "", "take requests over HTTP on this `address`, such as 127.0.0.1:3000, instead of Socket Mode")
	f.StringVar(&o.url, "url", "", "public `address` of the HTTP mode, for --manifest and --check")
	f.StringVar(&o.team, "team", "", "the one workspace that is served, by its `ID` (default: that of the bot token)")
	f.StringVar(&o.name, "name", "Ferrule", "`name` of the app, for --manifest")
	f.StringVar(&o.command, "command", "/ferrule", "the slash `command`")
	f.StringSliceVar(&o.channels, "channel", nil, "`IDs` of the channels to work in (default: wherever it is invited)")
	f.StringSliceVar(&o.technicians, "technicians", nil, "`IDs` of users or user groups who may work with it (default: everybody)")
	f.StringSliceVar(&o.leads, "leads", nil, "`IDs` of users or user groups who see the gaps as well")
	f.StringVar(&o.review, "review-channel", "", "`ID` of the leads' channel, which gets the review of each week on Monday")
	f.IntVar(&o.connections, "connections", 2, "Socket Mode connections, 1 or 2")
	f.StringVar(&o.appFile, "app-token-file", "", "`file` with the app-level token (xapp-...)")
	f.StringVar(&o.botFile, "bot-token-file", "", "`file` with the bot token (xoxb-...)")
	f.StringVar(&o.signingFile, "signing-secret-file", "", "`file` with the signing secret")
	f.StringVar(&o.api, "api", "", "`address` of the Web API")
	if err := f.MarkHidden("api"); err != nil {
		panic(err) // unreachable: the flag is defined above
	}
	return cmd
}

func (o *slackOptions) run(ctx context.Context) error {
	switch {
	case o.manifest && o.check:
		return usageError{errors.New("--manifest and --check are two things; ask for one")}
	case o.connections < 1 || o.connections > 2:
		return usageError{fmt.Errorf("%d connections; it can be 1 or 2", o.connections)}
	}
	if err := o.checkIDs(); err != nil {
		return err
	}
	if o.manifest {
		return o.printManifest()
	}
	tokens, err := o.tokens()
	if err != nil {
		return err
	}
	if o.check {
		return o.runCheck(ctx, tokens)
	}
	return o.serve(ctx, tokens)
}

// ids are what Slack's IDs look like: a letter for the kind, then capitals and digits.
var ids = map[string]*regexp.Regexp{
	"channel":   regexp.MustCompile(`^[CG][A-Z0-9]{2,}$`),
	"person":    regexp.MustCompile(`^[UWS][A-Z0-9]{2,}$`),
	"workspace": regexp.MustCompile(`^T[A-Z0-9]{2,}$`),
}

// checkIDs refuses names where an ID is needed: a name would silently serve
// nobody.
func (o *slackOptions) checkIDs() error {
	for _, c := range []struct {
		flag, kind, looks string
		values            []string
	}{
		{"--channel", "channel", "C012ABC: in Slack, the channel's name, About, at the bottom", o.channels},
		{"--review-channel", "channel", "C012ABC: in Slack, the channel's name, About, at the bottom", []string{o.review}},
		{"--technicians", "person", "U012ABC (a profile, the three dots, Copy member ID) or S012ABC for a user group", o.technicians},
		{"--leads", "person", "U012ABC (a profile, the three dots, Copy member ID) or S012ABC for a user group", o.leads},
		{"--team", "workspace", "T012ABC: in Slack's address in a browser, behind /client/", []string{o.team}},
	} {
		for _, v := range c.values {
			if v != "" && !ids[c.kind].MatchString(v) {
				return usageError{fmt.Errorf("%s %s: that is no ID; one looks like %s", c.flag, v, c.looks)}
			}
		}
	}
	if o.listen != "" && !strings.Contains(o.listen, ":") {
		return usageError{fmt.Errorf("--listen %s: an address has a port behind a colon, such as 127.0.0.1:%s", o.listen, cmp.Or(strings.TrimLeft(o.listen, "."), "3000"))}
	}
	return nil
}

func (o *slackOptions) people() slackchat.People {
	return slackchat.People{Technicians: o.technicians, Leads: o.leads}
}

// app is the manifest of the app as it is to be run.
func (o *slackOptions) app() (manifest.Manifest, error) {
	if o.listen != "" && o.url == "" && (o.manifest || o.check) {
		return manifest.Manifest{}, usageError{errors.New("in the HTTP mode this needs the public address as well, given by --url")}
	}
	return manifest.App(manifest.Options{Name: o.name, Command: o.command, URL: o.url, Groups: o.people().Groups()}), nil
}

func (o *slackOptions) printManifest() error {
	m, err := o.app()
	if err != nil {
		return err
	}
	write := m.YAML
	if o.json {
		write = m.JSON
	}
	text, err := write()
	if err != nil {
		return usageError{err}
	}
	_, err = fmt.Fprintln(o.out, strings.TrimSpace(string(text)))
	return err
}

func (o *slackOptions) runCheck(ctx context.Context, t service.Tokens) error {
	m, err := o.app()
	if err != nil {
		return err
	}
	report, err := manifest.Check(ctx, service.Client(t, o.api), m, o.team)
	if err != nil {
		return err
	}
	fmt.Fprint(o.out, report.Text())
	if !report.OK() {
		return refusal{errors.New("the bot can't run like this")}
	}
	return nil
}

// tokens reads the secrets that the mode needs.
func (o *slackOptions) tokens() (service.Tokens, error) {
	var t service.Tokens
	http := o.listen != "" || o.check && o.url != ""
	for _, s := range []struct {
		to                       *string
		file, variable, flag, as string
		needed                   bool
	}{
		{&t.Bot, o.botFile, "SLACK_BOT_TOKEN", "--bot-token-file", "xoxb-", true},
		{&t.App, o.appFile, "SLACK_APP_TOKEN", "--app-token-file", "xapp-", !http},
		{&t.Signing, o.signingFile, "SLACK_SIGNING_SECRET", "--signing-secret-file", "", http && !o.check},
	} {
		*s.to = strings.TrimSpace(o.getenv(s.variable))
		if s.file != "" {
			secret, err := o.secretFile(s.file)
			if err != nil {
				return t, fmt.Errorf("%s: %w", s.flag, err)
			}
			if secret == "" {
				return t, usageError{fmt.Errorf("%s %s: the file is empty", s.flag, s.file)}
			}
			*s.to = secret
		}
		*s.to = strings.Trim(*s.to, `"'`) // pasted with its quotes
		switch {
		case *s.to == "" && s.needed:
			return t, usageError{fmt.Errorf("%s is not set; set it, or name a file with %s. Where to find it stands in the README under 'Putting it into your Slack'", s.variable, s.flag)}
		case *s.to != "" && !strings.HasPrefix(*s.to, s.as):
			return t, usageError{fmt.Errorf("%s does not begin with %s: it is another token. The bot token begins with xoxb-, the app-level one with xapp-", cmp.Or(s.file, s.variable), s.as)}
		case strings.ContainsAny(*s.to, " \t\n") || strings.HasSuffix(*s.to, "..."):
			return t, usageError{fmt.Errorf("%s is no token: it has more than one word or line, or was shortened", cmp.Or(s.file, s.variable))}
		}
	}
	return t, nil
}

// secretFile reads a secret, and says so where others can read it as well.
func (o *slackOptions) secretFile(name string) (string, error) {
	name = filepath.Clean(name)
	info, err := os.Stat(name)
	if err != nil {
		return "", err
	}
	const most = 4 << 10
	if info.IsDir() {
		return "", fmt.Errorf("%s is a folder; name the file with the secret in it", name)
	}
	if info.Size() > most {
		return "", fmt.Errorf("%s has %d bytes; a secret has a line", name, info.Size())
	}
	if info.Mode().Perm()&0o077 != 0 && info.Mode()&fs.ModeNamedPipe == 0 {
		fmt.Fprintf(o.err, "Others can read %s: chmod 600 %s\n", name, name)
	}
	text, err := os.ReadFile(name)
	return strings.TrimSpace(string(text)), err
}

func (o *slackOptions) serve(ctx context.Context, t service.Tokens) error {
	return o.withBot(ctx, func(b *bot.Bot, st store.Store, pack *livePack) error {
		options := service.Options{
			Bot: b, Store: st, Tokens: t, API: o.api, Team: o.team, Channels: o.channels, People: o.people(), Command: o.command,
			Review: service.Review{Channel: o.review, Pack: b.Pack}, Connections: o.connections,
			Before: seldom(time.Second, pack.look), Up: o.tellUp,
			Log: slog.New(slog.NewTextHandler(o.err, &slog.HandlerOptions{Level: slog.LevelInfo})),
		}
		if o.listen != "" {
			var listening net.ListenConfig
			var err error
			if options.Listen, err = listening.Listen(ctx, "tcp", o.listen); err != nil {
				return fmt.Errorf("listening for Slack's requests (another address can be given by --listen): %w", err)
			}
		}
		return service.Run(ctx, options)
	})
}

func (o *slackOptions) tellUp(up service.Up) {
	fmt.Fprintf(o.err, "%s is at work in the workspace %s (%s). Invite it to a channel with /invite @%s; stop it with Ctrl-C.\n", up.UserName, up.TeamName, up.Team, up.UserName)
}

// seldom does something at most once in a time, and never twice at once.
func seldom(every time.Duration, do func()) func() {
	var mu sync.Mutex
	var last time.Time
	return func() {
		if !mu.TryLock() {
			return
		}
		defer mu.Unlock()
		if now := time.Now(); now.Sub(last) >= every {
			do()
			last = time.Now()
		}
	}
}
