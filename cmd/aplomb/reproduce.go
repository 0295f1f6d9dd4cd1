package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/reproduce"
	"aplomb/cmd/internal/text"
)

func newReproduce() *cobra.Command {
	var quick bool
	var asJSON *bool
	cmd := &cobra.Command{
		Use:   "reproduce DIR",
		Short: "Recompute every number of a data package, and compare",
		Long: `Compute every number of a data package again from its recordings, and compare
it with the tables. DIR is a folder that aplomb export wrote; it can lie on a
read-only disk, and no logbook is needed.

Each value that differs is printed with its row and by how much it differs, and
then how many are the same. Numbers have to be equal where the package was
computed on a processor of this architecture, which provenance.json names;
elsewhere they have to agree within 1e-9 of their value or of their unit.

A file that is missing or altered is named. The recordings of a visit are left
out where one of them is; everything else is compared. What people said, in the
tables dancers, visits and checks, is not computed; its checksums are compared.

The exit status is 1 where anything is missing, altered or different, or where
the package is of another algorithm.`,
		Example: `  aplomb reproduce study
  aplomb reproduce study --quick
  aplomb reproduce study --json | jq '.compared.differences'`,
		Args: exactArgs("DIR"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r, err := reproduce.Package(cmd.Context(), cmd.ErrOrStderr(), args[0], quick)
			if err != nil {
				return err
			}
			text.Warnings(cmd.ErrOrStderr(), r.Warnings())
			if *asJSON {
				if err := output.JSON(cmd.OutOrStdout(), output.ReproducedJSON(r, quick)); err != nil || r.Reproduced() {
					return err
				}
				return errNo
			}
			r.Write(cmd.OutOrStdout(), quick)
			if !r.Reproduced() {
				return fmt.Errorf("%s is not reproduced: %s", args[0], r.Failure())
			}
			return nil
		},
	}
	asJSON = jsonFlag(cmd)
	cmd.Flags().BoolVar(&quick, "quick", false, "compare the checksums alone")
	return cmd
}
