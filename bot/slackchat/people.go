package slackchat

import (
	"context"
	"fmt"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/slack-go/slack"
)

// People are who may work with the bot: IDs of users (U..., W...) or of user
// groups (S...). Leads may do what technicians may. Without technicians,
// everybody of the workspace may.
type People struct {
	Technicians []string
	Leads       []string
}

// Groups tells whether a user group has to be looked up.
func (p People) Groups() bool {
	return slices.ContainsFunc(slices.Concat(p.Technicians, p.Leads), isGroup)
}

func isGroup(id string) bool { return strings.HasPrefix(id, "S") }

// membersKept is how long the members of a user group are taken as they were.
const membersKept = 5 * time.Minute

// roster answers who may what. Members of user groups are looked up and kept
// for a while; when Slack can't be asked, the last answer goes on.
type roster struct {
	people People
	api    *slack.Client
	now    func() time.Time
	log    *slog.Logger

	mu      sync.Mutex
	members map[string]membership
}

type membership struct {
	users []string
	until time.Time
}

func (r *roster) lead(ctx context.Context, user string) bool {
	return r.in(ctx, r.people.Leads, user)
}

func (r *roster) allowed(ctx context.Context, user string) bool {
	return len(r.people.Technicians) == 0 || r.in(ctx, r.people.Technicians, user) || r.lead(ctx, user)
}

func (r *roster) in(ctx context.Context, list []string, user string) bool {
	for _, id := range list {
		if id == user || isGroup(id) && slices.Contains(r.of(ctx, id), user) {
			return true
		}
	}
	return false
}

// of are the members of a user group.
func (r *roster) of(ctx context.Context, group string) []string {
	r.mu.Lock()
	defer r.mu.Unlock()
	known, ok := r.members[group]
	if ok && r.now().Before(known.until) {
		return known.users
	}
	users, err := r.api.GetUserGroupMembersContext(ctx, group)
	if err != nil {
		r.log.Warn("the members of a user group can't be read; those read last go on", "group", group, "error", fmt.Sprint(err))
		users = known.users
	}
	if r.members == nil {
		r.members = map[string]membership{}
	}
	r.members[group] = membership{users, r.now().Add(membersKept)}
	return users
}
