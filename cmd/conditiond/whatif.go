package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/url"
	"strconv"
	"time"

	"github.com/spf13/cobra"
)

func whatIfCommand() *cobra.Command {
	var config, from, until string
	var at float64
	var asJSON bool
	c := &cobra.Command{
		Use:   "whatif LOT --at CELSIUS [--from TIME] [--until TIME] [--json]",
		Short: "What a lot would come to at another temperature",
		Long: `whatif runs a lot's forecast as if its bottles stood at another temperature, from
now on or for a spell, and says it beside the forecast for where they stand.
Times are RFC 3339, such as 2026-03-07T12:00:00+01:00.`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			d, err := openDesk(cmd.Context(), config, cmd.ErrOrStderr())
			if err != nil {
				return err
			}
			defer d.close()
			q := url.Values{"at": {strconv.FormatFloat(at, 'f', -1, 64)}}
			for name, v := range map[string]string{"from": from, "until": until} {
				if v != "" {
					q.Set(name, v)
				}
			}
			return whatIf(cmd.Context(), d, cmd.OutOrStdout(), "/lots/"+url.PathEscape(args[0])+"/whatif?"+q.Encode(), asJSON)
		},
	}
	c.Flags().StringVar(&config, "config", "/etc/conditiond/config.yaml", "the configuration file")
	c.Flags().Float64Var(&at, "at", 0, "the temperature in °C")
	c.Flags().StringVar(&from, "from", "", "when it begins; left out: now")
	c.Flags().StringVar(&until, "until", "", "when it ends; left out: never")
	c.Flags().BoolVar(&asJSON, "json", false, "as JSON, with all that is known")
	c.MarkFlagRequired("at")
	return c
}

func whatIf(ctx context.Context, d *desk, out io.Writer, path string, asJSON bool) error {
	var raw json.RawMessage
	if err := d.ask(ctx, "GET", path, nil, &raw); err != nil {
		return err
	}
	if asJSON {
		e := json.NewEncoder(out)
		e.SetIndent("", "  ")
		return e.Encode(raw)
	}
	var a struct {
		AtC    float64   `json:"at_c"`
		AsItIs *forecast `json:"as_it_is"`
		WhatIf *forecast `json:"what_if"`
	}
	if err := json.Unmarshal(raw, &a); err != nil {
		return failed(fmt.Errorf("reading the daemon's answer: %w", err))
	}
	if a.WhatIf == nil || a.WhatIf.PeakBar == nil {
		fmt.Fprintln(out, "nothing has been read of this lot yet")
		return nil
	}
	fmt.Fprintln(out, "as it is:   ", a.AsItIs)
	fmt.Fprintf(out, "at %5.1f °C: %s\n", a.AtC, a.WhatIf)
	return nil
}

// forecast is what of an estimate lies ahead.
type forecast struct {
	ReadyAt      *struct{ P05, P50, P95 *time.Time } `json:"ready_at"`
	FinalVolumes *struct{ P05, P50, P95 float64 }    `json:"final_volumes"`
	PeakBar      *struct{ P05, P50, P95 float64 }    `json:"peak_bar"`
}

// String is it in a line.
func (e *forecast) String() string {
	ready := "never ready"
	if w := e.ReadyAt; w != nil && w.P50 != nil {
		ready = "ready " + date(w.P50) + " (" + date(w.P05) + " to " + date(w.P95) + ")"
	}
	return fmt.Sprintf("%s, %.1f volumes (%.1f to %.1f), highest %.1f bar (%.1f to %.1f)", ready,
		e.FinalVolumes.P50, e.FinalVolumes.P05, e.FinalVolumes.P95, e.PeakBar.P50, e.PeakBar.P05, e.PeakBar.P95)
}

func date(t *time.Time) string {
	if t == nil {
		return "unknown"
	}
	return t.Local().Format("2 Jan 2006")
}
