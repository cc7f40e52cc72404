package bot

import (
	"slices"
	"strings"

	"ferrule/bot/wording"
	"ferrule/rules/diagnosis"
	"ferrule/store"
)

// Reply is what the bot says, free of any transport.
type Reply struct {
	Case    store.CaseID `json:"case"`
	Version uint64       `json:"version"`

	Headline string        `json:"headline,omitempty"` // what is wrong, or what to do
	New      []string      `json:"new,omitempty"`      // what was understood, so that a misreading is seen
	Findings []Point       `json:"findings,omitempty"`
	Cautions []string      `json:"cautions,omitempty"` // stand before the step they belong to
	Step     *Step         `json:"step,omitempty"`
	Notices  []string      `json:"notices,omitempty"`  // a code removed, a reading questioned
	Details  []string      `json:"details,omitempty"`  // of why, more, readings, site, help
	Declined string        `json:"declined,omitempty"` // why a request was turned down
	Redacted int           `json:"redacted,omitempty"` // secrets taken out of the message
	Language string        `json:"language,omitempty"` // of the fixed parts; English if empty
	Repeated bool          `json:"-"`                  // the same delivery was answered before
	Held     bool          `json:"-"`                  // not posted, since another message follows: New goes with its reply
	Entry    *store.Leased `json:"-"`                  // the reply's entry of the outbox, where Envelope.Held was set
	Trace    *Trace        `json:"-"`                  // what was made of the message
}

// Point is a finding with what it rests on.
type Point struct {
	Rule    string   `json:"rule"`
	Kind    string   `json:"kind"`
	Cause   string   `json:"cause,omitempty"`
	Says    string   `json:"says"`
	Because []string `json:"because"`
	Source  string   `json:"source"`
}

// Step is the one next thing to do, with its likely answers.
type Step struct {
	Kind     string   `json:"kind"` // measure | repair | confirm | close | none
	Readings []string `json:"readings,omitempty"`
	Cause    string   `json:"cause,omitempty"`
	Says     string   `json:"says"`
	Lines    []string `json:"lines,omitempty"` // how, or the steps of a repair
	Minutes  float64  `json:"minutes,omitempty"`
	Expected float64  `json:"expected_minutes,omitempty"` // to the end, if this is done first
	Choices  []string `json:"choices,omitempty"`
}

// AsksMore tells whether Lines are further readings that may be told with the
// one that is asked for.
func (s Step) AsksMore() bool {
	return s.Kind == string(diagnosis.Measure) && len(s.Readings) > 1 && len(s.Lines) > 0
}

// mostNoted is how many readings are repeated; the rest is there to be asked for.
const mostNoted = 10

// Empty tells whether there is nothing to say.
func (r Reply) Empty() bool { return r.Text() == "" }

// Noted is the line that says what was understood, or "".
func (r Reply) Noted() string {
	if len(r.New) == 0 {
		return ""
	}
	say, items := wording.In(r.Language).Say, r.New
	if len(items) > mostNoted {
		items = append(slices.Clone(items[:mostNoted-1]), say("and_more", "Count", len(items)-mostNoted+1))
	}
	return say("noted", "Items", strings.Join(items, "; "))
}

// Text is the reply as plain text: the first line says what is wrong or what
// to do, and a caution stands before its step.
func (r Reply) Text() string {
	var lines []string
	add := func(ss ...string) {
		for _, s := range ss {
			if s != "" {
				lines = append(lines, s)
			}
		}
	}
	say := wording.In(r.Language).Say
	add(r.Headline)
	add(r.Noted())
	add(r.Notices...)
	for _, f := range r.Findings {
		if f.Says != r.Headline {
			add(f.Says)
		}
	}
	for _, c := range r.Cautions {
		add(say("careful", "Caution", c))
	}
	if r.Step != nil {
		if r.Step.Says != r.Headline {
			add(r.Step.Says)
		}
		if r.Step.AsksMore() {
			add(say("asked_too"))
		}
		for _, l := range r.Step.Lines {
			add("  - " + l)
		}
		if len(r.Step.Choices) > 0 {
			add("[" + strings.Join(r.Step.Choices, "] [") + "]")
		}
	}
	add(r.Details...)
	return strings.Join(lines, "\n")
}
