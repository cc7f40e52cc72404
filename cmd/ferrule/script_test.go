package main

import (
	"context"
	"os"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"ferrule": func() {
			os.Exit(run(context.Background(), os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
		},
	})
}

func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Setup: func(e *testscript.Env) error {
			e.Setenv("XDG_DATA_HOME", e.WorkDir+"/data")
			e.Setenv("XDG_STATE_HOME", e.WorkDir+"/state")
			e.Setenv("HOME", e.WorkDir)
			e.Setenv("TZ", "UTC")
			return nil
		},
	})
}
