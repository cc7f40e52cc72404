// Package dialogue plays written conversations against a bot and holds them to
// what they expect. A dialogue is a text file; a line that starts with > is a
// message as typed, and the lines behind it are what has to hold after it:
//
//	~ TEXT            the reply says TEXT
//	! TEXT            the reply does not say TEXT
//	symptom NAME      the complaint is among those of the case
//	noted READING SUBJECT VALUE
//	found RULE        a finding of this rule holds
//	not found RULE    none holds
//	next KIND [NAME]  the next step, and a reading or the cause in it
//	first CAUSE       the most probable cause
//	among N CAUSE     one of the N most probable causes
//	declined REASON   the request was turned down
//	careful TEXT      a caution says TEXT
//	stop              hands off: nothing else is said
//	closed CAUSE      the case is closed with this cause (or no_fault)
//
// A line that starts with # is a remark.
package dialogue

import (
	"bufio"
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"ferrule/bot"
	"ferrule/store"
)

// Dialogue is a conversation with what it expects.
type Dialogue struct {
	Name  string
	Turns []Turn
}

// Turn is a message and the expectations behind it.
type Turn struct {
	Line  int
	Says  string
	Wants []Want
}

// Want is one expectation.
type Want struct {
	Line int
	Text string
}

// Fault is an expectation that does not hold.
type Fault struct {
	Dialogue string
	Line     int
	Want     string
	Wrong    string
	Reply    string // what was said instead
}

func (f Fault) Error() string {
	return fmt.Sprintf("%s:%d: %s: %s", f.Dialogue, f.Line, f.Want, f.Wrong)
}

// Parse reads a dialogue. One that checks nothing, that expects something
// before anybody has spoken, or that has a check with nothing to look for,
// which would hold whatever is said, is refused.
func Parse(name, src string) (*Dialogue, error) {
	d := &Dialogue{Name: name}
	wants := 0
	lines := bufio.NewScanner(strings.NewReader(src))
	for n := 1; lines.Scan(); n++ {
		line := strings.TrimSpace(lines.Text())
		switch {
		case line == "" || line[0] == '#':
		case line[0] == '>':
			d.Turns = append(d.Turns, Turn{Line: n, Says: strings.TrimSpace(line[1:])})
		case len(d.Turns) == 0:
			return nil, fmt.Errorf("%s:%d: %q stands before the first message (messages begin with >)", name, n, line)
		default:
			word, rest, _ := strings.Cut(line, " ")
			if checks[word] == nil {
				return nil, fmt.Errorf("%s:%d: there is no check %q", name, n, word)
			}
			if rest == "" && word != stopCheck {
				return nil, fmt.Errorf("%s:%d: %s what? A check needs something to look for", name, n, word)
			}
			t := &d.Turns[len(d.Turns)-1]
			t.Wants = append(t.Wants, Want{n, line})
			wants++
		}
	}
	if err := lines.Err(); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if wants == 0 {
		return nil, fmt.Errorf("%s: it expects nothing", name)
	}
	return d, nil
}

// Result is how a dialogue went.
type Result struct {
	Faults []Fault
	Last   bot.Snapshot // the state of the case at the end
	Rules  []string     // the rules of which a finding held at some time
}

// Play has the conversation with a bot whose cases are in st, a minute a turn
// from start on. The error is one of the store or the context, not a fault.
func Play(ctx context.Context, b *bot.Bot, st store.Store, d *Dialogue, start time.Time) (Result, error) {
	var out Result
	held := map[string]bool{}
	for n, turn := range d.Turns {
		stamp := fmt.Sprintf("%s/%d", d.Name, n+1)
		reply, err := b.Handle(ctx, bot.Text{
			Envelope: bot.Envelope{
				Actor: "p-1", Conversation: "dialogue:" + d.Name, Delivery: stamp, Message: stamp,
				Sent: start.Add(time.Duration(n+1) * time.Minute),
			},
			Text: turn.Says,
		})
		if err != nil {
			return out, fmt.Errorf("playing %s, line %d: %w", d.Name, turn.Line, err)
		}
		s, err := b.Snapshot(ctx, reply)
		if err != nil {
			return out, fmt.Errorf("playing %s, line %d: %w", d.Name, turn.Line, err)
		}
		out.Last = s
		for _, f := range s.Findings {
			held[f.Rule] = true
		}
		var c store.Case
		if reply.Case != 0 {
			if c, err = st.Case(ctx, reply.Case); err != nil {
				return out, fmt.Errorf("playing %s, line %d: %w", d.Name, turn.Line, err)
			}
		}
		for _, w := range turn.Wants {
			word, rest, _ := strings.Cut(w.Text, " ")
			if wrong := checks[word](after{reply, s, c}, strings.TrimSpace(rest)); wrong != "" {
				out.Faults = append(out.Faults, Fault{d.Name, w.Line, w.Text, wrong, reply.Text()})
			}
		}
	}
	for rule := range held {
		out.Rules = append(out.Rules, rule)
	}
	slices.Sort(out.Rules)
	return out, nil
}
