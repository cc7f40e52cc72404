package bot

import (
	"cmp"
	"fmt"
	"slices"

	"ferrule/bot/intake"
	"ferrule/bot/redact"
	"ferrule/rules"
)

// Trace is what was made of one message, piece by piece.
type Trace struct {
	Text     string  `json:"text"` // without secrets
	Language string  `json:"language"`
	Pieces   []Piece `json:"pieces"`
	Left     []Piece `json:"left"` // words that nothing was made of
}

// Piece is a span of a message, Text[Start:End] in bytes, and what it became.
// Pieces may overlap: "signal low" is a complaint that holds a reading's name.
type Piece struct {
	Start  int    `json:"start"`
	End    int    `json:"end"`
	Words  string `json:"words"`
	Kind   string `json:"kind"`   // symptom, reading, command, secret, ...
	Became string `json:"became"` // the pack's name and the value
	Remark string `json:"remark,omitempty"`
}

// trace lists what the reader made of a text.
func (t *turn) trace(text string, msg intake.Message) *Trace {
	tr := &Trace{Text: text, Language: t.reply.Language, Pieces: []Piece{}, Left: []Piece{}}
	add := func(start, end int, kind, became, remark string) {
		tr.Pieces = append(tr.Pieces, Piece{start, end, text[start:end], kind, became, remark})
	}
	for _, s := range msg.Symptoms {
		add(s.Start, s.End, "symptom", s.Symptom, "")
	}
	for _, g := range msg.Readings {
		add(g.Start, g.End, "reading", t.becameReading(g), remarkOn(g))
	}
	for _, s := range msg.NoScale {
		add(s.Start, s.End, "no scale", "asked for in per cent or dBm", "")
	}
	tr.secrets()
	slices.SortStableFunc(tr.Pieces, func(a, b Piece) int { return cmp.Compare(a.Start, b.Start) })
	for _, said := range []struct{ kind, what string }{
		{"command", string(msg.Command)}, {"declined", msg.Declined}, {"site", msg.Site}, {"cause", msg.Cause}, {"confirmed", msg.Confirmed},
	} {
		if said.what != "" {
			tr.Pieces = append(tr.Pieces, Piece{0, len(text), text, said.kind, said.what, "the whole message"})
		}
	}
	for _, s := range msg.Left {
		tr.Left = append(tr.Left, Piece{Start: s.Start, End: s.End, Words: text[s.Start:s.End]})
	}
	return tr
}

func (t *turn) becameReading(g intake.Given) string {
	value := "not to be had"
	if g.Value.State != rules.Unavailable {
		value = rules.Format(t.pack().Reading(g.Reading), g.Value)
	}
	return fmt.Sprintf("%s of %s = %s", g.Reading, g.Subject, value)
}

// remarkOn says what is special about a reading.
func remarkOn(g intake.Given) string {
	remark := ""
	add := func(s string) {
		if remark != "" {
			remark += ", "
		}
		remark += s
	}
	if g.Value.Certainty < 1 {
		add("not sure")
	}
	if g.Value.State == rules.Questioned {
		add("questioned: " + g.Reason)
	}
	if g.Correction {
		add("a correction")
	}
	return remark
}

// secrets adds the marks of what was removed: they are pieces too.
func (tr *Trace) secrets() {
	for _, place := range redact.Marks(tr.Text) {
		tr.Pieces = append(tr.Pieces, Piece{Start: place[0], End: place[1], Words: tr.Text[place[0]:place[1]], Kind: "secret", Became: "removed before anything else"})
	}
}
