package slackfake

import (
	"bytes"
	"encoding/json"
	"io"
	"mime/multipart"
	"net/http"
	"net/url"
	"path/filepath"
	"strings"
	"time"
)

// File is a file that a person shares.
type File struct {
	Name, MIME string
	Content    []byte
	// CheckInfo hides all but the ID in events, as for files of shared
	// channels: the bot has to ask files.info.
	CheckInfo bool
}

// file is a file that is kept.
type file struct {
	id, user, name, title, mime string
	content                     []byte
	length                      int // as announced, of an upload
	made                        time.Time
	checkInfo, done             bool
	shares                      []share
}

type share struct {
	channel *channel
	ts      string
}

// keep keeps files that a person shares. The workspace is locked.
func (s *Server) keep(c *channel, user, ts string, files []File) []*file {
	var out []*file
	for _, f := range files {
		k := &file{
			id: s.newID("F"), user: user, name: f.Name, title: f.Name, mime: f.MIME, content: bytes.Clone(f.Content),
			made: s.o.Now(), checkInfo: f.CheckInfo, done: true, shares: []share{{c, ts}},
		}
		s.work.files[k.id] = k
		out = append(out, k)
	}
	return out
}

func (s *Server) fileObjects(files []*file) []any {
	var out []any
	for _, f := range files {
		if f.checkInfo {
			out = append(out, map[string]any{"id": f.id, "created": f.made.Unix(), "timestamp": f.made.Unix(), "user": f.user, "file_access": "check_file_info"})
			continue
		}
		out = append(out, s.fileObject(f))
	}
	return out
}

func (s *Server) fileObject(f *file) map[string]any {
	kind := strings.TrimPrefix(filepath.Ext(f.name), ".")
	address := s.base + "/files-pri/" + f.id + "/" + url.PathEscape(f.name)
	link := "https://" + s.o.Team.Domain + ".slack.com/files/" + f.user + "/" + f.id
	o := map[string]any{
		"id": f.id, "created": f.made.Unix(), "timestamp": f.made.Unix(), "name": f.name, "title": f.title, "mimetype": f.mime,
		"filetype": kind, "pretty_type": strings.ToUpper(kind), "user": f.user, "user_team": s.o.Team.ID, "editable": false,
		"size": len(f.content), "mode": "hosted", "is_external": false, "external_type": "", "is_public": true,
		"public_url_shared": false, "display_as_bot": false, "username": "", "url_private": address, "url_private_download": address,
		"media_display_type": "unknown", "permalink": link, "permalink_public": link, "is_starred": false,
		"has_rich_preview": false, "file_access": "visible",
	}
	return o
}

func (s *Server) filesInfo(a args) (map[string]any, error) {
	s.work.mu.Lock()
	defer s.work.mu.Unlock()
	f := s.work.files[a.str("file")]
	if f == nil || !f.done {
		return nil, refuse("file_not_found")
	}
	o := s.fileObject(f)
	public, private, channels := map[string][]any{}, map[string][]any{}, []string{}
	for _, at := range f.shares {
		where := private
		if at.channel.kind == "channel" {
			where = public
		}
		where[at.channel.id] = append(where[at.channel.id], map[string]any{"ts": at.ts, "channel_name": at.channel.name, "team_id": s.o.Team.ID})
		channels = append(channels, at.channel.id)
	}
	o["shares"], o["channels"], o["groups"], o["ims"] = map[string]any{"public": public, "private": private}, channels, []string{}, []string{}
	return map[string]any{"file": o, "content": nil, "comments": []any{}}, nil
}

// download gives a file to whoever shows the bot's token, and a page to sign in
// to everybody else: with the status 200, as Slack does.
func (s *Server) download(w http.ResponseWriter, r *http.Request) {
	s.work.mu.Lock()
	f := s.work.files[r.PathValue("id")]
	s.work.mu.Unlock()
	if f == nil {
		http.NotFound(w, r)
		return
	}
	if r.Header.Get("Authorization") != "Bearer "+s.o.BotToken || !s.granted("files:read") {
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		_, _ = io.WriteString(w, "<!DOCTYPE html><html><title>Sign in</title></html>")
		return
	}
	w.Header().Set("Content-Type", f.mime)
	_, _ = w.Write(f.content)
}

func (s *Server) uploadURL(a args) (map[string]any, error) {
	name, length := a.str("filename"), a.number("length", 0)
	if name == "" || length <= 0 {
		return nil, refuseWith("invalid_arguments", []string{"[ERROR] filename and a length above 0 are needed"})
	}
	s.work.mu.Lock()
	defer s.work.mu.Unlock()
	f := &file{
		id: s.newID("F"), user: s.o.BotUser, name: name, title: name, length: length, made: s.o.Now(),
		mime: http.DetectContentType([]byte(name)),
	}
	ticket := s.uuid()
	s.work.uploads[ticket], s.work.files[f.id] = f, f
	return map[string]any{"upload_url": s.base + "/upload/" + ticket, "file_id": f.id}, nil
}

// upload takes the bytes. A length other than the one announced is an error of
// the server, as Slack answers.
func (s *Server) upload(w http.ResponseWriter, r *http.Request) {
	content, err := uploaded(r)
	if err != nil {
		http.Error(w, "bad upload", http.StatusBadRequest)
		return
	}
	s.work.mu.Lock()
	defer s.work.mu.Unlock()
	ticket := r.PathValue("id")
	f := s.work.uploads[ticket]
	if f == nil {
		http.NotFound(w, r)
		return
	}
	if len(content) != f.length {
		http.Error(w, "error", http.StatusInternalServerError)
		return
	}
	delete(s.work.uploads, ticket)
	f.content, f.mime = content, http.DetectContentType(content)
	_, _ = io.WriteString(w, "OK - "+f.id)
}

const longestUpload = 64 << 20

func uploaded(r *http.Request) ([]byte, error) {
	if !strings.HasPrefix(r.Header.Get("Content-Type"), "multipart/form-data") {
		return io.ReadAll(http.MaxBytesReader(nil, r.Body, longestUpload))
	}
	parts, err := r.MultipartReader()
	if err != nil {
		return nil, err
	}
	part, err := parts.NextPart()
	if err != nil {
		return nil, err
	}
	return io.ReadAll(io.LimitReader(part, longestUpload))
}

func multipartForm(raw []byte, boundary string) (url.Values, error) {
	form, err := multipart.NewReader(bytes.NewReader(raw), boundary).ReadForm(longestBody)
	if err != nil {
		return nil, err
	}
	return form.Value, nil
}

// completeUpload answers before the share is seen.
func (s *Server) completeUpload(a args) (map[string]any, error) {
	var list []struct{ ID, Title string }
	if raw, _ := a.raw("files"); json.Unmarshal(raw, &list) != nil || len(list) == 0 {
		return nil, refuseWith("invalid_arguments", []string{"[ERROR] missing required field: files"})
	}
	s.work.mu.Lock()
	defer s.work.mu.Unlock()
	var files []*file
	out := []any{}
	for _, in := range list {
		f := s.work.files[in.ID]
		if f == nil || f.content == nil {
			return nil, refuse("file_not_found")
		}
		if in.Title != "" {
			f.title = in.Title
		}
		f.done = true
		files = append(files, f)
		out = append(out, map[string]any{"id": f.id, "title": f.title})
	}
	answer := map[string]any{"files": out}
	to := a.str("channel_id")
	if to == "" {
		to = a.str("channels")
	}
	if to == "" {
		return answer, nil
	}
	c, err := s.within(to)
	if err != nil {
		return nil, err
	}
	p := post{Text: a.str("initial_comment"), ThreadTS: a.str("thread_ts")}
	if err := s.thread(c, p.ThreadTS); err != nil {
		return nil, err
	}
	s.timers.after(s.o.ShareDelay, func() { s.shared(c, p, files) })
	return answer, nil
}

// shared makes an upload be seen.
func (s *Server) shared(c *channel, p post, files []*file) {
	s.work.mu.Lock()
	m := &message{
		ts: c.stamps.stamp(s.o.Now()), thread: p.ThreadTS, user: s.o.BotUser, bot: s.o.BotID, subtype: "file_share",
		text: p.Text, files: files, arrived: time.Now(),
	}
	for _, f := range files {
		f.shares = append(f.shares, share{c, m.ts})
	}
	c.add(m)
	events := s.said(c, m)
	s.work.mu.Unlock()
	s.sendAll(events)
}
