package main

import (
	"fmt"
	"io"
	"os"
	"time"

	"github.com/spf13/cobra"

	"conditiond/daemon"
	"conditiond/model"
)

func replayCommand() *cobra.Command {
	var config, until string
	var lots []string
	var every time.Duration
	c := &cobra.Command{
		Use:   "replay --config FILE --lot LOT [--lot LOT…] FILE|-",
		Short: "Run recorded messages through the same path as live ones",
		Long: `Reads messages as a stock MQTT subscriber prints them in its JSON format, one a
line, plain or gzipped, and writes what the daemon would have said, as JSON
lines: an estimate of each lot every so often, and each change of an alert. The
same input gives the same bytes.`,
		Example: `  mosquitto_sub -t '#' -F %J > closet.ndjson
  conditiond replay --config config.yaml --lot lot.yaml closet.ndjson`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			r := daemon.Replay{Every: every}
			if until != "" {
				t, err := time.Parse(time.RFC3339, until)
				if err != nil {
					return fmt.Errorf("--until %q: a time like 2026-03-20T18:00:00Z would be right", until)
				}
				r.Until = t
			}
			if every <= 0 {
				return fmt.Errorf("--every %s: a time above zero, like 1h, would be right", every)
			}
			return replay(cmd, &r, config, lots, args[0])
		},
	}
	c.Flags().StringVar(&config, "config", "", "the configuration file")
	c.Flags().StringArrayVar(&lots, "lot", nil, "a lot document; may be given more than once")
	c.Flags().DurationVar(&every, "every", time.Hour, "recorded time between estimates")
	c.Flags().StringVar(&until, "until", "", "stop at this time, or go on to it after the recording ends")
	c.MarkFlagRequired("config")
	c.MarkFlagRequired("lot")
	return c
}

func replay(cmd *cobra.Command, r *daemon.Replay, config string, lots []string, recording string) error {
	c, _, err := daemon.ReadConfig(config)
	if err != nil {
		return fault(err)
	}
	r.Config = c
	if r.Lots, err = loadLots(c, lots); err != nil {
		return fault(err)
	}
	in, err := openInput(cmd, recording)
	if err != nil {
		return fault(err)
	}
	defer in.Close()
	unread := 0
	r.Unread = func(line int, err error) {
		unread++
		fmt.Fprintf(cmd.ErrOrStderr(), "%s:%d: left out: %v\n", recording, line, err)
	}
	if err := r.Run(in, cmd.OutOrStdout()); err != nil {
		return fault(err)
	}
	if unread > 0 {
		fmt.Fprintf(cmd.ErrOrStderr(), "%s: %d lines left out\n", recording, unread)
	}
	return nil
}

func loadLots(c *daemon.Config, paths []string) ([]model.Lot, error) {
	var out []model.Lot
	for _, p := range paths {
		l, err := c.LoadLot(p)
		if err != nil {
			return nil, err
		}
		out = append(out, l)
	}
	return out, nil
}

// openInput is a file, or standard input for "-".
func openInput(cmd *cobra.Command, path string) (io.ReadCloser, error) {
	if path == "-" {
		return io.NopCloser(cmd.InOrStdin()), nil
	}
	return os.Open(path)
}
