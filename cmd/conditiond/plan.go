package main

import (
	"encoding/json"
	"fmt"

	"github.com/spf13/cobra"

	"conditiond/daemon"
	"conditiond/model/plan"
)

// pageWidth fits a phone's terminal and a printed page.
const pageWidth = 64

func planCommand() *cobra.Command {
	var config string
	var asJSON bool
	var altitude float64
	c := &cobra.Command{
		Use:   "plan LOT",
		Short: "The bottling-day plan for a lot document",
		Long: `Reads a lot document and says how much of which sugar the beer in the bucket
needs, what each bottle then holds against what it is rated for, and what to look
at first. LOT may be - for standard input.`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if config != "" {
				c, _, err := daemon.ReadConfig(config)
				if err != nil {
					return fault(err)
				}
				altitude = c.Site.Altitude
			}
			return planLot(cmd, args[0], altitude, asJSON)
		},
	}
	c.Flags().StringVar(&config, "config", "", "the configuration file, for the site's altitude")
	c.Flags().Float64Var(&altitude, "altitude", 0, "the site's altitude in metres, where no configuration is given")
	c.Flags().BoolVar(&asJSON, "json", false, "as JSON")
	return c
}

func planLot(cmd *cobra.Command, path string, altitude float64, asJSON bool) error {
	l, err := daemon.LoadLot(path)
	if err != nil {
		return fault(err)
	}
	p, err := plan.New(l, plan.Site{AltitudeM: altitude})
	if err != nil {
		return fault(err)
	}
	if asJSON {
		e := json.NewEncoder(cmd.OutOrStdout())
		e.SetIndent("", "  ")
		return e.Encode(p)
	}
	fmt.Fprint(cmd.OutOrStdout(), p.Text(pageWidth))
	return nil
}
