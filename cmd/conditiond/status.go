package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"
)

func statusCommand() *cobra.Command {
	var config string
	var asJSON bool
	c := &cobra.Command{
		Use:   "status [--json]",
		Short: "What the daemon says of every lot",
		Args:  cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			d, err := openDesk(cmd.Context(), config, cmd.ErrOrStderr())
			if err != nil {
				return err
			}
			defer d.close()
			if asJSON {
				return statusJSON(cmd.Context(), d, cmd.OutOrStdout())
			}
			return status(cmd.Context(), d, cmd.OutOrStdout())
		},
	}
	c.Flags().StringVar(&config, "config", "/etc/conditiond/config.yaml", "the configuration file")
	c.Flags().BoolVar(&asJSON, "json", false, "as JSON, with all that is known")
	return c
}

func statusJSON(ctx context.Context, d *desk, out io.Writer) error {
	var lots json.RawMessage
	if err := d.ask(ctx, "GET", "/lots", nil, &lots); err != nil {
		return err
	}
	e := json.NewEncoder(out)
	e.SetIndent("", "  ")
	return e.Encode(lots)
}

func sayWhy(out io.Writer, summary, advice string) {
	fmt.Fprintf(out, "    %s\n    %s\n", summary, strings.ReplaceAll(advice, "\n", "\n    "))
}

// status says each lot in a line, and each of its open alerts, and why it is on
// hold, with what to do.
func status(ctx context.Context, d *desk, out io.Writer) error {
	var lots []lotAnswer
	if err := d.ask(ctx, "GET", "/lots", nil, &lots); err != nil {
		return err
	}
	if len(lots) == 0 {
		return listLots(ctx, d, out, nil)
	}
	for _, l := range lots {
		fmt.Fprintln(out, lotLine(l))
		h := l.Hold
		for _, a := range l.Alerts {
			sayWhy(out, a.Summary, a.Advice)
			if h != nil && a.Summary == h.Summary {
				h = nil // said
			}
		}
		if h != nil {
			sayWhy(out, h.Summary, h.Advice)
		}
	}
	return nil
}
