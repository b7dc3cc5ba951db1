package main

import (
	"errors"
	"fmt"
	"os"
	"time"

	"github.com/spf13/cobra"

	"conditiond/daemon"
)

func setupCommand() *cobra.Command {
	s := daemon.Setup{}
	var given string
	c := &cobra.Command{
		Use:   "setup",
		Short: "Ask what a configuration needs, listen for sensors, and write it",
		Long: `Asks a few questions, listens on the broker for a while and shows every number
that passes with what it looks like, asks which of them are the sensors and in
which unit each sends, and writes a configuration that passes the check. Secrets
go into files of their own. What is there already is never overwritten.`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			s.In, s.Out = cmd.InOrStdin(), cmd.OutOrStdout()
			if given != "" {
				f, err := os.Open(given)
				if err != nil {
					return fault(err)
				}
				defer f.Close()
				s.In, s.Echo = f, true
			}
			return setup(cmd, &s)
		},
	}
	c.Flags().StringVar(&s.Path, "out", "/etc/conditiond/config.yaml", "the configuration to write")
	c.Flags().StringVar(&s.Secrets, "secrets", daemon.ServiceSecrets, "the folder for secrets")
	c.Flags().DurationVar(&s.Listen, "listen", 90*time.Second, "how long to listen for sensors")
	c.Flags().StringVar(&given, "answers", "", "take the answers from this file, a line each")
	return c
}

func setup(cmd *cobra.Command, s *daemon.Setup) error {
	// An interrupt ends it where it stands, at a question too: the configuration is
	// written at the end.
	err := s.Run(cmd.Context())
	switch {
	case errors.Is(err, daemon.ErrAnswers):
		return fault(err)
	case err != nil:
		return ended(err)
	}
	fmt.Fprintf(cmd.OutOrStdout(), `
What comes next:
  conditiond check --config %[1]s
  sudo systemctl enable --now conditiond
`, s.Path)
	if c, _, err := cmd.Root().Find([]string{"notify", "test"}); err == nil && c.Name() == "test" {
		fmt.Fprintf(cmd.OutOrStdout(), "  conditiond notify test --config %s\n", s.Path)
	}
	return nil
}
