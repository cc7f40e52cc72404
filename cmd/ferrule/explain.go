package main

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/fatih/color"
	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"

	"ferrule/bot"
)

// explainTrace prints a message with its pieces in numbered brackets, and what
// each became. Brackets, and not colours alone, so that it can be read without.
func explainTrace(w io.Writer, tr *bot.Trace, colour bool) {
	mark := color.New(color.FgCyan)
	if !colour {
		mark.DisableColor()
	}
	fmt.Fprintln(w, bracketed(tr, mark.Sprint))
	t := table.NewWriter()
	t.SetStyle(table.StyleLight)
	t.Style().Options = table.OptionsNoBordersAndSeparators
	t.SetColumnConfigs([]table.ColumnConfig{{Number: 2, WidthMax: 36, WidthMaxEnforcer: text.WrapSoft}, {Number: 4, WidthMax: 60, WidthMaxEnforcer: text.WrapSoft}})
	for i, p := range tr.Pieces {
		became := p.Became
		if p.Remark != "" {
			became += " (" + p.Remark + ")"
		}
		t.AppendRow(table.Row{strconv.Itoa(i + 1), p.Words, p.Kind, became})
	}
	for _, p := range tr.Left {
		t.AppendRow(table.Row{"-", p.Words, "left over", "nothing was made of it"})
	}
	fmt.Fprintln(w, t.Render())
	fmt.Fprintf(w, "language: %s\n\n", cmp.Or(tr.Language, "not told, so English"))
}

// bracketed writes the text with each piece as "[n: words]"; pieces that
// overlap share a bracket, "[1,2: words]". Pieces that are the whole message
// have none.
func bracketed(tr *bot.Trace, mark func(...any) string) string {
	type span struct {
		start, end int
		numbers    []string
	}
	var spans []span
	for i, p := range tr.Pieces {
		if p.End-p.Start == len(tr.Text) && p.Kind != "reading" && p.Kind != "symptom" {
			continue
		}
		spans = append(spans, span{p.Start, p.End, []string{strconv.Itoa(i + 1)}})
	}
	slices.SortStableFunc(spans, func(a, b span) int { return cmp.Compare(a.start, b.start) })
	var merged []span
	for _, s := range spans {
		if n := len(merged); n > 0 && s.start < merged[n-1].end {
			merged[n-1].end = max(merged[n-1].end, s.end)
			merged[n-1].numbers = append(merged[n-1].numbers, s.numbers...)
			continue
		}
		merged = append(merged, s)
	}
	var b strings.Builder
	at := 0
	for _, s := range merged {
		b.WriteString(tr.Text[at:s.start])
		b.WriteString(mark("[" + strings.Join(s.numbers, ",") + ": " + tr.Text[s.start:s.end] + "]"))
		at = s.end
	}
	b.WriteString(tr.Text[at:])
	return b.String()
}
