package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"aplomb/device"
)

// ruler is the unit that lengths are typed and printed in.
type ruler string

func (r *ruler) String() string { return string(*r) }
func (r *ruler) Type() string   { return "unit" }
func (r *ruler) Set(v string) error {
	for _, unit := range device.Units {
		if v == unit {
			*r = ruler(v)
			return nil
		}
	}
	return fmt.Errorf("%q: mm or inch", v)
}

func (r *ruler) flag(cmd *cobra.Command, usage string) {
	*r = "mm"
	cmd.Flags().Var(r, "unit", usage+": mm, inch")
	complete(cmd, "unit", oneOf(device.Units[:]...))
}

// length prints a length, "" for 0.
func (r ruler) length(mm float64) string { return known(device.InUnit(mm, string(r))) }

// size prints width and depth.
func (r ruler) size(mm [2]float64) string {
	width, _ := device.InUnit(mm[0], string(r))
	return trimmed(width) + " × " + r.length(mm[1])
}
