package main

import (
	"errors"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"conditiond/daemon"
)

func notifyCommand() *cobra.Command {
	c := &cobra.Command{Use: "notify", Short: "The ways in which people are told"}
	var config string
	test := &cobra.Command{
		Use:   "test [RECIPIENT…]",
		Short: "Send a test notice to each recipient of the configuration, or to those named",
		RunE: func(cmd *cobra.Command, args []string) error {
			c, _, err := daemon.LoadConfig(config)
			if err != nil {
				return fault(err)
			}
			return notifyTest(cmd, c, args)
		},
	}
	test.Flags().StringVar(&config, "config", "/etc/conditiond/config.yaml", "the configuration file")
	c.AddCommand(test)
	return c
}

func notifyTest(cmd *cobra.Command, c *daemon.Config, names []string) error {
	if len(c.Notify) == 0 {
		return fault(errors.New("the configuration names no recipients: add some under notify"))
	}
	var failures []error
	sent := 0
	for _, n := range c.Notify {
		if len(names) > 0 && !slices.Contains(names, n.Name) {
			continue
		}
		sent++
		if err := daemon.TestNotice(cmd.Context(), c, n); err != nil {
			failures = append(failures, fmt.Errorf("%s: %w", n.Name, err))
			continue
		}
		fmt.Fprintf(cmd.OutOrStdout(), "%s has taken the test notice. Look whether it arrived.\n", n.Name)
	}
	if sent == 0 {
		return fault(fmt.Errorf("none of %q is a recipient of the configuration", names))
	}
	return failed(errors.Join(failures...))
}
