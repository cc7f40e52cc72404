package slackfake

import (
	"encoding/json"
	"maps"
	"slices"
	"strconv"
)

// view is a form or a home page.
type view struct {
	id, user, kind, hash, external string
	previous                       string // the view below it
	open                           bool
	blocks                         json.RawMessage
	fields                         map[string]any // as the bot gave them
	state                          map[string]any // what was entered when it was last submitted
	errors                         map[string]string
}

// viewObject is a view as Slack gives it back. The workspace is locked.
func (s *Server) viewObject(v *view) map[string]any {
	root := v.id
	for up := v; up != nil; up = s.work.views[up.previous] {
		root = up.id
	}
	o := map[string]any{
		"id": v.id, "team_id": s.o.Team.ID, "type": v.kind, "blocks": v.blocks, "hash": v.hash,
		"private_metadata": v.text("private_metadata"), "callback_id": v.text("callback_id"), "external_id": v.external,
		"state": map[string]any{"values": map[string]any{}},
		"title": map[string]any{"type": "plain_text", "text": "View Title", "emoji": true}, // of a home page
		"close": v.fields["close"], "submit": v.fields["submit"],
		"clear_on_close": v.fields["clear_on_close"] == true, "notify_on_close": v.fields["notify_on_close"] == true,
		"root_view_id": root, "previous_view_id": nil, "app_id": s.o.AppID, "bot_id": s.o.BotID, "app_installed_team_id": s.o.Team.ID,
	}
	if v.previous != "" {
		o["previous_view_id"] = v.previous
	}
	if v.fields["title"] != nil {
		o["title"] = v.fields["title"]
	}
	if v.state != nil {
		o["state"] = map[string]any{"values": v.state}
	}
	return o
}

func (v *view) text(key string) string {
	text, _ := v.fields[key].(string)
	return text
}

// fill gives a view new contents and a new hash. The workspace is locked.
func (s *Server) fill(v *view, fields map[string]any) error {
	external, _ := fields["external_id"].(string)
	if other := s.work.externals[external]; external != "" && other != "" && other != v.id {
		return refuse("duplicate_external_id")
	}
	delete(s.work.externals, v.external)
	if external != "" {
		s.work.externals[external] = v.id
	}
	blocks, _ := fields["blocks"].([]any)
	v.fields, v.blocks, v.external, v.errors = fields, s.withIDs(blocks), external, nil
	v.hash = strconv.FormatInt(s.o.Now().Unix(), 10) + "." + s.uuid()[:8]
	return nil
}

// newView is called with the workspace locked.
func (s *Server) newView(user, kind string, fields map[string]any) (*view, error) {
	v := &view{id: s.newID("V"), user: user, kind: kind, open: true}
	if err := s.fill(v, fields); err != nil {
		return nil, err
	}
	s.work.views[v.id] = v
	s.work.viewIDs = append(s.work.viewIDs, v.id)
	return v, nil
}

// readView reads the argument view of a call.
func (s *Server) readView(a args, kind string) (map[string]any, error) {
	raw, ok := a.raw("view")
	if !ok {
		return nil, refuseWith("invalid_arguments", []string{"[ERROR] missing required field: view"})
	}
	fields, faults := s.judgeView(raw, kind)
	if len(faults) > 0 {
		return nil, refuseWith("invalid_arguments", faults)
	}
	return fields, nil
}

// useTrigger is called with the workspace locked.
func (s *Server) useTrigger(id string) (user string, err error) {
	t := s.work.triggers[id]
	switch {
	case t == nil:
		return "", refuse("invalid_trigger_id")
	case s.o.Now().Sub(t.made) > triggerLives:
		return "", refuse("expired_trigger_id")
	case t.used:
		return "", refuse("exchanged_trigger_id")
	}
	t.used = true
	return t.user, nil
}

func (s *Server) viewsOpen(a args) (map[string]any, error) {
	fields, err := s.readView(a, "modal")
	if err != nil {
		return nil, err
	}
	s.work.mu.Lock()
	defer s.work.mu.Unlock()
	user, err := s.useTrigger(a.str("trigger_id"))
	if err != nil {
		return nil, err
	}
	v, err := s.newView(user, "modal", fields)
	if err != nil {
		return nil, err
	}
	return map[string]any{"view": s.viewObject(v)}, nil
}

func (s *Server) viewsUpdate(a args) (map[string]any, error) {
	fields, err := s.readView(a, "modal")
	if err != nil {
		return nil, err
	}
	s.work.mu.Lock()
	defer s.work.mu.Unlock()
	id := a.str("view_id")
	if id == "" {
		id = s.work.externals[a.str("external_id")]
	}
	v := s.work.views[id]
	if v == nil || !v.open {
		return nil, refuse("not_found")
	}
	return s.refill(v, fields, a.str("hash"))
}

// refill changes a view if it is still the one that the caller saw.
func (s *Server) refill(v *view, fields map[string]any, hash string) (map[string]any, error) {
	if hash != "" && hash != v.hash {
		return nil, refuse("hash_conflict")
	}
	if err := s.fill(v, fields); err != nil {
		return nil, err
	}
	return map[string]any{"view": s.viewObject(v)}, nil
}

func (s *Server) viewsPublish(a args) (map[string]any, error) {
	fields, err := s.readView(a, "home")
	if err != nil {
		return nil, err
	}
	s.work.mu.Lock()
	defer s.work.mu.Unlock()
	user := a.str("user_id")
	if s.work.users[user] == nil {
		return nil, refuse("user_not_found")
	}
	v := s.work.homes[user]
	if v != nil {
		return s.refill(v, fields, a.str("hash"))
	}
	if v, err = s.newView(user, "home", fields); err != nil {
		return nil, err
	}
	s.work.homes[user] = v
	return map[string]any{"view": s.viewObject(v)}, nil
}

// View is a form or a home page as a test sees it.
type View struct {
	ID, User, Type, Title                         string
	CallbackID, ExternalID, PrivateMetadata, Hash string
	Blocks                                        json.RawMessage
	Errors                                        map[string]string // shown to the person, by block ID
}

func (v *view) public() View {
	title, _ := v.fields["title"].(map[string]any)
	text, _ := title["text"].(string)
	return View{
		ID: v.id, User: v.user, Type: v.kind, Title: text, CallbackID: v.text("callback_id"), ExternalID: v.external,
		PrivateMetadata: v.text("private_metadata"), Hash: v.hash, Blocks: slices.Clone(v.blocks), Errors: maps.Clone(v.errors),
	}
}

// Views are the forms that a person has open, the uppermost last.
func (s *Server) Views(user string) []View {
	s.work.mu.Lock()
	defer s.work.mu.Unlock()
	var out []View
	for _, id := range s.work.viewIDs {
		if v := s.work.views[id]; v.open && v.kind == "modal" && v.user == user {
			out = append(out, v.public())
		}
	}
	return out
}

// Home is the home page that a person sees.
func (s *Server) Home(user string) (View, bool) {
	s.work.mu.Lock()
	defer s.work.mu.Unlock()
	v := s.work.homes[user]
	if v == nil {
		return View{}, false
	}
	return v.public(), true
}
