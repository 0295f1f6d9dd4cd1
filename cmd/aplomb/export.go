package main

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"

	"github.com/spf13/cobra"

	"aplomb/cmd/internal/deidentify"
	"aplomb/cmd/internal/export"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/usage"
	"aplomb/plots/words"
)

func newExport(o environment) *cobra.Command {
	from := &lookup.Choice{Now: o.now()}
	var opt export.Options
	var need export.Consent
	var hidden deidentification
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

cop (load and centre of pressure of every frame), maps (the mean pressure of
each hold, cell by cell) and frames (what every cell read in every frame) are
made on request: --tables all,cop,maps. Each recording has its own file of them,
in folders dancer=…/recording=….

aplomb fields says what every field means. --creator writes CITATION.cff:
"Family, Given" for a person, any other text for an institution. --licence is
the SPDX identifier of the licence under which others may use the package.

Dancers whose consent is withdrawn are left out. What is made to be handed on,
with --deidentify or --share, takes only dancers who consent to sharing;
--consent-elsewhere takes those too of whom no consent is recorded.

--deidentify KEYFILE writes everything anew with other codes and other days,
without notes and free words, and lists what may still identify a dancer. The
same key gives the same codes, and a lost key cannot be made again: aplomb
guide dataset says more.`,
		Example: `  aplomb export study
  aplomb export D7 --dancer D7 --visit last
  aplomb export study a1.mcap b1.mcap --format csv,parquet
  aplomb export study --creator "Example Ballet School" --licence CC-BY-4.0
  aplomb export numbers --tables releves,visits --share
  aplomb export handed-on --deidentify ~/study.key --new-key`,
		RunE: func(cmd *cobra.Command, args []string) error {
			opt.Dir = args[0]
			if err := hidden.check(cmd, opt.Dir); err != nil {
				return err
			}
			if need.Elsewhere && hidden.keyFile == "" && !opt.Access.Shared {
				return usage.Errorf("--consent-elsewhere is of --deidentify KEYFILE or --share: a package of your own takes all who have not withdrawn")
			}
			if err := opt.Check(); err != nil {
				return err
			}
			p, err := from.All(args[1:])
			if err != nil {
				return err
			}
			need.Sharing = hidden.keyFile != "" || opt.Access.Shared
			p, about, err := need.Obey(cmd.Context(), cmd.ErrOrStderr(), &from.Folder, p)
			if err != nil {
				return err
			}
			key, err := hidden.key(cmd.Context()) // once there is something to de-identify
			if err != nil {
				return err
			}
			var anew *deidentify.Rewritten
			if key != nil {
				if anew, err = deidentify.Rewrite(cmd.Context(), cmd.ErrOrStderr(), p, key, hidden.words); err != nil {
					return err
				}
				defer anew.Remove()
				p = anew.Kept
			}
			c, err := export.Collect(cmd.Context(), cmd.ErrOrStderr(), p, slices.Contains(opt.Tables, "cop"))
			if err != nil {
				return err
			}
			c.About = about
			if anew != nil {
				c.Source.AgeBands, c.Failed = anew.AgeBands, c.Failed+anew.Failed
				c.About = anew.Report.Markdown() + "\n" + about
			}
			if err := export.Write(cmd.Context(), opt, c); err != nil {
				return err
			}
			fmt.Fprintln(cmd.OutOrStdout(), opt.Dir)
			if anew != nil {
				anew.Report.Print(cmd.OutOrStdout(), filepath.Join(opt.Dir, "README.md"))
			}
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
	hidden.add(cmd)
	cmd.Flags().BoolVar(&need.Elsewhere, "consent-elsewhere", false, "what is handed on has dancers too whose consent is not recorded: it is kept elsewhere")
	shareFlag(cmd, &opt.Access)
	complete(cmd, "format", completeWords(export.Formats()...))
	complete(cmd, "tables", completeWords(append(tableNames(), export.AllTables)...))
	return cmd
}

// deidentification holds the flags for de-identifying a package.
type deidentification struct {
	keyFile string // "" without de-identification
	make    bool   // create the key file
	words   bool   // keep notes and free text
}

func (d *deidentification) add(cmd *cobra.Command) {
	cmd.Flags().StringVar(&d.keyFile, "deidentify", "", "de-identify with the key in `KEYFILE`, of 32 bytes or more")
	cmd.Flags().BoolVar(&d.make, "new-key", false, "make the key file first")
	cmd.Flags().BoolVar(&d.words, "with-words", false, "keep notes and free words in a de-identified package: read them first")
}

// check returns an error where the flags are meaningless for a package in dir.
func (d *deidentification) check(cmd *cobra.Command, dir string) error {
	switch {
	case d.keyFile == "" && cmd.Flags().Changed("deidentify"):
		return usage.Errorf("--deidentify has no KEYFILE: name the key file; nothing was exported")
	case d.keyFile != "":
		return deidentify.CheckOutside(d.keyFile, dir)
	case d.make:
		return usage.Errorf("--new-key is of --deidentify KEYFILE: name the key file")
	case d.words:
		return usage.Errorf("--with-words is of --deidentify KEYFILE: without it all words are kept")
	}
	return nil
}

// key returns the key, which it creates where requested, and nil without
// de-identification.
func (d *deidentification) key(ctx context.Context) (*deidentify.Key, error) {
	if d.keyFile == "" {
		return nil, nil
	}
	if d.make {
		if err := deidentify.NewKey(d.keyFile); err != nil {
			return nil, err
		}
	}
	return deidentify.ReadKey(ctx, d.keyFile)
}
