package slackchat

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"runtime/debug"
	"slices"
	"strings"
	"sync"
	"time"

	"ferrule/bot"
)

// job is one thing to do in a conversation.
type job struct {
	done  func(answer []byte, err error) // called by run; nil where nobody waits
	stamp string                         // what was sent first is done first
	// text tells that it is a message in words: several that wait are answered
	// together, by the last.
	text bool
	run  func(ctx context.Context, c circumstances) *held
}

// circumstances are what a job meets when its turn comes.
type circumstances struct {
	waiting  int   // jobs that wait, of all conversations, or are about to come
	followed bool  // the next job of the conversation is another message
	held     *held // a reply to the message before that was not posted yet
}

// held is a reply that waits for the one to the next message, which says what
// is new in both.
type held struct {
	reply bot.Reply
	env   bot.Envelope
}

// news is what is to be said with the next reply.
func (h *held) news() []string {
	if h == nil {
		return nil
	}
	return h.reply.New
}

// lanes do the jobs of a conversation one after the other, those of different
// conversations at the same time.
type lanes struct {
	log   *slog.Logger
	ctx   context.Context
	free  chan struct{} // a token for each that may run
	done  sync.WaitGroup
	mu    sync.Mutex
	jobs  map[string][]job // of each lane that runs, those that wait
	count int              // of all that wait
	still chan struct{}    // closed when none waits any more; nil when none does
	rate  rate
}

// rate counts the jobs of this second and of the one before.
type rate struct {
	second       int64
	during, last int
}

func (r *rate) count(now time.Time) {
	switch s := now.Unix(); s {
	case r.second:
	case r.second + 1:
		r.second, r.last, r.during = s, r.during, 0
	default:
		*r = rate{second: s}
	}
	r.during++
}

// easy is how many messages a second leave time to plan each as far as can be.
const easy = 20

// pressing is by how much there is more to do than that.
func (r *rate) pressing() int { return max(0, max(r.during, r.last)-easy) }

func newLanes(ctx context.Context, log *slog.Logger, atOnce int) *lanes {
	return &lanes{ctx: ctx, log: log, free: make(chan struct{}, atOnce), jobs: map[string][]job{}}
}

// mostJobs is how many jobs wait at the most: what comes on top is not taken, and
// Slack delivers it again.
const mostJobs = 20_000

var errTooMany = errors.New("too many messages wait already")

// add puts a job into its lane. It never blocks.
func (l *lanes) add(lane string, j job) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.count >= mostJobs {
		if j.done != nil {
			go j.done(nil, errTooMany)
		}
		return
	}
	waiting, running := l.jobs[lane]
	l.jobs[lane] = append(waiting, j)
	l.rate.count(time.Now())
	if l.count++; l.still == nil {
		l.still = make(chan struct{})
	}
	if !running {
		l.done.Add(1)
		go l.drain(lane)
	}
}

// drain does what waits in a lane, the earliest first, until nothing does.
func (l *lanes) drain(lane string) {
	defer l.done.Done()
	l.free <- struct{}{}
	defer func() { <-l.free }()
	var before *held
	for {
		j, c, ok := l.next(lane)
		if !ok {
			return
		}
		c.held = before
		if h := l.do(j, c); j.text {
			before = h
		}
	}
}

// do does a job. One that panics would come again and again, as it is not
// acknowledged: it is, and what it was is logged without its words.
func (l *lanes) do(j job, c circumstances) (h *held) {
	defer func() {
		if fault := recover(); fault != nil {
			l.log.Error("a message could not be handled", "stamp", j.stamp, "fault", fmt.Sprintf("%T", fault), "stack", string(debug.Stack()))
			if j.done != nil {
				j.done(nil, nil)
			}
		}
	}()
	return j.run(l.ctx, c)
}

// next takes the earliest job of a lane, or closes the lane.
func (l *lanes) next(lane string) (job, circumstances, bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	waiting := l.jobs[lane]
	if len(waiting) == 0 {
		delete(l.jobs, lane)
		return job{}, circumstances{}, false
	}
	slices.SortStableFunc(waiting, func(a, b job) int { return strings.Compare(a.stamp, b.stamp) })
	j := waiting[0]
	l.jobs[lane] = waiting[1:]
	if l.count--; l.count == 0 {
		close(l.still)
		l.still = nil
	}
	return j, circumstances{waiting: l.count + l.rate.pressing(), followed: j.text && another(waiting)}, true
}

// another tells whether the next job is a message as well, and not the same one
// in another form.
func another(waiting []job) bool {
	for _, next := range waiting[1:] {
		if next.stamp != waiting[0].stamp {
			return next.text
		}
	}
	return false
}

// quiet waits until no job waits, but no longer than a time.
func (l *lanes) quiet(ctx context.Context, most time.Duration) error {
	l.mu.Lock()
	still := l.still
	l.mu.Unlock()
	if still == nil {
		return nil
	}
	timer := time.NewTimer(most)
	defer timer.Stop()
	select {
	case <-still:
	case <-timer.C:
	case <-ctx.Done():
		return ctx.Err()
	}
	return nil
}

// wait returns when every lane is empty.
func (l *lanes) wait() { l.done.Wait() }
