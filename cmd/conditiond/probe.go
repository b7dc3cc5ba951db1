package main

import (
	"errors"
	"fmt"
	"log/slog"
	"time"

	"github.com/spf13/cobra"

	"conditiond/daemon"
	"conditiond/daemon/intake"
)

func probeCommand() *cobra.Command {
	var config string
	var list bool
	p := daemon.Probe{}
	c := &cobra.Command{
		Use:   "probe --config FILE",
		Short: "Publish this machine's own sensors to the broker",
		Long: `Reads the sensors that the kernel of this machine knows (1-Wire thermometers; air
pressure, temperature and analogue inputs of industrial I/O) and publishes each
to the configuration's broker, below the topic prefix:

  probe/28-00000a1b2c3d   {"value":19.6,"unit":"C","time":"…","seq":17}
  probe/status            online, or offline when this program is gone

Units are C, kPa (of the air, absolute) and V. A sensor that can't be believed
publishes null and why. While the broker is away readings are dropped.`,
		Example: `  conditiond probe --list
  conditiond probe --config /etc/conditiond/config.yaml
  conditiond probe calibrate ads1115/voltage0 --unit bar`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if list {
				return failed(p.List(cmd.OutOrStdout()))
			}
			if config == "" {
				return fmt.Errorf("--config or --list is needed")
			}
			if p.Interval < time.Second {
				return fmt.Errorf("--interval %s: 1s or more would be right", p.Interval)
			}
			c, _, err := daemon.ReadConfig(config)
			if err != nil {
				return fault(err)
			}
			ctx, stop := interrupted()
			defer stop()
			return ended(p.Run(ctx, c, slog.New(slog.NewTextHandler(cmd.ErrOrStderr(), nil))))
		},
	}
	c.Flags().StringVar(&config, "config", "", "the configuration file, for the broker")
	c.Flags().BoolVar(&list, "list", false, "say what is there, with lines for the configuration, and end")
	c.Flags().StringVar(&p.Prefix, "topic", "probe", "what the topics begin with; another one on each machine")
	c.Flags().DurationVar(&p.Interval, "interval", time.Minute, "between readings")
	c.Flags().IntVar(&p.Rounds, "rounds", 0, "end after so many readings of each; 0 = go on")
	c.PersistentFlags().StringVar(&p.Sysfs, "sysfs", "", "the kernel's tree, where it isn't /sys")
	c.AddCommand(calibrateCommand(&p.Sysfs))
	return c
}

func calibrateCommand(sysfs *string) *cobra.Command {
	g := daemon.Guide{}
	var unit string
	c := &cobra.Command{
		Use:   "calibrate SENSOR --unit UNIT",
		Short: "Calibrate a gauge on an analogue input, step by step",
		Long: `Asks for the gauge to be open to the air, and then for a pressure that another
gauge shows, and prints the calibration line for the configuration. With --scale,
from the gauge's sheet, the first step alone is done. The configuration isn't
touched.`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			g.Sysfs, g.Name, g.Unit = *sysfs, args[0], intake.Unit(unit)
			g.In, g.Out = cmd.InOrStdin(), cmd.OutOrStdout()
			ctx, stop := interrupted()
			defer stop()
			err := g.Run(ctx)
			if errors.Is(err, daemon.ErrCalibration) {
				return fault(err)
			}
			return ended(err)
		},
	}
	c.Flags().StringVar(&unit, "unit", "", "the gauge's unit: bar kPa hPa MPa psi")
	c.MarkFlagRequired("unit")
	c.Flags().Float64Var(&g.Scale, "scale", 0, "units to a volt, from the gauge's sheet, where there is no second gauge")
	c.Flags().IntVar(&g.Times, "times", 20, "readings to a point")
	c.Flags().DurationVar(&g.Every, "every", 250*time.Millisecond, "between readings")
	return c
}
