package main

import (
	"context"
	"errors"
	"log/slog"
	"os"
	"os/signal"
	"syscall"

	"github.com/spf13/cobra"

	"conditiond/daemon"
)

func runCommand() *cobra.Command {
	var config string
	c := &cobra.Command{
		Use:   "run --config FILE",
		Short: "The daemon: listen, estimate, tell",
		Long: `Listens to the broker, journals every reading, estimates each open lot, tells
the recipients of the configuration what they need to know, and serves the page.
It ends cleanly on an interrupt or SIGTERM; a second one ends it at once.`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			c, warnings, err := daemon.LoadConfig(config)
			if err != nil {
				return fault(err)
			}
			log := slog.New(slog.NewTextHandler(cmd.ErrOrStderr(), nil))
			for _, w := range warnings {
				log.Warn("configuration", "warning", w.Error())
			}
			ctx, stop := interrupted()
			defer stop()
			return ended(daemon.Run(ctx, c, log))
		},
	}
	c.Flags().StringVar(&config, "config", "", "the configuration file")
	c.MarkFlagRequired("config")
	return c
}

// interrupted ends with the first interrupt; the second has its usual force.
func interrupted() (context.Context, context.CancelFunc) {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop)
	return ctx, stop
}

func ended(err error) error {
	if errors.Is(err, context.Canceled) {
		return nil
	}
	return failed(err)
}
