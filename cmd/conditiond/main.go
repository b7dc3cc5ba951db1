// Command conditiond watches bottles while they carbonate. This folder is the
// program's outside: a file a subcommand, each of them thin; main_test.go plays
// the scripts in testdata, which read as the manual.
package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	_ "time/tzdata" // zones, on machines that have none

	"github.com/spf13/cobra"
)

func main() { os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) }

// Exit codes.
const (
	done        = 0
	atFault     = 1 // the input or the lot
	wrongUsage  = 2
	environment = 3 // broker, disk, network
)

// exit carries the code that an error ends the program with.
type exit struct {
	code int
	err  error
}

func (e exit) Error() string { return e.err.Error() }
func (e exit) Unwrap() error { return e.err }

func fault(err error) error {
	if err == nil {
		return nil
	}
	return exit{atFault, err}
}

func failed(err error) error {
	if err == nil {
		return nil
	}
	return exit{environment, err}
}

// run is the program: its arguments in, its exit code out.
func run(args []string, in io.Reader, out, errs io.Writer) int {
	root := &cobra.Command{
		Use:   "conditiond",
		Short: "Watch bottles while they carbonate",
		Long: `conditiond plans a bottling day, listens to a thermometer and a gauged test
bottle over MQTT, says how far carbonation has come and how sure that is, and
tells somebody before a bottle holds more than it is rated for.

Start with:  conditiond demo`,
		SilenceUsage: true, SilenceErrors: true,
		CompletionOptions: cobra.CompletionOptions{HiddenDefaultCmd: true},
	}
	root.SetArgs(args)
	root.SetIn(in)
	root.SetOut(out)
	root.SetErr(errs)
	root.AddCommand(
		runCommand(), demoCommand(), checkCommand(), planCommand(), lotCommand(), statusCommand(), chartCommand(), whatIfCommand(),
		replayCommand(), simulateCommand(), notifyCommand(), backupCommand(), restoreCommand(), selftestCommand(), probeCommand(), setupCommand(),
	)
	root.AddCommand(forPackagers()...)
	err := root.Execute()
	if err == nil {
		return done
	}
	fmt.Fprintln(errs, "conditiond:", err)
	var e exit
	if errors.As(err, &e) {
		return e.code
	}
	fmt.Fprintln(errs, "Try conditiond --help.")
	return wrongUsage
}
