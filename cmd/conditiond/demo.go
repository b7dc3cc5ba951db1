package main

import (
	"log/slog"
	"time"

	"github.com/spf13/cobra"

	"conditiond/daemon"
)

func demoCommand() *cobra.Command {
	d := daemon.Demo{Day: 4 * time.Second}
	c := &cobra.Command{
		Use:   "demo",
		Short: "The whole thing on this machine, with invented lots in quick time",
		Long: `Runs the broker, the journal and the page here, with no set-up and nothing left
behind, and lets five invented lots live through weeks in minutes: one gets
ready, one would pass its bottles' rating, one has a gauge bottle that leaks,
one stands in the cold, and one loses its gauge. Ctrl-C ends it.`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			ctx, stop := interrupted()
			defer stop()
			d.Out = cmd.OutOrStdout()
			d.Terminal = isTerminal(d.Out)
			log := slog.New(slog.NewTextHandler(cmd.ErrOrStderr(), &slog.HandlerOptions{Level: slog.LevelError}))
			return ended(d.Run(ctx, log))
		},
	}
	c.Flags().DurationVar(&d.Day, "day", d.Day, "how long a day of the demo takes")
	c.Flags().StringVar(&d.Listen, "listen", "127.0.0.1:8080", "where the page is served; another port is taken when this one is not free")
	c.Flags().DurationVar(&d.For, "for", 0, "end by itself after this time; 0 = go on")
	return c
}
