// Package webhook is the HTTP mode of the Slack transport: Slack's Events API,
// slash commands and interactivity, all by requests to one address. A request
// is read whole, then its signature is verified, and only then is it looked at.
//
// Who has one genuine request can send it again for five minutes, and the
// headers that tell of a repetition are not signed: telling deliveries apart by
// what they carry is the receiver's work.
package webhook

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"io"
	"log/slog"
	"net/http"
	"strconv"
	"time"

	"ferrule/bot/slackchat"
)

const (
	// maxBody is far above what Slack sends: a message has at most 40,000
	// characters, a view 100 blocks.
	maxBody = 1 << 20
	// defaultDeadline leaves half a second for the network: Slack gives up
	// three seconds after it sent the request.
	defaultDeadline = 2500 * time.Millisecond
	// longestReason bounds a header that is not signed and may be logged.
	longestReason = 64
)

// Options are what a handler needs.
type Options struct {
	Secret   string             // the app's signing secret; without it all is refused
	Receive  slackchat.Receiver // gets what is signed
	Now      func() time.Time   // for the age of signatures; time.Now when nil
	Log      *slog.Logger       // nothing is logged when nil
	Deadline time.Duration      // for done; a little under Slack's three seconds when 0
}

type handler struct {
	Options
}

// Handler answers Slack's requests: 200 when a delivery was taken or needs
// nothing, 503 when it was not taken in time. Slack sends an event that got 503
// again; of a command or a button the person is told that it failed.
func Handler(o Options) http.Handler {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	o.Deadline = cmp.Or(o.Deadline, defaultDeadline)
	return &handler{o}
}

func (h *handler) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	// Slack's clock runs while the body is on its way, so ours does too.
	late := time.NewTimer(h.Deadline)
	defer late.Stop()
	if r.Method != http.MethodPost {
		w.Header().Set("Allow", http.MethodPost)
		w.WriteHeader(http.StatusMethodNotAllowed)
		return
	}
	body, status := read(w, r)
	if status != 0 {
		h.Log.Warn("a request from Slack could not be read", "status", status)
		w.WriteHeader(status)
		return
	}
	if err := verify(h.Secret, r.Header, body, h.Now()); err != nil {
		h.Log.Warn("a request was refused: it is not signed by Slack", "error", err)
		w.WriteHeader(http.StatusUnauthorized)
		return
	}
	m, err := parse(r.Header.Get("Content-Type"), body)
	switch {
	case err != nil:
		h.Log.Warn("a request signed by Slack can't be understood", "error", err)
		w.WriteHeader(http.StatusBadRequest)
	case m.challenge != "":
		answer, _ := json.Marshal(map[string]string{"challenge": m.challenge}) // a string is always JSON
		write(w, answer)
	case m.kind == "":
		h.Log.Info("a request from Slack asks for nothing", "type", m.ignored)
	default:
		h.deliver(w, r, late.C, slackchat.Delivery{
			Kind: m.kind, Payload: m.payload, Attempt: attempt(r.Header), Reason: reason(r.Header),
		})
	}
}

// read gives the whole body, or the status with which the request is refused.
func read(w http.ResponseWriter, r *http.Request) (body []byte, status int) {
	if r.ContentLength > maxBody {
		return nil, http.StatusRequestEntityTooLarge
	}
	body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, maxBody))
	if large := (*http.MaxBytesError)(nil); errors.As(err, &large) {
		return nil, http.StatusRequestEntityTooLarge
	}
	if err != nil {
		return nil, http.StatusBadRequest
	}
	return body, 0
}

// deliver hands a delivery over and waits for what becomes of it.
func (h *handler) deliver(w http.ResponseWriter, r *http.Request, late <-chan time.Time, d slackchat.Delivery) {
	type outcome struct {
		answer []byte
		err    error
	}
	// There is room for the one outcome, so that a done which comes too late
	// neither waits nor fails; a second one is dropped.
	outcomes := make(chan outcome, 1)
	done := func(answer []byte, err error) {
		select {
		case outcomes <- outcome{answer, err}:
		default:
		}
	}
	// A connection that Slack gives up must not stop a store half-way.
	h.Receive(context.WithoutCancel(r.Context()), d, done)
	log := h.Log.With("kind", d.Kind, "attempt", d.Attempt)
	select {
	case o := <-outcomes:
		if o.err != nil {
			log.Error("a delivery was not taken", "error", o.err)
			w.WriteHeader(http.StatusServiceUnavailable)
			return
		}
		write(w, o.answer)
	case <-late:
		log.Error("a delivery was not taken in time", "deadline", h.Deadline)
		w.WriteHeader(http.StatusServiceUnavailable)
	case <-r.Context().Done():
		log.Warn("Slack gave up waiting for an answer")
	}
}

// write answers 200, with JSON or with nothing.
func write(w http.ResponseWriter, answer []byte) {
	if len(answer) > 0 {
		w.Header().Set("Content-Type", "application/json")
	}
	w.WriteHeader(http.StatusOK)
	_, _ = w.Write(answer) // nobody is there to be told that the connection broke
}

// attempt is how often the delivery was tried before; what can't be read is 0,
// since a delivery is never refused for it.
func attempt(h http.Header) int {
	n, err := strconv.Atoi(h.Get("X-Slack-Retry-Num"))
	if err != nil || n < 0 {
		return 0
	}
	return n
}

func reason(h http.Header) string {
	s := h.Get("X-Slack-Retry-Reason")
	return s[:min(len(s), longestReason)]
}
