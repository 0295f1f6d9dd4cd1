package main

import (
	"time"

	"github.com/spf13/cobra"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/lookup"
)

// visitFlag is the flag for the dancer whose visits a command is about.
type visitFlag struct{ dancer string }

func (o *visitFlag) add(cmd *cobra.Command) {
	cmd.Flags().StringVar(&o.dancer, "dancer", "", "the dancer's `CODE`")
	complete(cmd, "dancer", completeCodes(dancerCodes))
}

// find returns the visit that the arguments name, the last one where they name none.
func (o *visitFlag) find(cmd *cobra.Command, l *logbook.Logbook, args []string, now func() time.Time) (logbook.Visit, error) {
	if err := requireFlags(cmd, "dancer"); err != nil {
		return logbook.Visit{}, err
	}
	name := "last"
	if len(args) > 0 {
		name = args[0]
	}
	return lookup.Visit(l, o.dancer, name, now())
}
