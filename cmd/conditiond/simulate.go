package main

import (
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"conditiond/daemon"
	"conditiond/model/synth"
)

func simulateCommand() *cobra.Command {
	s := daemon.Simulation{}
	var story string
	c := &cobra.Command{
		Use:   "simulate (--out DIR | --broker URL)",
		Short: "An invented lot, written as a recording or published to a broker",
		Long: `Lets an invented lot happen and writes what its sensors say, either into a folder
that replay reads (config.yaml, lot.yaml, messages.ndjson.gz), or to a broker in
the time they take. The same seed gives the same lot.

Stories: healthy, over-primed, unfinished, leak, stalled, late, silent,
heat-wave, chilled.`,
		Example: `  conditiond simulate --story leak --seed 7 --out /tmp/leak
  conditiond replay --config /tmp/leak/config.yaml --lot /tmp/leak/lot.yaml /tmp/leak/messages.ndjson.gz`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			s.Story = synth.Story(story)
			if !daemon.IsStory(s.Story) {
				return fmt.Errorf("--story %q: none of those that --help lists", story)
			}
			if (s.Out == "") == (s.Broker == "") {
				return fmt.Errorf("either --out or --broker is needed, not both")
			}
			ctx, stop := interrupted()
			defer stop()
			return ended(s.Run(ctx, cmd.OutOrStdout()))
		},
	}
	c.Flags().StringVar(&story, "story", string(synth.Healthy), "what happens to the lot")
	c.Flags().Uint64Var(&s.Seed, "seed", 1, "which lot of that story")
	c.Flags().IntVar(&s.Days, "days", 30, "how long")
	c.Flags().StringVar(&s.Out, "out", "", "the folder to write")
	c.Flags().StringVar(&s.Broker, "broker", "", "the broker to publish to, such as mqtt://127.0.0.1:1883")
	c.Flags().DurationVar(&s.Day, "day", 24*time.Hour, "how long a day takes when publishing; the daemon that listens dates readings by its own clock")
	return c
}
