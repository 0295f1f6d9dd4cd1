package main

import (
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"aplomb/device"
	"aplomb/device/recording"
	"aplomb/device/wire"
)

func newImport(o outside) *cobra.Command {
	var s setup
	var out string
	var csv [2]string
	cmd := &cobra.Command{
		Use:   "import [FILE.csv]",
		Short: "Make a recording of CSV files",
		Long: `Make a recording of CSV files, one a foot.

The first line is t_us,c0,c1,…; then one frame a line: the strip's clock in
microseconds and the counts of every cell in the order of the strip's scan.
Commas, semicolons, tabs or spaces separate. The clocks of two files are taken
to be one. Every import counts as a new mounting of the strips, unless
--same-mounting-as names a recording since which they were not taken off.`,
		Example: `  aplomb import --strip left.toml --shoe A.toml --out a1.mcap left.csv
  aplomb import --strip left.toml --strip right.toml --shoe A.toml --dancer D7 \
      --left left.csv --right right.csv --out a1.mcap`,
		Args:              cobra.ArbitraryArgs,
		ValidArgsFunction: endingIn("csv"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := needed(cmd, "out"); err != nil {
				return err
			}
			m, err := s.meta(o.now())
			if err != nil {
				return err
			}
			if err := assign(&csv, args, &m); err != nil {
				return err
			}
			if err := vacant(out); err != nil {
				return err
			}
			n, err := importCSV(cmd, csv, m, out)
			if err != nil {
				return err
			}
			fmt.Fprintf(cmd.OutOrStdout(), "%s: %d frames\n", out, n)
			return nil
		},
	}
	s.flags(cmd)
	cmd.Flags().StringVar(&csv[device.Left], "left", "", "CSV `FILE` of the left foot")
	cmd.Flags().StringVar(&csv[device.Right], "right", "", "CSV `FILE` of the right foot")
	cmd.Flags().StringVar(&out, "out", "", "recording `FILE` to make")
	complete(cmd, "left", endingIn("csv"))
	complete(cmd, "right", endingIn("csv"))
	complete(cmd, "out", endingIn("mcap"))
	return cmd
}

// assign finds the CSV file of each foot that has a strip. Where a single file
// is named without its foot, the one strip tells.
func assign(csv *[2]string, args []string, m *recording.Meta) error {
	named := csv[device.Left] != "" || csv[device.Right] != ""
	switch {
	case len(args) > 1 || (len(args) == 1 && named):
		return misused("name one CSV file, or one each with --left and --right")
	case len(args) == 0 && !named:
		return misused("name a CSV file, or one each with --left and --right")
	case len(args) == 1:
		if m.Sides[device.Left] != nil && m.Sides[device.Right] != nil {
			return misused("two strips and one CSV file: name its foot with --left or --right, and the other's too")
		}
		f := device.Left
		if m.Sides[device.Left] == nil {
			f = device.Right
		}
		csv[f] = args[0]
	}
	for _, f := range device.Feet {
		if csv[f] != "" && m.Sides[f] == nil {
			return misused("--%s %s: no --strip for the %s foot", f, csv[f], f)
		}
	}
	for _, f := range device.Feet {
		if m.Sides[f] == nil {
			continue
		}
		if csv[f] == "" {
			return misused("strip %s is for the %s foot, but there is no --%s FILE.csv", m.Sides[f].Strip.Name, f, f)
		}
		m.Sides[f].Format = "csv"
	}
	return nil
}

// importCSV writes the frames of both files to out. On an error nothing stays.
func importCSV(cmd *cobra.Command, csv [2]string, m recording.Meta, out string) (frames int, err error) {
	var src device.Source
	for _, f := range device.Feet {
		if csv[f] == "" {
			continue
		}
		file, err := os.Open(csv[f])
		if err != nil {
			return 0, err
		}
		defer file.Close()
		var one device.Source = wire.NewCSV(file, csv[f], m.Sides[f].Strip, m.Started.UnixNano())
		if src != nil {
			one = device.Merge(src, one)
		}
		src = one
	}
	w, err := recording.CreateDirect(out, m)
	if err != nil {
		return 0, err
	}
	progress := newProgress(cmd.ErrOrStderr())
	defer progress.clear()
	var frame device.Frame
	for {
		err := src.Next(&frame)
		if errors.Is(err, io.EOF) {
			return frames, w.Close()
		}
		if err == nil {
			err = w.Write(&frame)
		}
		if err == nil && frames%10_000 == 0 {
			err = cmd.Context().Err()
			progress.show("importing: %d frames", frames)
		}
		if err != nil {
			w.Discard()
			return 0, err
		}
		frames++
	}
}
