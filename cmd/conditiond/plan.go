package main

import (
	"encoding/json"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"conditiond/daemon"
	"conditiond/model"
	"conditiond/model/plan"
)

// pageWidth fits a phone's terminal and a printed page.
const pageWidth = 64

func planCommand() *cobra.Command {
	var config string
	var asJSON, asHTML bool
	var altitude, room float64
	c := &cobra.Command{
		Use:   "plan LOT",
		Short: "The bottling-day plan for a lot document",
		Long: `Reads a lot document and says how much of which sugar the beer in the bucket
needs, what each bottle then holds against what it is rated for, and what to look
at first. LOT may be - for standard input. What isn't known on bottling day yet
may be left out of the document: packaged_at, space, and how much priming.

The first line is what to do first. A plan that says HOLD was made all the same,
so it exits with 0; scripts read "hold" in the JSON. A document at fault exits
with 1.`,
		Example: `  conditiond plan spruce-tip-04.yaml
  conditiond plan --html spruce-tip-04.yaml > plan.html`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if config != "" {
				c, _, err := daemon.ReadConfig(config)
				if err != nil {
					return fault(err)
				}
				altitude = c.Site.Altitude
			}
			p, err := planLot(args[0], plan.Site{AltitudeM: altitude, RoomC: model.Celsius(room)})
			if err != nil {
				return fault(err)
			}
			return failed(printPlan(cmd.OutOrStdout(), p, asJSON, asHTML))
		},
	}
	c.Flags().StringVar(&config, "config", "", "the configuration file, for the site's altitude")
	c.Flags().Float64Var(&altitude, "altitude", 0, "the site's altitude in metres, where no configuration is given")
	c.Flags().Float64Var(&room, "room", 20, "the temperature in °C of the room where the bottles will stand")
	c.Flags().BoolVar(&asJSON, "json", false, "as JSON")
	c.Flags().BoolVar(&asHTML, "html", false, "as one page for a browser or a printer")
	c.MarkFlagsMutuallyExclusive("json", "html")
	return c
}

func planLot(path string, site plan.Site) (*plan.Plan, error) {
	l, err := daemon.LoadDraft(path)
	if err != nil {
		return nil, err
	}
	return plan.New(l, site)
}

func printPlan(out io.Writer, p *plan.Plan, asJSON, asHTML bool) error {
	switch {
	case asJSON:
		e := json.NewEncoder(out)
		e.SetIndent("", "  ")
		return e.Encode(p)
	case asHTML:
		return p.HTML(out)
	}
	_, err := fmt.Fprint(out, p.Text(pageWidth))
	return err
}
