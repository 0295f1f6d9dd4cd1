package main

import (
	"cmp"
	"errors"

	"github.com/spf13/cobra"

	"aplomb/analyze/measure"
	"aplomb/cmd/internal/files"
	"aplomb/cmd/internal/intake"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
	"aplomb/device/link"
	"aplomb/device/recording"
	"aplomb/plots/words"
)

func newRecord(o environment) *cobra.Command {
	var s intake.Setup
	opt := link.Options{}
	var how recordOptions
	var show string
	cmd := &cobra.Command{
		Use:   "record",
		Short: "Record strips from their serial ports",
		Long: `Record strips from their serial ports until Ctrl-C, or for a given time
(--for).

With --dancer and --visit the recording goes into the logbook and is measured,
and the next step of the visit's plan is printed. Conditions default to those of
the visit, and strips to those of the logbook if it has one for each foot.
Without --visit the recording is a file of your own, --out. Shoes and strips can
be named by code or by file.

Frames go to OUT.part as they arrive, and are synced to disk twice a second; at
the end OUT is made from it. No file is ever overwritten. Closing the window
ends the recording as Ctrl-C does. After a crash OUT.part holds all but the last
second, and every command can read it. If it was to go into the logbook, the
next command there mentions it, and aplomb import --unfinished takes it in. If
the file is removed during the recording, it is written again.

Without --left and --right Aplomb finds the strips: it listens to all ports for
a few seconds, and strips send their names. A strip that does not is looked for
on the port where it was last recorded into the logbook. --left and --right name
the ports; name the same one twice if one line carries both feet. --strip names
the strips to look for, such as one for a single foot.

Every recording counts as a new mounting of the strips, unless
--same-mounting-as names a recording after which they were not taken off.

It first asks for a pad press of each platform: the shoe off the foot, your hand
in the box, the platform on foam on a table, rocked to all sides. That shows
where the strip lies and whether the strips are swapped. The press is recorded
and marked, and does not count as a relevé. To skip it, press s, use --no-press,
or let the dancer rise. After the last relevé p asks for a second press, which
shows whether the strip moved. Without a terminal, or with --plain, it asks in
lines, and s and p are typed with Enter. Never rock a shoe that a foot is in.

On a terminal it shows both platforms during the recording, and where the load
of each foot is in one large word. n writes a note into the recording, d
discards the last relevé (press it again for the one before), u takes that back,
and q stops. A discarded relevé stays in the recording, marked. At the end one
line of aplomb check says whether the recording can be trusted.

--screen shows it in a browser too, on a second monitor; --screen lan on a
tablet in the local network, at an address with a key that works once. There are
two pages. The fitter's page is live. The dancer's page shows each relevé after
it is done, because seeing it live changes the rise that is measured; the
recording then has feedback after. With --feedback none it shows nothing;
--feedback live is practice.

` + words.Caution + ` If pain that calls for a
stop is noted in the visit meanwhile (aplomb visit edit), the recording ends and
is kept.`,
		Example: `  aplomb record --dancer D7 --visit today --shoe A
  aplomb record --dancer D7 --visit today --shoe A --left /dev/ttyUSB0 \
      --right /dev/ttyUSB1 --same-mounting-as last
  aplomb record --shoe A.toml --strip left.toml --strip right.toml \
      --left /dev/ttyUSB0 --right /dev/ttyUSB1 --dancer D7 --support barre \
      --out a1.mcap
  aplomb record --shoe A.toml --strip left.toml --left /dev/ttyACM0 \
      --for 30s --out a2.mcap
  aplomb record --dancer D7 --visit today --shoe A --left /dev/ttyUSB0 \
      --right /dev/ttyUSB1 --screen lan`,
		ValidArgsFunction: cobra.NoFileCompletions,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := s.CheckTarget(how.out); err != nil {
				return err
			}
			if err := checkShare(how.access, how.out); err != nil {
				return err
			}
			if how.length < 0 || how.length == 0 && cmd.Flags().Changed("for") {
				return usage.Errorf("--for %s: a length of time above 0, such as 30s", how.length)
			}
			if err := checkBaud(opt.Baud); err != nil {
				return err
			}
			s.Feedback = feedbackWith(show, s.Feedback)
			now := o.now()
			if err := s.FindVisit(now); err != nil {
				return err
			}
			if how.out != "" {
				if err := cmp.Or(files.CheckVacant(how.out), recording.CheckPath(how.out)); err != nil {
					return err
				}
			}
			if opt.Ports == [2]string{} {
				strips, err := s.Candidates(cmd.Context())
				if err == nil {
					err = s.CheckShoes(cmd.Context(), strips)
				}
				if err != nil {
					return err
				}
				notes, err := findStrips(cmd, o, &s, strips, &opt, nil)
				if err != nil {
					return err
				}
				text.Warnings(cmd.ErrOrStderr(), notes)
				how.messages = append(how.messages, notes...)
			}
			m, err := s.Metadata(cmd.Context(), now, [2]bool{opt.Ports[device.Left] != "", opt.Ports[device.Right] != ""})
			if err != nil {
				return err
			}
			if s.Into == nil { // otherwise the logbook has the code already
				warnOfName(cmd.ErrOrStderr(), m.Dancer)
			}
			if err := checkPorts(opt.Ports, &m); err != nil {
				return err
			}
			for _, side := range m.Sides {
				if side != nil {
					output.Warnings(cmd.ErrOrStderr(), measure.CalibrationWarnings(side.Strip.CalibrationDoubts(m.Started)))
				}
			}
			how.noPress = how.noPress || s.SameMounting != "" // the press was made after mounting
			if how.screen, err = startScreen(cmd, show, !how.plain); err != nil {
				return err
			}
			if how.screen != nil {
				defer how.screen.Close()
			}
			if s.Into == nil {
				made, err := recordFile(cmd, o, opt, m, how)
				if made {
					err = errors.Join(err, checkMade(cmd, how.out))
				}
				return err
			}
			return recordIntoVisit(cmd, &s.Logbook, *s.Into, o, opt, m, how)
		},
	}
	setupFlags(cmd, &s)
	f := cmd.Flags()
	f.StringVar(&opt.Ports[device.Left], "left", "", "`PORT` of the left strip; default it is found")
	f.StringVar(&opt.Ports[device.Right], "right", "", "`PORT` of the right strip; default it is found")
	f.IntVar(&opt.Baud, "baud", link.DefaultBaud, "speed of the ports, `BITS` a second; where ports are found, the speed too")
	f.DurationVar(&how.length, "for", 0, "how much `TIME` to record, the pad press included, such as 30s; default until Ctrl-C")
	f.StringVar(&how.out, "out", "", "recording `FILE` to make; with --visit the logbook takes a copy")
	shareFlag(cmd, &how.access)
	f.BoolVar(&how.plain, "plain", false, "report in lines, on a terminal as well")
	f.BoolVar(&how.noPress, "no-press", false, "skip the pad press at the beginning")
	screenFlag(cmd, &show)
	complete(cmd, "left", portNames)
	complete(cmd, "right", portNames)
	complete(cmd, "out", completeFiles("mcap"))
	return cmd
}
