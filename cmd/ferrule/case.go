package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/spf13/cobra"

	"ferrule/store"
)

func caseCommand(c *common) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "case",
		Short: "Read and close the cases in the case book",
		Args:  usage(cobra.NoArgs),
		RunE:  func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	cmd.AddCommand(caseListCommand(c), caseShowCommand(c), caseCloseCommand(c), caseExportCommand(c))
	return cmd
}

// withStore runs f on the case book.
func (c *common) withStore(ctx context.Context, f func(store.Store) error) (err error) {
	st, _, err := c.openStore(ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	return f(st)
}

// eachCase calls f for every case of a query, a page at a time.
func eachCase(ctx context.Context, st store.Store, q store.Query, f func(store.Case) error) error {
	limit := q.Limit
	for after := store.Cursor(""); ; {
		page, err := st.Cases(ctx, q, after)
		if err != nil {
			return fmt.Errorf("listing cases: %w", err)
		}
		for _, k := range page.Cases {
			if err := f(k); err != nil {
				return err
			}
			if limit--; limit == 0 {
				return nil
			}
		}
		if page.Next == "" {
			return nil
		}
		after = page.Next
	}
}

func caseListCommand(c *common) *cobra.Command {
	var q store.Query
	var state, site string
	cmd := &cobra.Command{
		Use:   "list",
		Short: "List cases, newest first",
		Args:  usage(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if !slices.Contains([]string{"", "open", "closed"}, state) {
				return usageError{fmt.Errorf("--state is open or closed, not %q", state)}
			}
			q.State, q.Site, q.Newest = store.State(state), store.SiteRef(site), true
			return c.withStore(cmd.Context(), func(st store.Store) error { return listCases(cmd.Context(), c, st, q) })
		},
	}
	cmd.Flags().StringVar(&state, "state", "", "only `open` or closed cases")
	cmd.Flags().StringVar(&site, "site", "", "only cases of this site `reference`")
	cmd.Flags().IntVar(&q.Limit, "limit", 50, "at most this many `cases`; 0 for all")
	return cmd
}

func listCases(ctx context.Context, c *common, st store.Store, q store.Query) error {
	cases := []store.Case{}
	err := eachCase(ctx, st, q, func(k store.Case) error {
		k.Events = nil
		cases = append(cases, k)
		return nil
	})
	if err != nil {
		return err
	}
	if c.json {
		return printJSON(c.out, cases)
	}
	if len(cases) == 0 {
		fmt.Fprintln(c.out, "No case.")
		return nil
	}
	t := table.NewWriter()
	t.SetStyle(table.StyleLight)
	t.AppendHeader(table.Row{"Case", "Opened", "State", "Site", "Complaint", "Outcome"})
	for _, k := range cases {
		outcome := ""
		if k.Outcome != nil {
			outcome = k.Outcome.Cause
		}
		t.AppendRow(table.Row{k.ID, k.Opened.Local().Format("2006-01-02 15:04"), k.State, k.Site, k.Symptom, outcome})
	}
	_, err = fmt.Fprintln(c.out, t.Render())
	return err
}

func caseID(arg string) (store.CaseID, error) {
	n, err := strconv.ParseUint(strings.TrimPrefix(arg, "#"), 10, 64)
	if err != nil || n == 0 {
		return 0, usageError{fmt.Errorf("%q is not the number of a case", arg)}
	}
	return store.CaseID(n), nil
}

func caseShowCommand(c *common) *cobra.Command {
	return &cobra.Command{
		Use:   "show CASE",
		Short: "Show a case with everything that happened in it",
		Args:  usage(cobra.ExactArgs(1)),
		RunE: func(cmd *cobra.Command, args []string) error {
			id, err := caseID(args[0])
			if err != nil {
				return err
			}
			return c.withStore(cmd.Context(), func(st store.Store) error {
				k, err := st.Case(cmd.Context(), id)
				if err != nil {
					return fmt.Errorf("case %d: %w", id, err)
				}
				if c.json {
					return printJSON(c.out, k)
				}
				showCase(c, k)
				return nil
			})
		},
	}
}

func showCase(c *common, k store.Case) {
	fmt.Fprintf(c.out, "Case %d, %s, opened %s", k.ID, k.State, k.Opened.Local().Format("2006-01-02 15:04"))
	if k.Site != "" {
		fmt.Fprintf(c.out, ", site %s", k.Site)
	}
	fmt.Fprintf(c.out, "\nComplaint: %s\n", k.Symptom)
	for _, e := range k.Events {
		if line := eventLine(e); line != "" {
			fmt.Fprintf(c.out, "%s  %s\n", e.At.Local().Format("15:04"), line)
		}
	}
}

// eventLine is one event in words, or "" for what only the program needs.
func eventLine(e store.Event) string {
	switch e.Kind {
	case store.KindMessage:
		if e.Message.Deleted {
			return "message deleted"
		}
		return "“" + e.Message.Text + "”"
	case store.KindReading:
		return fmt.Sprintf("  %s of %s: %s (%s)", e.Reading.Name, e.Reading.Subject, e.Reading.Words, e.Reading.State)
	case store.KindFinding:
		return fmt.Sprintf("  %s: %s", e.Finding.RuleKind, e.Finding.Says)
	case store.KindStep:
		if e.Step.Result != "" {
			return fmt.Sprintf("  %s %s: %s", e.Step.Kind, e.Step.Cause, e.Step.Result)
		}
		return "  next: " + e.Step.Says
	case store.KindUndo:
		return "  taken back"
	case store.KindOnTest:
		if e.OnTest.On {
			return fmt.Sprintf("  on test until %s, %s %s", e.OnTest.Until.Local().Format("15:04"), e.OnTest.What, e.OnTest.Reference)
		}
		return "  off test, " + e.OnTest.Confirmed
	case store.KindOutcome:
		return fmt.Sprintf("  closed: %s, %.0f min, %s", e.Outcome.Cause, e.Outcome.Minutes, e.Outcome.Confirmed)
	}
	return ""
}

func caseCloseCommand(c *common) *cobra.Command {
	var o store.Outcome
	cmd := &cobra.Command{
		Use:     "close CASE --cause NAME --minutes N --confirmed HOW",
		Short:   "Close a case with what it was",
		Example: "  ferrule case close 17 --cause place_too_weak --minutes 25 --confirmed measurement",
		Args:    usage(cobra.ExactArgs(1)),
		RunE: func(cmd *cobra.Command, args []string) error {
			id, err := caseID(args[0])
			if err != nil {
				return err
			}
			return closeCase(cmd.Context(), c, id, o)
		},
	}
	cmd.Flags().StringVar(&o.Cause, "cause", "", "`name` of the cause in the pack, no_fault, or something_else")
	cmd.Flags().Float64Var(&o.Minutes, "minutes", 0, "`minutes` that it took")
	cmd.Flags().StringVar(&o.Confirmed, "confirmed", "unproven", "`how` it was confirmed: measurement, swap_back, symptom_gone, unproven")
	return cmd
}

func closeCase(ctx context.Context, c *common, id store.CaseID, o store.Outcome) error {
	program, err := c.program()
	if err != nil {
		return err
	}
	if program.Pack().Cause(o.Cause) == nil && o.Cause != "no_fault" && o.Cause != "something_else" {
		return usageError{fmt.Errorf("--cause %q is not a cause of the pack", o.Cause)}
	}
	if !slices.Contains([]string{"measurement", "swap_back", "symptom_gone", "unproven"}, o.Confirmed) {
		return usageError{fmt.Errorf("--confirmed is measurement, swap_back, symptom_gone or unproven, not %q", o.Confirmed)}
	}
	return c.withStore(ctx, func(st store.Store) error {
		k, err := st.Case(ctx, id)
		switch {
		case err != nil:
			return fmt.Errorf("case %d: %w", id, err)
		case k.State == store.Closed:
			return refusal{fmt.Errorf("case %d is closed already", id)}
		case k.OnTest != nil && k.OnTest.On:
			return refusal{fmt.Errorf("case %d is still on test; say off test in its conversation first", id)}
		}
		_, err = st.Apply(ctx, store.Change{Case: id, Expected: k.Version, Events: []store.Event{
			{Kind: store.KindOutcome, At: time.Now(), Actor: c.actor(), Outcome: &o},
		}})
		if err != nil {
			return fmt.Errorf("closing case %d: %w", id, err)
		}
		fmt.Fprintf(c.out, "Closed case %d: %s.\n", id, o.Cause)
		return nil
	})
}

func caseExportCommand(c *common) *cobra.Command {
	return &cobra.Command{
		Use:   "export",
		Short: "Print every case as one line of JSON",
		Args:  usage(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return c.withStore(cmd.Context(), func(st store.Store) error {
				e := json.NewEncoder(c.out)
				return eachCase(cmd.Context(), st, store.Query{}, func(k store.Case) error { return e.Encode(k) })
			})
		},
	}
}
