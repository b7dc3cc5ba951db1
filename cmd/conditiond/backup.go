package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"conditiond/daemon"
)

func backupCommand() *cobra.Command {
	var config string
	c := &cobra.Command{
		Use:   "backup FILE",
		Short: "Copy the journal, whole and consistent, also while the daemon runs",
		Args:  cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			c, _, err := daemon.ReadConfig(config)
			if err != nil {
				return fault(err)
			}
			if err := daemon.Backup(cmd.Context(), c, args[0]); err != nil {
				return failed(err)
			}
			fmt.Fprintf(cmd.OutOrStdout(), "The journal is copied to %s.\n", args[0])
			return nil
		},
	}
	c.Flags().StringVar(&config, "config", "/etc/conditiond/config.yaml", "the configuration file")
	return c
}

func restoreCommand() *cobra.Command {
	var config string
	c := &cobra.Command{
		Use:   "restore FILE",
		Short: "Put a backup in the journal's place; what was there is kept beside it",
		Args:  cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			c, _, err := daemon.ReadConfig(config)
			if err != nil {
				return fault(err)
			}
			aside, err := daemon.Restore(cmd.Context(), c, args[0])
			if err != nil {
				return failed(err)
			}
			fmt.Fprintf(cmd.OutOrStdout(), "The journal is restored from %s.\n", args[0])
			if aside != "" {
				fmt.Fprintf(cmd.OutOrStdout(), "What was there before is kept as %s.\n", aside)
			}
			return nil
		},
	}
	c.Flags().StringVar(&config, "config", "/etc/conditiond/config.yaml", "the configuration file")
	return c
}
