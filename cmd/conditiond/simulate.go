package main

import (
	"errors"
	"fmt"
	"io/fs"
	"time"

	"github.com/spf13/cobra"

	"conditiond/daemon"
	"conditiond/model/synth"
)

func simulateCommand() *cobra.Command {
	s := daemon.Simulation{}
	var family string
	c := &cobra.Command{
		Use:   "simulate (--out DIR | --broker URL)",
		Short: "Invented lots, written as recordings with their truth or published to a broker",
		Long: `Lets invented lots happen. With --out each becomes a folder that replay reads:
config.yaml, lot.yaml as its brewer believes it to be, messages.ndjson.gz, and
truth.json with what really was. With --broker they are published in the time
they take. The same seed gives the same lots.

Families, which take turns: healthy-gauge, healthy-no-gauge, cold-closet,
daily-swing, warm, strong-old, lager, mixed-sugars, drops, over-primed,
unfinished, late-attenuation, leak-start, leak-later, stalled, heat-wave,
chilled, moved, sensor-drift, sensor-faults, high-altitude.`,
		Example: `  conditiond simulate --lots 50 --seed 7 --out /tmp/lots
  conditiond simulate --family leak-later --seed 7 --out /tmp/leak
  cd /tmp/leak/invented-7-000
  conditiond replay --config config.yaml --lot lot.yaml messages.ndjson.gz`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			s.Family = synth.Family(family)
			if err := s.Check(); err != nil {
				return err
			}
			if s.Out == "" && s.Broker == "" {
				return fmt.Errorf("--out or --broker is needed")
			}
			if s.Lots < 1 {
				return fmt.Errorf("--lots %d: 1 or more would be right", s.Lots)
			}
			ctx, stop := interrupted()
			defer stop()
			s.Terminal = isTerminal(cmd.OutOrStdout())
			err := s.Run(ctx, cmd.OutOrStdout())
			if errors.Is(err, fs.ErrExist) {
				return fault(err)
			}
			return ended(err)
		},
	}
	c.Flags().StringVar(&family, "family", "", "only lots of this kind")
	c.Flags().IntVar(&s.Lots, "lots", 1, "how many")
	c.Flags().Uint64Var(&s.Seed, "seed", 1, "which ones")
	c.Flags().IntVar(&s.Days, "days", 0, "longest recording in days; 0 = as the lot needs")
	c.Flags().StringVar(&s.Out, "out", "", "the folder to write to, a folder a lot")
	c.Flags().StringVar(&s.Broker, "broker", "", "the broker to publish to, such as mqtt://127.0.0.1:1883")
	c.Flags().DurationVar(&s.Day, "day", 24*time.Hour, "how long a day takes when publishing; the daemon that listens dates readings by its own clock")
	return c
}
