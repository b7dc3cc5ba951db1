//go:build !pages

package main

import "github.com/spf13/cobra"

func forPackagers() []*cobra.Command { return nil }
