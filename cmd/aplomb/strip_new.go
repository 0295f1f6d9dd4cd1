package main

import (
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/files"
	"aplomb/cmd/internal/forms"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
	"aplomb/device/link"
	"aplomb/device/wire"
)

func newStripNew() *cobra.Command {
	f := forms.NewStrip()
	var folder lookup.Folder
	var port, out string
	var baud int
	cmd := &cobra.Command{
		Use:   "new [NAME]",
		Short: "Make a strip's profile from questions, and keep it",
		Long: `Make a strip's profile from questions, and put it into the logbook or,
with --out, into a file.

With --port the strip itself announces its name, foot, grid and bits within a
few seconds. On a terminal the command asks for the rest, and Enter skips what
may be left out. An improbable value, such as rows and columns swapped or a
pitch in cm, is asked again. Flags do the same; nothing is asked if they give
foot, grid, pitch and bits.

NAME is the name with which the strip announces itself, if it does.

The profile is not calibrated: places are right as far as cells respond alike,
and newtons have no known scale until aplomb strip calibrate gives them one.`,
		Example: `  aplomb strip new --port /dev/ttyUSB0
  aplomb strip new L-01 --foot left --grid 5x8 --pitch 5x5 --bits 12
  aplomb strip new L-01 --out left.toml`,
		Args:              atMostOneName,
		ValidArgsFunction: cobra.NoFileCompletions,
		RunE: func(cmd *cobra.Command, args []string) error {
			name := ""
			if len(args) > 0 {
				name = args[0]
			}
			if name == "" && port == "" {
				return usage.Errorf("the strip's NAME is missing, or --port PORT, on which it says its name")
			}
			if err := checkBaud(baud); err != nil {
				return err
			}
			if cmd.Flags().Changed("baud") && port == "" {
				return usage.Errorf("--baud is of --port PORT: name the port")
			}
			if out != "" {
				if err := files.CheckVacant(out); err != nil {
					return err
				}
			}
			var hello *wire.Hello
			if port != "" {
				bauds := link.Bauds[:]
				if cmd.Flags().Changed("baud") {
					bauds = []int{baud}
				}
				var err error
				if hello, err = hearStrip(cmd, port, bauds); err != nil {
					return err
				}
				if name == "" {
					name = hello.Strip
				}
				if name != hello.Strip {
					return usage.Errorf("port %s: the strip says that it is %q: give it that name, or change its firmware", port, hello.Strip)
				}
				f.Hear(hello)
			}
			if err := device.CheckCode(name); err != nil {
				return usage.New(err)
			}
			if strings.HasSuffix(name, ".toml") {
				return usage.Errorf("strip %s would be taken for a file wherever a strip is named: give it another name, and --out FILE.toml for a file", name)
			}
			if err := checkNewStrip(&folder, name, out); err != nil {
				return err
			}
			s := forms.BlankStrip(name)
			if err := f.Apply(&s); err != nil {
				return err
			}
			if missing := f.Missing(); missing != "" {
				person := console.AtTerminal(cmd.Context(), cmd.ErrOrStderr())
				if person == nil {
					return requireTyped(cmd, missing)
				}
				if err := f.Ask(person, &s); err != nil {
					return err
				}
			}
			guessed := s.Calibration.KPaPerCount == 0
			f.Complete(&s)
			if err := logbook.CheckStrip(s); err != nil {
				return usage.New(err)
			}
			if hello != nil {
				if err := link.Mismatch(port, hello, &s); err != nil {
					return err
				}
				if hello.Foot != s.Foot {
					return usage.Errorf("port %s: strip %s says that it is under the %s foot: --foot %s, or change its firmware", port, name, hello.Foot, hello.Foot)
				}
			}
			if err := keepStrip(cmd, &folder, &s, out); err != nil {
				return err
			}
			if guessed {
				text.Warnings(cmd.ErrOrStderr(), []string{fmt.Sprintf("%.3g kPa a count is a guess: newtons have no known scale until aplomb strip calibrate gives them one", s.Calibration.KPaPerCount)})
			}
			return nil
		},
	}
	formFlags(cmd, &f.Form, f.Fields)
	unitFlag(cmd, &f.Unit, "`UNIT` of lengths without one")
	cmd.Flags().StringVar(&port, "port", "", "`PORT` on which the strip says name, foot, grid and bits")
	cmd.Flags().IntVar(&baud, "baud", link.DefaultBaud, "with --port: its speed, `BITS` a second; default the likely ones")
	hideDefaults(cmd, "baud")
	cmd.Flags().StringVar(&out, "out", "", "profile `FILE.toml` to make, in place of an entry in the logbook")
	logbookFlag(cmd, &folder)
	complete(cmd, "port", portNames)
	complete(cmd, "out", completeFiles("toml"))
	return cmd
}

// atMostOneName returns a usage error where there are several arguments.
func atMostOneName(cmd *cobra.Command, args []string) error {
	if len(args) > 0 && args[0] == "" {
		return usage.Errorf("the strip's NAME is empty")
	}
	return atMostOneArg(cmd, args)
}

// checkNewStrip returns the error with which storing a strip would fail. It is called
// before the user answers questions.
func checkNewStrip(folder *lookup.Folder, name, out string) error {
	if out != "" || !folder.Exists() {
		return nil
	}
	return folder.With(func(l *logbook.Logbook) error {
		if _, err := l.Strip(name); err == nil {
			return explainNotAdded(fmt.Errorf("strip %q: %w", name, logbook.ErrExists), "another profile")
		}
		return nil
	})
}

// requireTyped returns the usage error that a flag is missing, with what it is for.
func requireTyped(cmd *cobra.Command, name string) error {
	if err := requireFlags(cmd, name); err != nil {
		return fmt.Errorf("%w; or run it on a terminal, where it asks", err)
	}
	return nil
}

// hearStrip listens to a port until the strip on it has announced itself.
func hearStrip(cmd *cobra.Command, port string, bauds []int) (*wire.Hello, error) {
	progress := console.NewProgress(cmd.ErrOrStderr())
	defer progress.Clear()
	heard := link.Listen(cmd.Context(), link.Listening{Ports: []string{port}, Bauds: bauds, Enough: func(h []link.Heard, since time.Duration) bool {
		progress.Show("listening to %s for %.0f s", port, since.Seconds())
		return len(h[0].Hellos) > 0
	}})[0]
	switch {
	case len(heard.Hellos) > 0:
		return &heard.Hellos[0], nil
	case cmd.Context().Err() != nil:
		return nil, cmd.Context().Err()
	case heard.Err != nil:
		return nil, heard.Err
	case heard.Bytes == 0:
		return nil, fmt.Errorf("port %s: no data: is the strip switched on, and is this its port (see aplomb ports)?", port)
	}
	return nil, fmt.Errorf("port %s: what is on it does not announce itself: give its NAME and leave --port out", port)
}

// keepStrip stores a new profile in the logbook or in a file.
func keepStrip(cmd *cobra.Command, folder *lookup.Folder, s *device.Strip, out string) error {
	if out != "" {
		everybody := files.Access{Shared: true} // it contains nothing about a dancer
		if err := everybody.Write(out, func(w io.Writer) error { _, err := io.WriteString(w, device.TOML(s)); return err }); err != nil {
			return err
		}
		fmt.Fprintf(cmd.OutOrStdout(), "%s: the profile of strip %s\n", out, text.Plain(s.Name))
	} else {
		err := folder.BeginWith(cmd.ErrOrStderr(), func(l *logbook.Logbook) error { return l.AddStrip(*s) })
		if err != nil {
			return explainNotAdded(err, "another profile")
		}
		fmt.Fprintf(cmd.OutOrStdout(), "strip %s added\n", text.Plain(s.Name))
	}
	text.Facts(cmd.OutOrStdout(), output.StripFacts(s)...)
	output.Doubts(cmd.ErrOrStderr(), s.Doubts())
	return nil
}
