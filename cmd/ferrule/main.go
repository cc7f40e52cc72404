// Command ferrule is a chat bot that helps technicians find a fault in an
// intruder alarm system. Without arguments it opens a conversation in the
// terminal. This package only wires the others together: one file for each
// group of commands.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"

	"ferrule/knowledge"
	"ferrule/store"
)

// version of the program, recorded with each verdict.
const version = "0.1.0"

// The exit codes.
const (
	exitDone     = 0
	exitNo       = 1 // the answer is no: a check found faults
	exitUsage    = 2 // wrong use
	exitResource = 3 // the store or another resource can't be used
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	os.Exit(run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}

// usageError marks wrong use of the command line.
type usageError struct{ error }

func (e usageError) Unwrap() error { return e.error }

// refusal is an answer of "no" that was already printed.
type refusal struct{ error }

func (e refusal) Unwrap() error { return e.error }

// run is the program without the process around it.
func run(ctx context.Context, args []string, in io.Reader, out, errOut io.Writer) int {
	cmd := rootCommand(streams{in, out, errOut})
	cmd.SetArgs(args)
	cmd.SetIn(in)
	cmd.SetOut(out)
	cmd.SetErr(errOut)
	return exitCode(cmd.ExecuteContext(ctx), errOut)
}

func exitCode(err error, errOut io.Writer) int {
	if err == nil {
		return exitDone
	}
	if problems := (knowledge.Problems)(nil); errors.As(err, &problems) {
		fmt.Fprintln(errOut, problems.Error())
		what := "1 problem"
		if len(problems) != 1 {
			what = fmt.Sprintf("%d problems", len(problems))
		}
		fmt.Fprintf(errOut, "ferrule: the pack has %s; nothing was started\n", what)
		return exitNo
	}
	var no refusal
	if errors.As(err, &no) {
		fmt.Fprintln(errOut, "ferrule:", err)
		return exitNo
	}
	fmt.Fprintln(errOut, "ferrule:", err)
	switch {
	case errors.As(err, new(usageError)):
		fmt.Fprintln(errOut, "Say ferrule help for the commands.")
		return exitUsage
	case errors.Is(err, store.ErrNotFound):
		return exitNo
	}
	return exitResource
}
