package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"
	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"ferrule/bot/calc"
	"ferrule/bot/calc/draw"
	"ferrule/knowledge"
	"ferrule/knowledge/units"
)

// calcOptions say how a sheet is shown.
type calcOptions struct {
	*common
	svg, png string
}

func calcCommand(c *common) *cobra.Command {
	o := &calcOptions{common: c}
	cmd := &cobra.Command{
		Use:   "calc",
		Short: "The arithmetic on its own: radio paths, cables, batteries, loops, versions",
		Long: `Calc works a calculation of the trade out, from flags or from a sentence, and shows
each step with its formula and source. What was not said is assumed where there is
a usual value, and named.`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return usageError{fmt.Errorf("there is no calculation %q; there are radio, cable, battery, loop, version", args[0])}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	for _, kind := range calc.Kinds() {
		cmd.AddCommand(o.kind(kind))
	}
	return cmd
}

// kind makes the command of one calculation, with a flag for each quantity.
func (o *calcOptions) kind(k calc.Kind) *cobra.Command {
	given, model := map[string]*string{}, ""
	var minus []string
	cmd := &cobra.Command{
		Use: k.Name + " [SENTENCE]", Short: k.Short, Long: k.Long,
		Example: "  ferrule calc " + k.Name + ` "` + strings.Join(k.Examples, "\"\n  ferrule calc "+k.Name+` "`) + `"`,
		RunE: func(cmd *cobra.Command, words []string) error {
			in, err := k.Read(strings.Join(append(minus, words...), " "))
			if err != nil {
				return usageError{err}
			}
			var set error
			cmd.Flags().Visit(func(f *pflag.Flag) {
				if written := given[f.Name]; written != nil {
					set = errors.Join(set, in.Set(f.Name, *written))
				}
			})
			if set != nil {
				return usageError{set}
			}
			if model != "" {
				if err := o.model(in, model); err != nil {
					return err
				}
			}
			sheet, err := k.Work(in)
			if err != nil {
				return calcError(err)
			}
			return o.show(sheet)
		},
	}
	for _, f := range k.Fields {
		what := f.Unit
		if f.Choices != nil {
			what = "words"
		} else if what == "" {
			what = "count"
		}
		given[f.Name] = cmd.Flags().String(f.Name, "", f.Help+" (`"+what+"`)")
	}
	if k.Name == "radio" || k.Name == "cable" {
		cmd.Flags().StringVar(&model, "model", "", "`name` of a device in the pack, whose figures count where none are given")
	}
	for digit := '0'; digit <= '9'; digit++ {
		name := "minus-" + string(digit)
		cmd.Flags().VarP(minusSentence{&minus, "-" + string(digit)}, name, string(digit), "")
		_ = cmd.Flags().MarkHidden(name) // it fails for a flag that isn't there
	}
	cmd.Flags().StringVar(&o.svg, "svg", "", "draw the chart into an SVG `file`")
	cmd.Flags().StringVar(&o.png, "png", "", "draw the chart into a PNG `file`")
	return cmd
}

// minusSentence is a sentence that begins with a minus and a digit: to the flags
// "-77 dBm at 25 m" is the flag -7 with the value "7 dBm at 25 m".
type minusSentence struct {
	to    *[]string
	begin string
}

func (m minusSentence) Set(rest string) error {
	*m.to = append(*m.to, m.begin+rest)
	return nil
}

func (m minusSentence) String() string { return "" }
func (m minusSentence) Type() string   { return "sentence" }

// model gives the figures of a device in the pack, where none were said.
func (o *calcOptions) model(in *calc.Input, name string) error {
	files, where, err := o.packFiles("")
	if err != nil {
		return err
	}
	pack, err := knowledge.Load(files)
	if err != nil {
		return err
	}
	for i := range pack.Equipment {
		e := &pack.Equipment[i]
		if !strings.EqualFold(e.Model.S, name) {
			continue
		}
		if r := e.Radio; r != nil {
			in.Usually(e.Model.S, map[string]float64{"power": r.RadiatedMW, "aerial-loss": r.AerialLossDB, "scale-0": r.LevelScale.Low, "scale-100": r.LevelScale.High})
		}
		if e.LowestLevel != nil {
			in.Usually(e.Model.S, map[string]float64{"limit": *e.LowestLevel})
		}
		if e.CurrentMA > 0 {
			in.Usually(e.Model.S, map[string]float64{"current": e.CurrentMA / 1000})
		}
		if e.Volts != nil {
			in.Usually(e.Model.S, map[string]float64{"least-volts": e.Volts.Low})
		}
		return nil
	}
	return usageError{fmt.Errorf("there is no model %q in %s", name, where)}
}

// calcError tells what can't be calculated from what can't be read: both are
// wrong use, since the quantities are the caller's.
func calcError(err error) error {
	var missing *calc.Missing
	var misread *calc.Misread
	var out *units.OutOfRange
	if errors.As(err, &missing) || errors.As(err, &misread) || errors.As(err, &out) {
		return usageError{err}
	}
	return refusal{err}
}

func (o *calcOptions) show(s *calc.Sheet) error {
	for _, f := range []struct{ path, format string }{{o.svg, "svg"}, {o.png, "png"}} {
		if f.path == "" {
			continue
		}
		if s.Chart == nil {
			return usageError{errors.New("there is nothing to draw here")}
		}
		if err := draw.File(s.Chart, f.path, f.format); err != nil {
			return err
		}
		fmt.Fprintf(o.err, "The chart is in %s\n", filepath.Clean(f.path))
	}
	if o.json {
		return printJSON(o.out, s)
	}
	for _, sentence := range s.Answer {
		fmt.Fprintln(o.out, sentence)
	}
	for _, c := range s.Cautions {
		fmt.Fprintln(o.out, "Careful: "+c)
	}
	o.items("Understood", s.Given)
	if len(s.Unused) > 0 {
		fmt.Fprintf(o.out, "\nNot used: %s\n", strings.Join(s.Unused, ", "))
	}
	o.items("Assumed", s.Assumed)
	o.steps(s.Steps)
	if s.Chart != nil {
		fmt.Fprintf(o.out, "\n%s\n", draw.Text(s.Chart, 0))
	}
	return nil
}

func (o *calcOptions) items(title string, items []calc.Item) {
	if len(items) == 0 {
		return
	}
	fmt.Fprintf(o.out, "\n%s:\n", title)
	for _, i := range items {
		line := "  " + i.Name + ": " + i.Value
		if i.Source != "" {
			line += " (" + i.Source + ")"
		}
		fmt.Fprintln(o.out, line)
	}
}

func (o *calcOptions) steps(steps []calc.Step) {
	t := table.NewWriter()
	t.SetStyle(table.StyleLight)
	t.AppendHeader(table.Row{"step", "value", "formula", ""})
	t.SetColumnConfigs([]table.ColumnConfig{
		{Number: 1, WidthMax: 34, WidthMaxEnforcer: text.WrapSoft}, {Number: 3, WidthMax: 46, WidthMaxEnforcer: text.WrapSoft},
	})
	var sources []string
	for _, s := range steps {
		note := ""
		if s.Source != "" {
			if !slices.Contains(sources, s.Source) {
				sources = append(sources, s.Source)
			}
			note = fmt.Sprintf("[%d]", slices.Index(sources, s.Source)+1)
		}
		value := s.Text
		if value == "" {
			value = calc.Show(s.Value, s.Unit)
		}
		t.AppendRow(table.Row{s.Name, value, s.Formula, note})
	}
	fmt.Fprintf(o.out, "\n%s\n", t.Render())
	for i, source := range sources {
		fmt.Fprintf(o.out, "[%d] %s\n", i+1, source)
	}
}
