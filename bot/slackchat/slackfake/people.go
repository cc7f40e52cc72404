package slackfake

import (
	"slices"
	"sync"
)

// workspace is all that people and the bot have made. One mutex guards it; no
// socket is written and no JSON encoded of more than one message under it.
type workspace struct {
	mu         sync.Mutex
	users      map[string]*user
	userIDs    []string
	channels   map[string]*channel
	channelIDs []string // in the order of their making, for lists
	directs    map[string]string
	groups     map[string][]string
	views      map[string]*view
	viewIDs    []string
	externals  map[string]string // external_id to view ID
	homes      map[string]*view
	triggers   map[string]*trigger
	urls       map[string]*responseURL
	files      map[string]*file
	uploads    map[string]*file
	ephemerals []Ephemeral
	byEph      map[string]int
	revoked    bool
	mentions   int
}

func (w *workspace) init() {
	w.users, w.channels, w.directs = map[string]*user{}, map[string]*channel{}, map[string]string{}
	w.groups, w.views, w.homes = map[string][]string{}, map[string]*view{}, map[string]*view{}
	w.triggers, w.urls = map[string]*trigger{}, map[string]*responseURL{}
	w.files, w.uploads = map[string]*file{}, map[string]*file{}
	w.externals, w.byEph = map[string]string{}, map[string]int{}
}

type user struct{ id, name string }

// AddUser adds a person.
func (s *Server) AddUser(id, name string) {
	s.work.mu.Lock()
	defer s.work.mu.Unlock()
	if s.work.users[id] == nil {
		s.work.userIDs = append(s.work.userIDs, id)
	}
	s.work.users[id] = &user{id, name}
}

// AddChannel adds a public channel with its members and the bot.
func (s *Server) AddChannel(id, name string, members ...string) {
	s.addChannel(id, name, "channel", members)
}

// AddPrivateChannel adds a private channel with its members and the bot.
func (s *Server) AddPrivateChannel(id, name string, members ...string) {
	s.addChannel(id, name, "group", members)
}

// AddDirect adds the conversation (D...) of the bot with one person.
func (s *Server) AddDirect(id, user string) {
	s.addChannel(id, "", "im", []string{user})
	s.work.mu.Lock()
	defer s.work.mu.Unlock()
	s.work.directs[user] = id
}

func (s *Server) addChannel(id, name, kind string, members []string) {
	c := &channel{id: id, name: name, kind: kind, members: map[string]bool{s.o.BotUser: true}, byTS: map[string]*message{}, made: s.o.Now()}
	for _, m := range members {
		c.members[m] = true
	}
	s.work.mu.Lock()
	defer s.work.mu.Unlock()
	if s.work.channels[id] == nil {
		s.work.channelIDs = append(s.work.channelIDs, id)
	}
	s.work.channels[id] = c
}

// Join makes a person, or the bot, a member of a channel.
func (s *Server) Join(channel, user string) { s.member(channel, user, true) }

// Leave takes a person, or the bot, out of a channel.
func (s *Server) Leave(channel, user string) { s.member(channel, user, false) }

func (s *Server) member(channel, user string, is bool) {
	s.work.mu.Lock()
	defer s.work.mu.Unlock()
	if c := s.work.channels[channel]; c != nil && is {
		c.members[user] = true
	} else if c != nil {
		delete(c.members, user)
	}
}

// AddGroup adds a user group (S...), or replaces its members.
func (s *Server) AddGroup(id string, members ...string) {
	s.work.mu.Lock()
	defer s.work.mu.Unlock()
	s.work.groups[id] = slices.Clone(members)
}

// granted says whether the bot's token has a scope.
func (s *Server) granted(scope string) bool {
	return scope == "" || slices.Contains(s.o.Scopes, scope)
}
