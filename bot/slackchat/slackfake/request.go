package slackfake

import (
	"bytes"
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"
)

// DeliverTo sends events, commands and interactions by signed requests to an
// address from now on, instead of over sockets. As Slack does when an address is
// entered, it first asks for it with url_verification; the error says why the
// address does not serve. An empty address means sockets again.
func (s *Server) DeliverTo(ctx context.Context, address string) error {
	if address != "" {
		if err := s.verify(ctx, address); err != nil {
			return fmt.Errorf("verifying the request URL: %w", err)
		}
	}
	var waiting []*envelope
	s.set(func(q *queue) {
		q.target = address
		if address != "" {
			waiting, q.pending = q.pending, nil
		}
	})
	for _, e := range waiting {
		s.startRequest(address, e)
	}
	return nil
}

func (s *Server) verify(ctx context.Context, address string) error {
	challenge := s.newID("challenge")
	body, err := json.Marshal(map[string]string{"token": verificationToken, "challenge": challenge, "type": "url_verification"})
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(ctx, s.o.AckDeadline)
	defer cancel()
	status, answer, _, err := s.post(ctx, address, "application/json", body, nil)
	if err != nil {
		return err
	}
	var in struct{ Challenge string }
	if status != http.StatusOK {
		return fmt.Errorf("the answer has the status %d", status)
	}
	_ = json.Unmarshal(answer, &in) // plain text is taken as well
	if in.Challenge != challenge && string(answer) != challenge {
		return errors.New("the answer does not give the challenge back")
	}
	return nil
}

func (s *Server) startRequest(address string, e *envelope) {
	if !s.enter() {
		return
	}
	go func() {
		defer s.wg.Done()
		s.request(address, e)
	}()
}

// request tries one envelope in HTTP mode.
func (s *Server) request(address string, e *envelope) {
	select {
	case s.queue.slots <- struct{}{}:
		defer func() { <-s.queue.slots }()
	case <-s.ctx.Done():
		return
	}
	kind, body, err := httpBody(e.of.kind, e.of.payload)
	if err != nil {
		s.violate("the stand-in can't write %s: %v", e.of.typ, err)
		return
	}
	extra := http.Header{}
	if e.retry > 0 {
		extra.Set("X-Slack-Retry-Num", strconv.Itoa(e.retry))
		extra.Set("X-Slack-Retry-Reason", e.reason)
	}
	ctx, cancel := context.WithTimeout(s.ctx, s.o.AckDeadline)
	defer cancel()
	s.set(func(*queue) { e.written = time.Now() })
	status, answer, header, err := s.post(ctx, address, kind, body, extra)
	switch {
	case s.ctx.Err() != nil:
	case errors.Is(err, context.DeadlineExceeded):
		s.refused(e, "http_timeout", nil)
	case err != nil:
		s.refused(e, "connection_failed", nil)
	case status < 200 || status > 299:
		s.refused(e, "http_error", header)
	default:
		s.answered(e, answer)
	}
}

// refused is a try that failed before the deadline or by it.
func (s *Server) refused(e *envelope, reason string, header http.Header) {
	if header.Get("X-Slack-No-Retry") == "1" || !e.of.again {
		s.giveUp(e.of, reason)
	}
	s.missed(e, reason)
}

func (s *Server) answered(e *envelope, answer []byte) {
	lost := false
	s.set(func(q *queue) {
		e.acked = time.Now()
		if lost = q.dropAcks > 0; lost {
			q.dropAcks--
		}
	})
	switch {
	case lost:
		s.refused(e, "http_timeout", nil)
	case !e.of.accepts:
		s.settle(e, nil) // what is in the body is of no interest to Slack
	default:
		s.settle(e, answer)
	}
}

func (s *Server) post(ctx context.Context, address, kind string, body []byte, extra http.Header) (int, []byte, http.Header, error) {
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, address, bytes.NewReader(body))
	if err != nil {
		return 0, nil, nil, err
	}
	for key, values := range extra {
		r.Header[key] = values
	}
	now := strconv.FormatInt(s.o.Now().Unix(), 10)
	r.Header.Set("Content-Type", kind)
	r.Header.Set("User-Agent", "Slackbot 1.0 (+https://api.slack.com/robots)")
	r.Header.Set("X-Slack-Request-Timestamp", now)
	r.Header.Set("X-Slack-Signature", Sign(s.o.SigningSecret, now, body))
	answer, err := s.client.Do(r)
	if err != nil {
		return 0, nil, nil, err
	}
	defer answer.Body.Close()
	raw, err := io.ReadAll(io.LimitReader(answer.Body, 1<<20))
	return answer.StatusCode, raw, answer.Header, err
}

// Sign gives the X-Slack-Signature of a request body at a Unix time.
func Sign(secret, unix string, body []byte) string {
	mac := hmac.New(sha256.New, []byte(secret))
	mac.Write([]byte("v0:" + unix + ":"))
	mac.Write(body)
	return "v0=" + hex.EncodeToString(mac.Sum(nil))
}

// httpBody writes a payload as Slack does over HTTP: events as JSON, commands as
// a form, interactions as JSON in the field payload of a form.
func httpBody(kind string, payload json.RawMessage) (contentType string, body []byte, err error) {
	const form = "application/x-www-form-urlencoded"
	switch kind {
	case "slash_commands":
		var fields map[string]string
		if err := json.Unmarshal(payload, &fields); err != nil {
			return "", nil, fmt.Errorf("writing a command: %w", err)
		}
		values := url.Values{}
		for key, value := range fields {
			values.Set(key, value)
		}
		return form, []byte(values.Encode()), nil
	case "interactive":
		return form, []byte("payload=" + url.QueryEscape(string(payload))), nil
	}
	return "application/json", payload, nil
}

// rawEnvelope reads what a frame of SendRaw says that it is, or gives nil.
func rawEnvelope(raw []byte) *envelope {
	var in struct {
		EnvelopeID string          `json:"envelope_id"`
		Type       string          `json:"type"`
		Accepts    bool            `json:"accepts_response_payload"`
		Payload    json.RawMessage `json:"payload"`
	}
	if json.Unmarshal(raw, &in) != nil || strings.TrimSpace(in.EnvelopeID) == "" {
		return nil
	}
	d := &delivery{id: in.EnvelopeID, kind: in.Type, typ: "raw", payload: in.Payload, accepts: in.Accepts}
	return &envelope{id: in.EnvelopeID, of: d}
}
