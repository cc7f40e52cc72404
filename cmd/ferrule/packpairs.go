package main

import (
	"fmt"
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"

	"ferrule/rules/check"
)

func packPairs(c *common, dir string) error {
	files, name, err := c.packFiles(dir)
	if err != nil {
		return err
	}
	_, pack, err := check.Files(files)
	if err != nil {
		return err
	}
	pairs := check.Pairs(pack)
	if c.json {
		return printJSON(c.out, pairs)
	}
	t := table.NewWriter()
	t.SetOutputMirror(c.out)
	t.SetStyle(table.StyleLight)
	t.AppendHeader(table.Row{"ratio", "cause", "or", "best told by", "band", "complaints"})
	weak := 0
	for _, p := range pairs {
		if p.Ratio < check.LeastRatio {
			weak++
		}
		t.AppendRow(table.Row{fmt.Sprintf("%.1f", p.Ratio), p.A, p.B, p.Evidence, p.Band, strings.Join(p.Symptoms, " ")})
	}
	t.Render()
	if len(pairs) == 0 {
		fmt.Fprintf(c.out, "%s has no two causes of the same complaint.\n", name)
		return nil
	}
	fmt.Fprintf(c.out, "%d pairs; the weakest, %s and %s, by %.1f; %d below %.0f.\n", len(pairs), pairs[0].A, pairs[0].B, pairs[0].Ratio, weak, check.LeastRatio)
	if weak > 0 {
		return refusal{fmt.Errorf("%d pairs are told apart by less than %.0f: add a table or sharpen one", weak, check.LeastRatio)}
	}
	return nil
}
