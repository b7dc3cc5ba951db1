package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"conditiond/daemon"
)

func checkCommand() *cobra.Command {
	var config string
	c := &cobra.Command{
		Use:   "check --config FILE [LOT…]",
		Short: "Say what is wrong with the configuration and with lot documents",
		Long: `Reads the configuration and any lot documents and says every fault with its
file, line and column, the value that is wrong, and what would be right.`,
		Example: "  conditiond check --config /etc/conditiond/config.yaml spruce-tip.yaml",
		RunE: func(cmd *cobra.Command, args []string) error {
			return check(cmd, config, args)
		},
	}
	c.Flags().StringVar(&config, "config", "", "the configuration file")
	c.MarkFlagRequired("config")
	return c
}

func check(cmd *cobra.Command, config string, lots []string) error {
	c, warnings, err := daemon.CheckConfig(config)
	faults := []error{err}
	for _, w := range warnings {
		fmt.Fprintln(cmd.ErrOrStderr(), "warning:", w)
	}
	for _, path := range lots {
		_, err := c.LoadLot(path) // without a configuration, the document alone
		faults = append(faults, err)
	}
	if err := errors.Join(faults...); err != nil {
		return fault(err)
	}
	fmt.Fprintf(cmd.OutOrStdout(), "%s: nothing wrong", config)
	if len(lots) > 0 {
		fmt.Fprintf(cmd.OutOrStdout(), ", nor with %d lot documents", len(lots))
	}
	fmt.Fprintln(cmd.OutOrStdout())
	return nil
}
