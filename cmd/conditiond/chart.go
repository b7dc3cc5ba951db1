package main

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"strings"

	"github.com/spf13/cobra"
)

func chartCommand() *cobra.Command {
	var config, file string
	c := &cobra.Command{
		Use:   "chart LOT [-o FILE.svg]",
		Short: "A lot's volumes, pressure and temperature as a picture",
		Long: `chart draws what the page shows of a lot into one SVG: volumes, pressure and
temperature over time, with target and limit. Every browser shows it; a PNG is a
job for what you have to look at pictures.`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if file != "" && !strings.HasSuffix(file, ".svg") {
				return fault(fmt.Errorf("%s: only SVG is drawn; a name that ends in .svg would be right", file))
			}
			d, err := openDesk(cmd.Context(), config, cmd.ErrOrStderr())
			if err != nil {
				return err
			}
			defer d.close()
			picture, err := d.picture(cmd.Context(), args[0])
			if err != nil {
				return err
			}
			if file == "" {
				_, err = cmd.OutOrStdout().Write(picture)
				return failed(err)
			}
			return failed(os.WriteFile(file, picture, 0o644))
		},
	}
	c.Flags().StringVar(&config, "config", "/etc/conditiond/config.yaml", "the configuration file")
	c.Flags().StringVarP(&file, "output", "o", "", "where to put it; left out: on standard output")
	return c
}

// picture of a lot.
func (d *desk) picture(ctx context.Context, lot string) ([]byte, error) {
	a, err := d.send(ctx, http.MethodGet, "/lots/"+url.PathEscape(lot)+"/chart.svg", nil)
	if err != nil {
		return nil, err
	}
	defer a.Body.Close()
	return io.ReadAll(a.Body)
}
