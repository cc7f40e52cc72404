package slackfake

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"net"
	"net/http"
	"slices"
	"strconv"
	"sync"
	"sync/atomic"
	"time"
)

// Server is a workspace with one bot. Its methods may be called at any time and
// from any goroutine.
type Server struct {
	o      Options
	base   string // http://127.0.0.1:PORT
	server *http.Server
	client *http.Client // for DeliverTo

	work  workspace
	queue queue
	fault faults

	timers  timers
	notice  notice
	series  string // sets the IDs of this server apart from those of others
	counter atomic.Uint64
	stamps  clock

	ctx    context.Context
	cancel context.CancelFunc
	mu     sync.Mutex
	closed bool
	wg     sync.WaitGroup // requests, sockets and deliveries under way

	rule       sync.Mutex
	violations []string
	connects   []time.Time
}

// New starts a server. It has the bot as its only user and no channels.
func New(o Options) (*Server, error) {
	o = o.withDefaults()
	ln, err := net.Listen("tcp", o.Listen)
	if err != nil {
		return nil, fmt.Errorf("listening for Slack's clients: %w", err)
	}
	s := &Server{o: o, base: "http://" + ln.Addr().String(), series: rand.Text()[:6]}
	s.ctx, s.cancel = context.WithCancel(context.Background())
	s.timers.set = map[*time.Timer]struct{}{}
	s.work.init()
	s.queue.init()
	s.fault.init()
	s.client = &http.Client{Transport: &http.Transport{MaxIdleConnsPerHost: mostRequests}}
	s.AddUser(o.BotUser, o.BotName)
	s.server = &http.Server{Handler: s.routes(), ReadHeaderTimeout: 10 * time.Second}
	s.wg.Add(1)
	go func() {
		defer s.wg.Done()
		if err := s.server.Serve(ln); !errors.Is(err, http.ErrServerClosed) {
			s.o.Log.Error("serving", "error", err)
		}
	}()
	return s, nil
}

// Close cuts all connections and waits until nothing of the server runs.
func (s *Server) Close() {
	s.mu.Lock()
	if s.closed {
		s.mu.Unlock()
		return
	}
	s.closed = true
	s.mu.Unlock()
	s.cancel()
	_ = s.server.Close()
	s.Cut()
	s.timers.close()
	s.wg.Wait()
	s.client.CloseIdleConnections()
	s.notice.changed()
}

// enter counts something that Close has to wait for; it is false after Close.
func (s *Server) enter() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return false
	}
	s.wg.Add(1)
	return true
}

// URL is the base of the Web API, with a slash at its end: for
// slack.OptionAPIURL and for slackApiUrl of Slack's own clients.
func (s *Server) URL() string { return s.base + "/api/" }

// AppToken is the app-level token.
func (s *Server) AppToken() string { return s.o.AppToken }

// BotToken is the token of the bot.
func (s *Server) BotToken() string { return s.o.BotToken }

// SigningSecret signs what DeliverTo sends.
func (s *Server) SigningSecret() string { return s.o.SigningSecret }

// Team is the workspace.
func (s *Server) Team() Team { return s.o.Team }

// BotUser is the bot's user ID.
func (s *Server) BotUser() string { return s.o.BotUser }

// BotID is the bot's ID as it stands in messages that it posted.
func (s *Server) BotID() string { return s.o.BotID }

// Mention is what stands in a text that mentions the bot.
func (s *Server) Mention() string { return "<@" + s.o.BotUser + ">" }

// WaitFor returns when done is true, or with the error of the context. It looks
// again after each change on the server, never by time. The last change that it
// saw may be followed by others.
func (s *Server) WaitFor(ctx context.Context, done func() bool) error {
	for {
		next := s.notice.next()
		if done() {
			return nil
		}
		select {
		case <-next:
		case <-ctx.Done():
			return fmt.Errorf("waiting for the stand-in: %w", ctx.Err())
		}
	}
}

// Violations are what clients did against Slack's rules, in order.
func (s *Server) Violations() []string {
	s.rule.Lock()
	defer s.rule.Unlock()
	return slices.Clone(s.violations)
}

func (s *Server) violate(format string, a ...any) {
	what := fmt.Sprintf(format, a...)
	s.rule.Lock()
	s.violations = append(s.violations, what)
	s.rule.Unlock()
	s.o.Log.Warn("against Slack's rules", "what", what)
	s.notice.changed()
}

// Connects are the times of all attempts to connect: of each call of
// apps.connections.open and of each socket that was dialled, whether or not it
// was let in.
func (s *Server) Connects() []time.Time {
	s.rule.Lock()
	defer s.rule.Unlock()
	return slices.Clone(s.connects)
}

func (s *Server) connecting() {
	s.rule.Lock()
	s.connects = append(s.connects, time.Now())
	s.rule.Unlock()
	s.notice.changed()
}

// newID gives an ID that no other server gives either: a bot that remembers the
// events of an earlier server must not take ours for the same ones.
func (s *Server) newID(prefix string) string {
	n := strconv.FormatUint(s.counter.Add(1), 36)
	return prefix + s.series + fmt.Sprintf("%05s", upper(n))
}

func upper(s string) string {
	b := []byte(s)
	for i, c := range b {
		if 'a' <= c && c <= 'z' {
			b[i] = c - 'a' + 'A'
		}
	}
	return string(b)
}

// uuid has the form of Slack's envelope IDs and tickets.
func (s *Server) uuid() string {
	var b [16]byte
	_, _ = rand.Read(b[:]) // never fails
	return fmt.Sprintf("%x-%x-%x-%x-%x", b[:4], b[4:6], b[6:8], b[8:10], b[10:])
}

// clock gives timestamps of Slack's kind, each later than the one before.
type clock struct {
	mu   sync.Mutex
	last int64
}

func (c *clock) stamp(now time.Time) string {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.last = max(now.UnixMicro(), c.last+1)
	return fmt.Sprintf("%d.%06d", c.last/1e6, c.last%1e6)
}
