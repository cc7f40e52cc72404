package slackfake

import (
	"encoding/json"
	"errors"
	"io"
	"mime"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"
)

// refusal is an answer of ok: false.
type refusal struct {
	code   string
	more   map[string]any
	wait   time.Duration // a rate: the status is 429 then
	status int           // 200 if 0
}

func (r *refusal) Error() string { return r.code }

func refuse(code string) error { return &refusal{code: code} }

// refuseWith adds Slack's messages on what is wrong.
func refuseWith(code string, messages []string) error {
	if len(messages) == 0 {
		return refuse(code)
	}
	return &refusal{code: code, more: map[string]any{"response_metadata": map[string]any{"messages": messages}}}
}

// method is a method of the Web API.
type method struct {
	app   bool   // takes the app-level token
	scope string // that it needs whatever it is asked for
	do    func(*Server, args) (map[string]any, error)
}

// methods are those that there are; others are unknown_method.
func methods() map[string]method {
	return map[string]method{
		"auth.test":                    {do: (*Server).authTest},
		"apps.connections.open":        {app: true, do: (*Server).connectionsOpen},
		"chat.postMessage":             {scope: "chat:write", do: (*Server).postMessage},
		"chat.postEphemeral":           {scope: "chat:write", do: (*Server).postEphemeral},
		"chat.update":                  {scope: "chat:write", do: (*Server).update},
		"chat.delete":                  {scope: "chat:write", do: (*Server).deleteMessage},
		"conversations.history":        {do: (*Server).history},
		"conversations.replies":        {do: (*Server).replies},
		"conversations.info":           {do: (*Server).info},
		"conversations.list":           {do: (*Server).list},
		"users.conversations":          {do: (*Server).memberships},
		"users.info":                   {scope: "users:read", do: (*Server).usersInfo},
		"usergroups.users.list":        {scope: "usergroups:read", do: (*Server).groupUsers},
		"views.open":                   {do: (*Server).viewsOpen},
		"views.update":                 {do: (*Server).viewsUpdate},
		"views.publish":                {do: (*Server).viewsPublish},
		"files.info":                   {scope: "files:read", do: (*Server).filesInfo},
		"files.getUploadURLExternal":   {scope: "files:write", do: (*Server).uploadURL},
		"files.completeUploadExternal": {scope: "files:write", do: (*Server).completeUpload},
	}
}

func (s *Server) routes() http.Handler {
	all := methods()
	mux := http.NewServeMux()
	mux.HandleFunc("/api/{method}", func(w http.ResponseWriter, r *http.Request) {
		name := r.PathValue("method")
		s.faulty(name, w, r, func(w http.ResponseWriter) { s.call(name, all, w, r) })
	})
	mux.HandleFunc("/link/", s.socket)
	mux.HandleFunc("POST /response/{id}", func(w http.ResponseWriter, r *http.Request) {
		s.faulty("response_url", w, r, func(w http.ResponseWriter) { s.respond(w, r) })
	})
	mux.HandleFunc("POST /upload/{id}", func(w http.ResponseWriter, r *http.Request) {
		s.faulty("upload", w, r, func(w http.ResponseWriter) { s.upload(w, r) })
	})
	mux.HandleFunc("GET /files-pri/{id}/{name}", s.download)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !s.enter() {
			http.Error(w, "closed", http.StatusServiceUnavailable)
			return
		}
		defer s.wg.Done()
		mux.ServeHTTP(w, r)
	})
}

// faulty does something, with what goes wrong with it.
func (s *Server) faulty(name string, w http.ResponseWriter, r *http.Request, do func(http.ResponseWriter)) {
	f := s.fault.take(name)
	if name == "apps.connections.open" {
		s.connecting()
	}
	defer s.notice.changed()
	if f == nil {
		do(w)
		return
	}
	if f.Delay > 0 {
		select {
		case <-time.After(f.Delay):
		case <-s.ctx.Done():
			return
		}
	}
	switch {
	case f.Lost:
		do(discard{http.Header{}})
		s.notice.changed()
		if c, _, err := http.NewResponseController(w).Hijack(); err == nil {
			_ = c.Close()
		}
	case f.Status != 0:
		if f.Status == http.StatusTooManyRequests && !f.NoRetryAfter {
			w.Header().Set("Retry-After", retryAfter(f.RetryAfter))
		}
		w.WriteHeader(f.Status)
		_, _ = io.WriteString(w, `{"ok":false,"error":"`+failure(f)+`"}`)
	case f.Error != "":
		s.answer(w, nil, refuse(f.Error))
	default:
		do(w)
	}
}

func failure(f *Fault) string {
	switch {
	case f.Error != "":
		return f.Error
	case f.Status == http.StatusTooManyRequests:
		return "ratelimited"
	}
	return "internal_error"
}

// discard takes an answer that nobody gets.
type discard struct{ header http.Header }

func (d discard) Header() http.Header         { return d.header }
func (d discard) Write(p []byte) (int, error) { return len(p), nil }
func (d discard) WriteHeader(int)             {}

// call does one call of the Web API.
func (s *Server) call(name string, all map[string]method, w http.ResponseWriter, r *http.Request) {
	m, known := all[name]
	a, token, err := readArgs(r)
	if err == nil && !known {
		err = refuse("unknown_method")
	}
	if err == nil {
		err = s.allowed(m, token)
	}
	if known && !m.app {
		w.Header().Set("X-OAuth-Scopes", strings.Join(s.o.Scopes, ","))
		w.Header().Set("X-Accepted-OAuth-Scopes", m.scope)
	}
	if err != nil {
		s.answer(w, nil, err)
		return
	}
	out, err := m.do(s, a)
	s.answer(w, out, err)
}

func (s *Server) answer(w http.ResponseWriter, out map[string]any, err error) {
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.Header().Set("X-Slack-Req-Id", s.newID("req"))
	status := http.StatusOK
	if err != nil {
		var r *refusal
		if !errors.As(err, &r) {
			r = &refusal{code: "internal_error"}
		}
		out = map[string]any{"error": r.code}
		for key, value := range r.more {
			out[key] = value
		}
		status = max(status, r.status)
		if r.wait > 0 {
			w.Header().Set("Retry-After", retryAfter(r.wait))
			status = http.StatusTooManyRequests
		}
	}
	out["ok"] = err == nil
	raw, err := json.Marshal(out)
	if err != nil {
		s.violate("the stand-in can't write an answer: %v", err)
	}
	w.WriteHeader(status)
	_, _ = w.Write(raw)
}

// allowed judges the token of a call.
func (s *Server) allowed(m method, token string) error {
	s.work.mu.Lock()
	revoked := s.work.revoked
	s.work.mu.Unlock()
	isApp, isBot := token == s.o.AppToken, token == s.o.BotToken
	switch {
	case token == "":
		return refuse("not_authed")
	case !isApp && !isBot:
		return refuse("invalid_auth")
	case m.app != isApp:
		return refuse("not_allowed_token_type")
	case revoked:
		return refuse("token_revoked")
	case !m.app:
		return s.needs(m.scope)
	}
	return nil
}

// needs refuses what the bot's token has no scope for.
func (s *Server) needs(scope string) error {
	if s.granted(scope) {
		return nil
	}
	return &refusal{code: "missing_scope", more: map[string]any{"needed": scope, "provided": strings.Join(s.o.Scopes, ",")}}
}

// args are the arguments of a call, from a form or from JSON.
type args struct {
	form url.Values
	body map[string]json.RawMessage
}

const longestBody = 1 << 20

// readArgs reads the arguments and the token: from the header, or from a form.
// A token in a JSON body counts for nothing.
func readArgs(r *http.Request) (args, string, error) {
	header, _ := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer ")
	raw, err := io.ReadAll(http.MaxBytesReader(nil, r.Body, longestBody))
	if err != nil {
		return args{}, header, refuse("invalid_post_type")
	}
	kind, more, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if err != nil && len(raw) > 0 {
		return args{}, header, refuse("missing_post_type")
	}
	a := args{form: r.URL.Query()}
	a.form.Del("token") // one in an address is not taken
	switch {
	case len(raw) == 0:
	case kind == "application/json":
		if err := json.Unmarshal(raw, &a.body); err != nil && json.Valid(raw) {
			return a, header, refuse("json_not_object")
		} else if err != nil {
			return a, header, refuse("invalid_json")
		}
		return a, header, nil
	case kind == "application/x-www-form-urlencoded":
		values, err := url.ParseQuery(string(raw))
		if err != nil {
			return a, header, refuse("invalid_form_data")
		}
		for key, value := range values {
			a.form[key] = value
		}
	case kind == "multipart/form-data":
		if a.form, err = multipartForm(raw, more["boundary"]); err != nil {
			return a, header, refuse("invalid_form_data")
		}
	default:
		return a, header, refuse("invalid_post_type")
	}
	if header == "" {
		header = a.form.Get("token")
	}
	return a, header, nil
}

// raw gives an argument as JSON: in forms, and often in JSON too, it stands in a
// string.
func (a args) raw(key string) (json.RawMessage, bool) {
	if a.body == nil {
		return json.RawMessage(a.form.Get(key)), a.form.Has(key) && a.form.Get(key) != ""
	}
	raw, ok := a.body[key]
	if !ok || string(raw) == "null" {
		return nil, false
	}
	var text string
	if json.Unmarshal(raw, &text) == nil {
		return json.RawMessage(text), text != ""
	}
	return raw, true
}

func (a args) str(key string) string {
	raw, _ := a.raw(key)
	return string(raw)
}

func (a args) flag(key string) bool {
	return slices.Contains([]string{"1", "true"}, a.str(key))
}

// number gives a whole number, or what it is if it is not given.
func (a args) number(key string, otherwise int) int {
	if n, err := strconv.Atoi(a.str(key)); err == nil {
		return n
	}
	return otherwise
}
