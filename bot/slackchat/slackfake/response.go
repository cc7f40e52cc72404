package slackfake

import (
	"encoding/json"
	"io"
	"net/http"
	"time"
)

const (
	responseUses  = 5
	responseLives = 30 * time.Minute
)

// responseURL is an address to which a bot may post five times in half an hour.
type responseURL struct {
	channel, user string
	ts            string // of the message with the button, if there is one
	made          time.Time
	uses          int
}

// newResponseURL is called with the workspace locked.
func (s *Server) newResponseURL(channel, user, ts string) string {
	id := s.uuid()
	s.work.urls[id] = &responseURL{channel: channel, user: user, ts: ts, made: s.o.Now()}
	return s.base + "/response/" + id
}

// respond takes a post to a response URL.
func (s *Server) respond(w http.ResponseWriter, r *http.Request) {
	u, code := s.useURL(r.PathValue("id"))
	if code != "" {
		w.WriteHeader(http.StatusNotFound)
		_, _ = io.WriteString(w, code)
		return
	}
	var in struct {
		post
		ResponseType string `json:"response_type"`
		Replace      bool   `json:"replace_original"`
		Delete       bool   `json:"delete_original"`
	}
	raw, err := io.ReadAll(http.MaxBytesReader(w, r.Body, longestBody))
	if err != nil || json.Unmarshal(raw, &in) != nil {
		http.Error(w, "invalid_payload", http.StatusBadRequest)
		return
	}
	in.Metadata = nil // slack-go sends an empty one, and Slack takes none here
	switch {
	case in.Delete:
		err = s.Delete(u.channel, u.ts)
	case in.Replace && u.ts != "":
		err = s.replace(u, in.post)
	default:
		err = s.show(u.channel, u.user, in.post, in.ResponseType == "in_channel")
	}
	if err != nil {
		s.violate("a post to a response URL is refused: %v", err)
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	_, _ = io.WriteString(w, "ok")
}

// useURL counts a use; code is why the address does not serve.
func (s *Server) useURL(id string) (u *responseURL, code string) {
	s.work.mu.Lock()
	defer s.work.mu.Unlock()
	u = s.work.urls[id]
	switch {
	case u == nil:
		return nil, "not_found"
	case s.o.Now().Sub(u.made) > responseLives:
		return nil, "expired_url"
	case u.uses >= responseUses:
		return nil, "used_url"
	}
	u.uses++
	return u, ""
}

// replace puts other contents into the message that the button was in.
func (s *Server) replace(u *responseURL, p post) error {
	p, err := s.judged(p)
	if err != nil {
		return err
	}
	s.work.mu.Lock()
	if at, ok := s.work.byEph[u.channel+" "+u.ts]; ok {
		s.work.ephemerals[at].Text, s.work.ephemerals[at].Blocks = p.Text, p.Blocks
		s.work.mu.Unlock()
		s.notice.changed()
		return nil
	}
	s.work.mu.Unlock()
	return s.change(u.channel, u.ts, func(m *message, _ string) {
		m.text, m.blocks, m.edits = p.Text, p.Blocks, m.edits+1
	})
}
