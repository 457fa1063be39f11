package main

import (
	"context"
	"fmt"
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"
)

func (p *program) version() *cobra.Command {
	return &cobra.Command{
		Use:   "version",
		Short: "Prints the version",
		Args:  cobra.NoArgs,
		RunE: p.step(func(context.Context, []string) error {
			fmt.Fprintf(p.out, "throughline %s, %s, %s/%s\n", build(), runtime.Version(), runtime.GOOS, runtime.GOARCH)
			return nil
		}),
	}
}

// build is the version that the program was built from: a release's, or the commit's.
func build() string {
	info, ok := debug.ReadBuildInfo()
	if !ok || info.Main.Version == "" {
		return "(unknown)"
	}
	return info.Main.Version
}
