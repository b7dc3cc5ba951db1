package main

import (
	"os"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	os.Setenv("CONDITIOND_CLOCK", "set") // not every machine that tests has its clock set by a network
	testscript.Main(m, map[string]func(){"conditiond": main})
}

// TestScripts plays testdata/*.txtar, which read as the manual: what is typed,
// what is printed, what it exits with.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "testdata",
		Setup: func(e *testscript.Env) error {
			e.Setenv("TZ", "UTC")
			return nil
		},
		Cmds:          map[string]func(*testscript.TestScript, bool, []string){"exits": exits},
		UpdateScripts: os.Getenv("UPDATE_SCRIPTS") != "",
	})
}

// exits runs a command and wants this code: exits 1 conditiond check …
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits CODE COMMAND…")
	}
	err := ts.Exec(args[1], args[2:]...)
	got := "0"
	if err != nil {
		got = exitCode(err)
	}
	if got != args[0] {
		ts.Fatalf("exited with %s, want %s", got, args[0])
	}
}

func exitCode(err error) string {
	type coder interface{ ExitCode() int }
	if c, ok := err.(coder); ok {
		return string(rune('0' + c.ExitCode()))
	}
	return err.Error()
}
