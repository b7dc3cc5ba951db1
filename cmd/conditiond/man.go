//go:build pages

package main

import (
	"os"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"
)

// forPackagers is compiled in for those who build packages alone: what writes
// manuals weighs more than it is worth on a Pi.
func forPackagers() []*cobra.Command { return []*cobra.Command{manCommand()} }

func manCommand() *cobra.Command {
	var date string
	c := &cobra.Command{
		Use:    "man DIR",
		Short:  "Write the manual pages into a folder",
		Hidden: true,
		Args:   cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			at, err := time.Parse(time.DateOnly, date)
			if err != nil {
				return err
			}
			if err := os.MkdirAll(args[0], 0o755); err != nil {
				return failed(err)
			}
			root := cmd.Root()
			root.DisableAutoGenTag = true
			return failed(doc.GenManTree(root, &doc.GenManHeader{Section: "1", Source: "conditiond", Manual: "conditiond", Date: &at}, args[0]))
		},
	}
	c.Flags().StringVar(&date, "date", "", "of the pages, such as 2031-03-01")
	c.MarkFlagRequired("date")
	return c
}
