package slackfake

import (
	"encoding/json"
	"fmt"
	"maps"
	"time"
)

const triggerLives = 3 * time.Second

// trigger is a trigger_id: good once, and for three seconds.
type trigger struct {
	user string
	made time.Time
	used bool
}

// newTrigger is called with the workspace locked.
func (s *Server) newTrigger(user string) string {
	id := s.newID("1") + "." + s.o.Team.ID + "." + s.uuid()[:8]
	s.work.triggers[id] = &trigger{user: user, made: s.o.Now()}
	return id
}

// Slash is a person who types a command, such as /ferrule, in a channel. It
// gives the ID of the delivery, whose Answer is what the bot acknowledged with.
func (s *Server) Slash(channel, user, command, text string) (id string, err error) {
	written, _ := s.typed(text)
	s.work.mu.Lock()
	c, err := s.speaker(channel, user, "")
	if err != nil {
		s.work.mu.Unlock()
		return "", fmt.Errorf("typing a command: %w", err)
	}
	name := c.name
	if c.kind == "im" {
		name = "directmessage"
	}
	body := map[string]any{
		"token": verificationToken, "team_id": s.o.Team.ID, "team_domain": s.o.Team.Domain,
		"channel_id": c.id, "channel_name": name, "user_id": user, "user_name": s.work.users[user].name,
		"command": command, "text": written, "api_app_id": s.o.AppID, "is_enterprise_install": "false",
		"response_url": s.newResponseURL(c.id, user, ""), "trigger_id": s.newTrigger(user),
	}
	s.work.mu.Unlock()
	d := &delivery{id: s.newID("cmd"), kind: "slash_commands", typ: command, channel: channel, body: body, accepts: true}
	d.onAck = func(answer json.RawMessage) { s.commandAnswer(channel, user, answer) }
	if !s.granted("commands") {
		return "", fmt.Errorf("typing a command: the bot has no scope for commands")
	}
	s.deliver(d)
	return d.id, nil
}

// commandAnswer shows what a command was acknowledged with.
func (s *Server) commandAnswer(channel, user string, answer json.RawMessage) {
	if isEmpty(answer) {
		return
	}
	var in struct {
		post
		ResponseType string `json:"response_type"`
	}
	if json.Unmarshal(answer, &in) != nil { // plain text is allowed in HTTP mode
		in.Text = string(answer)
	}
	if err := s.show(channel, user, in.post, in.ResponseType == "in_channel"); err != nil {
		s.violate("the answer to a command is refused: %v", err)
	}
}

// Press is a person who presses a button, by its action_id, in a message of the
// bot that everybody sees or that only this person sees. What the button carries
// comes from the stored message.
func (s *Server) Press(channel, ts, user, actionID string) (id string, err error) {
	s.work.mu.Lock()
	defer s.work.mu.Unlock()
	c, err := s.speaker(channel, user, "")
	if err != nil {
		return "", fmt.Errorf("pressing %s: %w", actionID, err)
	}
	var blocks json.RawMessage
	more := map[string]any{}
	container := map[string]any{"type": "message", "message_ts": ts, "channel_id": channel, "is_ephemeral": false}
	if m := c.find(ts); m != nil && m.bot == s.o.BotID {
		blocks, more["message"] = m.blocks, s.object(m, true)
		if m.thread != "" {
			container["thread_ts"] = m.thread
		}
	} else if at, ok := s.work.byEph[channel+" "+ts]; ok && s.work.ephemerals[at].User == user {
		blocks, container["is_ephemeral"] = s.work.ephemerals[at].Blocks, true
	} else {
		return "", fmt.Errorf("pressing %s: %s sees no message %s of the bot in %s", actionID, user, ts, channel)
	}
	more["channel"] = map[string]any{"id": c.id, "name": c.title()}
	more["response_url"] = s.newResponseURL(channel, user, ts)
	more["container"] = container
	return s.press(blocks, user, actionID, more)
}

// PressIn is a person who presses a button in a form or on the home page.
func (s *Server) PressIn(viewID, user, actionID string) (id string, err error) {
	s.work.mu.Lock()
	defer s.work.mu.Unlock()
	v := s.work.views[viewID]
	if v == nil || v.user != user || !v.open {
		return "", fmt.Errorf("pressing %s: %s has no view %s open", actionID, user, viewID)
	}
	return s.press(v.blocks, user, actionID, map[string]any{
		"view": s.viewObject(v), "container": map[string]any{"type": "view", "view_id": v.id},
	})
}

// press is called with the workspace locked.
func (s *Server) press(blocks json.RawMessage, user, actionID string, more map[string]any) (string, error) {
	block, button := findElement(blocks, actionID)
	if button == nil {
		return "", fmt.Errorf("pressing %s: there is no such button", actionID)
	}
	if button["type"] != "button" {
		return "", fmt.Errorf("pressing %s: it is a %v", actionID, button["type"])
	}
	action := map[string]any{
		"type": "button", "action_id": actionID, "block_id": block, "text": button["text"],
		"action_ts": s.stamps.stamp(s.o.Now()),
	}
	for _, key := range []string{"value", "url", "style", "confirm"} {
		if button[key] != nil {
			action[key] = button[key]
		}
	}
	body := s.interaction("block_actions", user)
	body["trigger_id"], body["actions"] = s.newTrigger(user), []any{action}
	body["state"] = map[string]any{"values": map[string]any{}}
	maps.Copy(body, more)
	in, _ := more["channel"].(map[string]any)
	channel, _ := in["id"].(string)
	d := &delivery{id: s.newID("act"), kind: "interactive", typ: "block_actions", channel: channel, body: body}
	s.deliver(d)
	return d.id, nil
}

// interaction has what all interactions have. The workspace is locked.
func (s *Server) interaction(kind, user string) map[string]any {
	name := s.work.users[user].name
	return map[string]any{
		"type": kind, "token": verificationToken, "api_app_id": s.o.AppID,
		"team":       map[string]any{"id": s.o.Team.ID, "domain": s.o.Team.Domain},
		"user":       map[string]any{"id": user, "username": name, "name": name, "team_id": s.o.Team.ID},
		"enterprise": nil, "is_enterprise_install": false,
	}
}

func (c *channel) title() string {
	if c.kind == "im" {
		return "directmessage"
	}
	return c.name
}

// findElement gives an interactive element and the block that it is in.
func findElement(blocks json.RawMessage, actionID string) (blockID string, element map[string]any) {
	var list []map[string]any
	if json.Unmarshal(blocks, &list) != nil {
		return "", nil
	}
	for _, b := range list {
		elements, _ := b["elements"].([]any)
		for _, e := range append(elements, b["accessory"], b["element"]) {
			if e, ok := e.(map[string]any); ok && e["action_id"] == actionID {
				blockID, _ = b["block_id"].(string)
				return blockID, e
			}
		}
	}
	return "", nil
}

// OpenHome is a person who opens the bot's home page.
func (s *Server) OpenHome(user string) (id string, err error) {
	s.work.mu.Lock()
	direct := s.work.directs[user]
	known := s.work.users[user] != nil
	body := map[string]any{
		"type": "app_home_opened", "user": user, "channel": direct, "tab": "home", "event_ts": s.stamps.stamp(s.o.Now()),
	}
	if v := s.work.homes[user]; v != nil {
		body["view"] = s.viewObject(v)
	}
	s.work.mu.Unlock()
	if !known || direct == "" {
		return "", fmt.Errorf("opening the home page: %s is nobody, or has no direct conversation with the bot", user)
	}
	d := s.eventDelivery(event{channel: direct, body: body})
	s.deliver(d)
	return d.id, nil
}
