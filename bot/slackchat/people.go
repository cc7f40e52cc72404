package slackchat

import (
	"context"
	"errors"
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

// membersKept is how long the members of a user group are taken as they were,
// and askAgain how long after Slack could not be asked.
const (
	membersKept = 5 * time.Minute
	askAgain    = 10 * time.Second
)

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

func (r *roster) lead(ctx context.Context, user string) (bool, error) {
	return r.in(ctx, r.people.Leads, user)
}

// allowed tells whether a user may work with the bot; the error is that nobody
// could be asked yet.
func (r *roster) allowed(ctx context.Context, user string) (bool, error) {
	if len(r.people.Technicians) == 0 {
		return true, nil
	}
	return r.in(ctx, slices.Concat(r.people.Technicians, r.people.Leads), user)
}

func (r *roster) in(ctx context.Context, list []string, user string) (bool, error) {
	if slices.Contains(list, user) {
		return true, nil
	}
	var failed error
	for _, id := range list {
		if !isGroup(id) {
			continue
		}
		users, err := r.of(ctx, id)
		if slices.Contains(users, user) {
			return true, nil
		}
		failed = errors.Join(failed, err)
	}
	return false, failed
}

// of are the members of a user group. Those that were read a while ago do, while
// they are read again.
func (r *roster) of(ctx context.Context, group string) ([]string, error) {
	r.mu.Lock()
	known, ok := r.members[group]
	stale := ok && !r.now().Before(known.until)
	if stale {
		r.members[group] = membership{known.users, r.now().Add(askAgain)} // one asks
	}
	r.mu.Unlock()
	switch {
	case !ok:
		return r.read(ctx, group)
	case stale:
		go func() {
			ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), asideTime)
			defer cancel()
			if _, err := r.read(ctx, group); err != nil {
				r.log.Warn("the members of a user group can't be read; those read last go on", "group", group, "error", err)
			}
		}()
	}
	return known.users, nil
}

// read asks Slack for the members of a user group.
func (r *roster) read(ctx context.Context, group string) ([]string, error) {
	users, err := r.api.GetUserGroupMembersContext(ctx, group)
	if err != nil {
		return nil, fmt.Errorf("reading the members of user group %s: %w", group, err)
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.members == nil {
		r.members = map[string]membership{}
	}
	r.members[group] = membership{users, r.now().Add(membersKept)}
	return users, nil
}

// load reads all user groups once, so that nobody waits for that later.
func (r *roster) load(ctx context.Context) {
	for _, id := range slices.Concat(r.people.Technicians, r.people.Leads) {
		if !isGroup(id) {
			continue
		}
		if _, err := r.of(ctx, id); err != nil {
			r.log.Error("who may work with the bot is not known yet", "error", err)
		}
	}
}
