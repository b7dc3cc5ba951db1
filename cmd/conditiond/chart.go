package main

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
)

func chartCommand() *cobra.Command {
	var config, file string
	c := &cobra.Command{
		Use:   "chart LOT [-o FILE.svg|FILE.png]",
		Short: "A lot's volumes, pressure and temperature as a picture",
		Long: `chart draws what the page shows of a lot into one picture: volumes, pressure and
temperature over time, with target and limit. As SVG it stays sharp at any size;
as PNG it can be sent to what shows no SVG. The file's name says which.`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			kind := strings.TrimPrefix(filepath.Ext(file), ".")
			if file == "" {
				kind = "svg"
			}
			if kind != "svg" && kind != "png" {
				return fault(fmt.Errorf("%s: SVG and PNG are drawn; a name that ends in .svg or .png would be right", file))
			}
			d, err := openDesk(cmd.Context(), config, cmd.ErrOrStderr())
			if err != nil {
				return err
			}
			defer d.close()
			picture, err := d.picture(cmd.Context(), args[0], kind)
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
	c.Flags().StringVarP(&file, "output", "o", "", "where to put it; left out: as SVG on standard output")
	return c
}

// picture of a lot, as "svg" or "png".
func (d *desk) picture(ctx context.Context, lot, kind string) ([]byte, error) {
	a, err := d.send(ctx, http.MethodGet, "/lots/"+url.PathEscape(lot)+"/chart."+kind, nil)
	if err != nil {
		return nil, err
	}
	defer a.Body.Close()
	return io.ReadAll(a.Body)
}
