package main

import (
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"aplomb/cmd/internal/export"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/usage"
	"aplomb/plots/words"
)

func newExport(o environment) *cobra.Command {
	from := &lookup.Choice{Now: o.now()}
	var opt export.Options
	cmd := &cobra.Command{
		Use:   "export DIR [FILE.mcap…]",
		Short: "Write recordings and their measures as a data package",
		Long: `Write recordings and their measures as a data package: tables with their
schemas, the recordings, the profiles of shoes and strips, text about the
methods, and checksums (Frictionless Data Package). The same recordings give
the same bytes. Only you can read it, unless --share lets others.

DIR is a folder that is empty or does not exist. Recordings are files, or those
in the logbook that --dancer, --visit and --shoe choose, and all of them where
none of these is given. The recordings of one visit of a dancer are measured
together. A recording that cannot be read or measured is named, the others go
on, and the exit status is 1.

cop (load and centre of pressure of every frame), maps (the mean pressure of each
hold, cell by cell) and frames (what every cell read in every frame) are made on
request: --tables all,cop,maps. Each recording has its own file of them, in
folders dancer=…/recording=….

aplomb fields says what every field means. --creator writes CITATION.cff:
"Family, Given" for a person, any other text for an institution. --licence is
the SPDX identifier of the licence under which others may use the package.`,
		Example: `  aplomb export study
  aplomb export D7 --dancer D7 --visit last
  aplomb export study a1.mcap b1.mcap --format csv,parquet
  aplomb export study --creator "Example Ballet School" --licence CC-BY-4.0
  aplomb export numbers --tables releves,visits --share`,
		RunE: func(cmd *cobra.Command, args []string) error {
			opt.Dir = args[0]
			if err := opt.Check(); err != nil {
				return err
			}
			p, err := from.All(args[1:])
			if err != nil {
				return err
			}
			c, err := export.Collect(cmd.Context(), cmd.ErrOrStderr(), p, slices.Contains(opt.Tables, "cop"))
			if err != nil {
				return err
			}
			if err := export.Write(cmd.Context(), opt, c); err != nil {
				return err
			}
			fmt.Fprintln(cmd.OutOrStdout(), opt.Dir)
			if c.Failed > 0 {
				return fmt.Errorf("%s: %s, and the rest is exported", opt.Dir, words.Count(c.Failed, "failure, which is named above", "failures, which are named above"))
			}
			return nil
		},
	}
	choiceFlags(cmd, from)
	cmd.Args = func(_ *cobra.Command, args []string) error {
		if len(args) == 0 {
			return usage.Errorf("DIR is missing: name a folder for the package")
		}
		return from.CheckAll(args[1:])
	}
	cmd.Flags().StringSliceVar(&opt.Formats, "format", []string{"csv"}, "`FORMATS` of the tables: csv, parquet or both, with a comma between")
	cmd.Flags().StringSliceVar(&opt.Tables, "tables", []string{export.AllTables}, "these `TABLES`, with commas between; all stands for those not made on request")
	cmd.Flags().StringVar(&opt.Creator, "creator", "", "`WHO` made the data set, for CITATION.cff")
	cmd.Flags().StringVar(&opt.Licence, "licence", "", "SPDX `IDENTIFIER` of the licence, such as CC-BY-4.0")
	shareFlag(cmd, &opt.Access)
	complete(cmd, "format", completeWords(export.Formats()...))
	complete(cmd, "tables", completeWords(append(tableNames(), export.AllTables)...))
	return cmd
}
