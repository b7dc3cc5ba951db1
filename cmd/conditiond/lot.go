package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"conditiond/daemon"
	"conditiond/daemon/engine"
)

func lotCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "lot",
		Short: "The life of a lot: open, list, show, note, chill, close",
		Long: `Hands commands to the running daemon, or writes them straight to the journal
when no daemon runs.`,
	}
	var config string
	c.PersistentFlags().StringVar(&config, "config", "/etc/conditiond/config.yaml", "the configuration file")
	with := func(do errand) func(*cobra.Command, []string) error {
		return func(cmd *cobra.Command, args []string) error {
			d, err := openDesk(cmd.Context(), config, cmd.ErrOrStderr())
			if err != nil {
				return err
			}
			defer d.close()
			return do(cmd.Context(), d, cmd.OutOrStdout(), args)
		}
	}
	c.AddCommand(
		&cobra.Command{Use: "open LOT", Short: "Begin watching a lot; LOT is its document, - is standard input", Args: cobra.ExactArgs(1), RunE: with(openLot)},
		&cobra.Command{Use: "list", Short: "List the lots", Args: cobra.NoArgs, RunE: with(listLots)},
		&cobra.Command{Use: "show ID", Short: "Show a lot, its latest estimate and its record, as JSON", Args: cobra.ExactArgs(1), RunE: with(showLot)},
		noteCommand(with),
		&cobra.Command{Use: "chill ID [TEXT…]", Short: "Say that the lot was put in the cold", Args: cobra.MinimumNArgs(1), RunE: with(deed("chill", "is chilled"))},
		&cobra.Command{Use: "close ID [TEXT…]", Short: "End the watch: the last bottle is drunk or gone", Args: cobra.MinimumNArgs(1), RunE: with(deed("close", "is closed"))},
	)
	return c
}

// errand at the desk, with its arguments.
type errand func(context.Context, *desk, io.Writer, []string) error

func noteCommand(with func(errand) func(*cobra.Command, []string) error) *cobra.Command {
	var seen, saw string
	var volumes, bar, beer float64
	c := &cobra.Command{
		Use:   "note ID [TEXT…]",
		Short: "Write into the lot's record what was seen, done or measured",
		Long: `Writes into the lot's record what was seen or done, or what was measured in one
of its bottles. One that has more or less than chance explains puts the lot on
hold, until a note with --saw decided says who decided, and what.

Open or pierce only a cold bottle, wrapped, over a sink, with eye protection.`,
		Example: `  conditiond lot note spruce-tip-04 one cap was dented
  conditiond lot note spruce-tip-04 --saw moved
  conditiond lot note spruce-tip-04 --volumes 2.92 the last crate
  conditiond lot note spruce-tip-04 --bar 0.9 --beer-c 4 bottle 310
  conditiond lot note spruce-tip-04 --saw decided Kim: the last crate stays here`,
		Args: cobra.MinimumNArgs(1),
	}
	c.Flags().StringVar(&saw, "saw", "", "what was seen or done: burst, bang, domed-cap, wet-carton, gusher, squeeze (a plastic bottle is hard), moved, opened-flat, opened-ready, or decided (on a lot on hold)")
	c.Flags().StringVar(&seen, "seen", "", "when it was, if not now: 2026-03-08T19:30:00+01:00")
	c.Flags().Float64Var(&volumes, "volumes", 0, "what one bottle held, all CO2 per volume of its beer: 0 to 10")
	c.Flags().Float64Var(&bar, "bar", 0, "or its pressure at rest above the air's, in bar: 0 to 12, with --beer-c")
	c.Flags().Float64Var(&beer, "beer-c", 0, "how warm its beer was then, in °C: 0 to 40")
	c.RunE = with(func(ctx context.Context, d *desk, out io.Writer, args []string) error {
		said := map[string]any{"text": strings.Join(args[1:], " ")}
		if saw != "" {
			said["saw"] = saw
		}
		for flag, v := range map[string]float64{"volumes": volumes, "bar": bar, "beer-c": beer} {
			if c.Flags().Changed(flag) {
				said[strings.ReplaceAll(flag, "-", "_")] = v
			}
		}
		return noteLot(ctx, d, out, args[0], said, seen)
	})
	return c
}

// lotAnswer is a lot as the API shows it.
type lotAnswer struct {
	ID string `json:"id"`
	engine.LotView
}

func openLot(ctx context.Context, d *desk, out io.Writer, args []string) error {
	l, err := daemon.LoadLot(args[0])
	if err != nil {
		return fault(err)
	}
	if err := d.ask(ctx, "POST", "/lots", l, nil); err != nil {
		return err
	}
	fmt.Fprintf(out, "%s is open: watching since %s.\n", l.ID, l.PackagedAt.Format(time.RFC3339))
	return nil
}

func listLots(ctx context.Context, d *desk, out io.Writer, _ []string) error {
	var lots []lotAnswer
	if err := d.ask(ctx, "GET", "/lots", nil, &lots); err != nil {
		return err
	}
	if len(lots) == 0 {
		fmt.Fprintln(out, "No lot is open. Begin with: conditiond lot open LOT")
		return nil
	}
	for _, l := range lots {
		fmt.Fprintln(out, lotLine(l))
	}
	return nil
}

// lotLine says in one line where a lot stands.
func lotLine(l lotAnswer) string {
	words := []string{fmt.Sprintf("%-24s %-12s", l.ID, lotPhase(l))}
	if e := l.Estimate; e != nil {
		if v := e.CO2Volumes; v != nil {
			words = append(words, fmt.Sprintf("%.2f vol (%.2f–%.2f)", v.P50, v.P05, v.P95))
		}
		if e.GaugeBar != nil {
			words = append(words, fmt.Sprintf("%.2f bar", *e.GaugeBar))
		}
		if e.BeerC != nil {
			words = append(words, fmt.Sprintf("%.1f °C", *e.BeerC))
		}
	}
	if l.Hold != nil {
		words = append(words, "[on hold]")
	}
	for _, a := range l.Alerts {
		words = append(words, fmt.Sprintf("[%s: %s]", a.Severity, a.Name))
	}
	return strings.Join(words, "  ")
}

func lotPhase(l lotAnswer) string {
	switch {
	case l.ClosedAt != nil:
		return "closed"
	case l.Estimate != nil:
		return string(l.Estimate.Phase)
	}
	return "no reading"
}

func showLot(ctx context.Context, d *desk, out io.Writer, args []string) error {
	var lot json.RawMessage
	if err := d.ask(ctx, "GET", "/lots/"+args[0], nil, &lot); err != nil {
		return err
	}
	e := json.NewEncoder(out)
	e.SetIndent("", "  ")
	return e.Encode(lot)
}

func noteLot(ctx context.Context, d *desk, out io.Writer, id string, said map[string]any, seen string) error {
	if seen != "" {
		at, err := time.Parse(time.RFC3339, seen)
		if err != nil {
			return fmt.Errorf("--seen %q: a time like 2026-03-08T19:30:00+01:00 would be right", seen)
		}
		said["seen"] = at
	}
	var then lotAnswer
	if err := d.ask(ctx, "POST", "/lots/"+id+"/note", said, &then); err != nil {
		return err
	}
	fmt.Fprintf(out, "Noted for %s.\n", id)
	if h := then.Hold; h != nil {
		fmt.Fprintf(out, "%s\n%s\n", h.Summary, h.Advice)
	}
	return nil
}

func deed(what, then string) func(context.Context, *desk, io.Writer, []string) error {
	return func(ctx context.Context, d *desk, out io.Writer, args []string) error {
		body := map[string]string{"text": strings.Join(args[1:], " ")}
		if err := d.ask(ctx, "POST", "/lots/"+args[0]+"/"+what, body, nil); err != nil {
			return err
		}
		fmt.Fprintf(out, "%s %s.\n", args[0], then)
		return nil
	}
}
