package main

import (
	"github.com/spf13/cobra"

	"conditiond/daemon"
)

func selftestCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "selftest",
		Short: "Try on this machine what the program can't do without",
		Long: `Works out some published values, starts the built-in broker and the page on free
loopback ports with a journal in a temporary folder, publishes a reading, asks
the page for it, and opens the journal again. It says what it did and leaves
nothing behind. It exits with 3 when something doesn't work here.`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			ctx, stop := interrupted()
			defer stop()
			return failed(daemon.SelfTest(ctx, cmd.OutOrStdout()))
		},
	}
}
