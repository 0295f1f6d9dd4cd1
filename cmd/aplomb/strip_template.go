package main

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/files"
	"aplomb/cmd/internal/intake"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
	"aplomb/plots"
)

func newStripTemplate() *cobra.Command {
	var s intake.Setup
	var out string
	var access files.Access
	cmd := &cobra.Command{
		Use:   "template --shoe SHOE --out FILE.pdf",
		Short: "Print a template in actual size for mounting strips",
		Long: fmt.Sprintf(`Write a template in actual size, a PDF to cut out, for
mounting strips under a shoe: the edge of the cells with the tail, the outline
of the platform with its kern, and the cross through its middle, for the left
and the right foot, seen from above.

Print it at 100 %%, no scaling, on A4 or Letter. Then measure the two bars on
it: unless each is %d mm long, do not use the sheet. The next steps are printed
on it.

The strip is drawn at offset_mm and rotation_deg of its profile, with its tail
at tail_side. Without --strip the strips of the logbook are used, if it has one
for a foot. An earlier PDF of that name is replaced.`, plots.TemplateBarMM),
		Example: `  aplomb strip template --shoe A --out A.pdf
  aplomb strip template --shoe A.toml --strip left.toml --strip right.toml \
      --out A.pdf`,
		Args:              noArgs,
		ValidArgsFunction: cobra.NoFileCompletions,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := requireFlags(cmd, "shoe", "out"); err != nil {
				return err
			}
			if !strings.EqualFold(filepath.Ext(out), ".pdf") {
				return usage.Errorf("--out %s: a template is a PDF: give it a name that ends in .pdf", out)
			}
			if err := files.CheckPDF(out); err != nil {
				return err
			}
			p, err := template(cmd, &s)
			if err != nil {
				return err
			}
			err = access.Write(out, func(w io.Writer) error { return plots.Write(w, p, "pdf", nil) })
			if err != nil {
				return err
			}
			fmt.Fprintf(cmd.OutOrStdout(), "%s: print it at 100 %%, no scaling, and measure its bars before use\n", out)
			var strips []*device.Strip
			for _, strip := range p.Strips {
				if strip == nil {
					continue
				}
				strips = append(strips, strip)
				if strip.Mount.TailSide == "" {
					text.Warnings(cmd.ErrOrStderr(), []string{fmt.Sprintf("strip %s: its profile does not say at which side the tail leaves, and none is drawn: tail_side under [mount]", strip.Name)})
				}
			}
			text.Warnings(cmd.ErrOrStderr(), output.TooSmall(p.Shoe, strips...))
			return nil
		},
	}
	f := cmd.Flags()
	f.StringVar(&s.Shoe, "shoe", "", "`SHOE` that the strips are mounted under, by code or file")
	f.StringArrayVar(&s.Strips, "strip", nil, "`STRIP` under a foot, by name or file; once for each")
	f.StringVarP(&out, "out", "o", "", "PDF `FILE` to write")
	shareFlag(cmd, &access)
	logbookFlag(cmd, &s.Logbook)
	complete(cmd, "shoe", completeOrFiles("toml", completeCodes(shoeCodes)))
	complete(cmd, "strip", completeOrFiles("toml", completeCodes(stripNames)))
	complete(cmd, "out", completeFiles("pdf"))
	return cmd
}

// template reads the profiles and returns the sheet.
func template(cmd *cobra.Command, s *intake.Setup) (*plots.Template, error) {
	var feet [2]bool // that the logbook has strips for; it is asked only where none were named
	if len(s.Strips) == 0 && s.Logbook.Exists() {
		err := s.Logbook.With(func(l *logbook.Logbook) error {
			all, err := l.Strips()
			for _, strip := range all {
				feet[strip.Foot] = true
			}
			return err
		})
		if err != nil {
			return nil, err
		}
	}
	if len(s.Strips) == 0 && feet == [2]bool{} {
		return nil, usage.Errorf("--strip STRIP is missing: the profile of the strip under each foot, such as left.toml")
	}
	sides, err := s.Sides(cmd.Context(), feet)
	if err != nil {
		return nil, err
	}
	var shoe *device.Shoe
	var strips [2]*device.Strip
	for foot, side := range sides {
		if side != nil {
			shoe, strips[foot] = side.Shoe, side.Strip
		}
	}
	p, err := plots.NewTemplate(shoe, strips)
	if err != nil && strips[device.Left] != nil && strips[device.Right] != nil {
		err = fmt.Errorf("%w: name one --strip, for a sheet with one foot", err)
	}
	return p, err
}
