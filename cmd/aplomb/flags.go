package main

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/files"
	"aplomb/cmd/internal/forms"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
	"aplomb/device/link"
)

// Help texts about which recordings a command takes. Some commands pool measures of
// several visits.
const (
	chosenRecordings = `Recordings are files, or those in the logbook that --dancer, --visit and --shoe
choose. Without --visit they are of the dancer's last visit; --visit all takes
all visits together`
	chosenRecordingsByDay = chosenRecordings + `, and adds to every interval what differs between days.`
)

// errNo is the error of a command that has already printed the answer no. It sets
// the exit status, and no message is printed for it.
var errNo = errors.New("the answer is no")

// incomplete returns errNo where an answer lacks recordings that could not be measured.
func incomplete(p lookup.Recordings) error {
	if p.LeftOut > 0 {
		return errNo
	}
	return nil
}

// requireRecordings returns a usage error unless at least one recording is named.
func requireRecordings(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return usage.Errorf("name at least one recording, such as a1.mcap")
	}
	return nil
}

// noArgs returns a usage error where there is an argument.
func noArgs(cmd *cobra.Command, args []string) error {
	if len(args) > 0 {
		if f := cmd.Flags().Lookup("dancer"); f != nil && !f.Changed && !strings.Contains(args[0], ".") {
			return usage.Errorf("%q is not expected here: did you mean --dancer %s?", args[0], text.Quoted(args[0]))
		}
		return usage.Errorf("%q is not expected here", args[0])
	}
	return nil
}

// atMostOneArg returns a usage error where there is more than one argument.
func atMostOneArg(cmd *cobra.Command, args []string) error {
	if len(args) > 1 {
		return usage.Errorf("%q is not expected here", args[1])
	}
	return nil
}

// requireFlags returns a usage error where one of the flags has no value.
func requireFlags(cmd *cobra.Command, names ...string) error {
	for _, name := range names {
		if f := cmd.Flags().Lookup(name); f.Value.String() == "" {
			value, what := pflag.UnquoteUsage(f)
			return usage.Errorf("--%s %s is missing: %s", name, value, what)
		}
	}
	return nil
}

// oneOf makes cmd return a usage error where more than one of the flags is given.
func oneOf(cmd *cobra.Command, names ...string) {
	before := cmd.PreRunE
	cmd.PreRunE = func(cmd *cobra.Command, args []string) error {
		var given []string
		for _, name := range names {
			if cmd.Flags().Changed(name) {
				given = append(given, "--"+name)
			}
		}
		if len(given) > 1 {
			return usage.Errorf("%s: say one of them", strings.Join(given, " and "))
		}
		if before != nil {
			return before(cmd, args)
		}
		return nil
	}
}

// completeFiles completes a value with the names of files that have an ending.
func completeFiles(ending string) cobra.CompletionFunc {
	return cobra.FixedCompletions([]string{ending}, cobra.ShellCompDirectiveFilterFileExt)
}

// complete sets how a shell completes the value of a flag.
func complete(cmd *cobra.Command, flag string, with cobra.CompletionFunc) {
	if err := cmd.RegisterFlagCompletionFunc(flag, with); err != nil {
		panic(err) // there is no such flag
	}
}

// completeWords completes a value with one of some words.
func completeWords(words ...string) cobra.CompletionFunc {
	return cobra.FixedCompletions(words, cobra.ShellCompDirectiveNoFileComp)
}

// explainFlag returns an error of the flag parser in words, with the flag that was
// probably meant.
func explainFlag(cmd *cobra.Command, err error) error {
	var notFound *pflag.NotExistError
	var invalid *pflag.InvalidValueError
	switch {
	case errors.As(err, &invalid):
		f := invalid.GetFlag()
		_, what := pflag.UnquoteUsage(f)
		return fmt.Errorf("--%s %s: %s", f.Name, text.NotA(kindOf(f), invalid.GetValue()), what)
	case errors.As(err, &notFound):
		var names []string
		cmd.Flags().VisitAll(func(f *pflag.Flag) { names = append(names, f.Name) })
		if near := usage.Nearest(notFound.GetSpecifiedName(), names); near != "" {
			return fmt.Errorf("%w: did you mean --%s?", err, near)
		}
	}
	return err
}

// kindOf names the kind of value that a flag takes.
func kindOf(f *pflag.Flag) string {
	switch f.Value.Type() {
	case "int", "uint64":
		return "whole number"
	case "float64":
		return "number"
	case "duration":
		return "length of time, such as 30s or 1m30s"
	case "bool":
		return "true or false"
	}
	return f.Value.Type()
}

// jsonFlag adds the flag for output as one JSON object.
func jsonFlag(cmd *cobra.Command) *bool { return cmd.Flags().Bool("json", false, "one JSON object") }

// printJSON returns a function that prints an object as JSON unless there is an error, which
// it returns.
func printJSON(cmd *cobra.Command) func(object any, err error) error {
	return func(object any, err error) error {
		if err != nil {
			return err
		}
		return output.JSON(cmd.OutOrStdout(), object)
	}
}

// checkBaud returns a usage error where no port has the speed of --baud.
func checkBaud(baud int) error {
	if baud < 1 {
		return usage.Errorf("--baud %d: the speed that the strips send at, such as %d", baud, link.DefaultBaud)
	}
	return nil
}

// shareFlag adds the flag that lets others read the files that cmd makes.
func shareFlag(cmd *cobra.Command, a *files.Access) {
	cmd.Flags().BoolVar(&a.Shared, "share", false, "let others read the files made, as your umask allows; default only you")
}

// checkShare returns a usage error where a recording that is only in the logbook is to be
// readable by others.
func checkShare(a files.Access, out string) error {
	if a.Shared && out == "" {
		return usage.Errorf("--share is for a file of your own: name it with --out; the logbook is never shared")
	}
	return nil
}

// unitFlag adds the flag for the unit of lengths.
func unitFlag(cmd *cobra.Command, r *text.Unit, usage string) {
	*r = "mm"
	cmd.Flags().Var(r, "unit", usage+": mm, inch")
	complete(cmd, "unit", completeWords(device.Units[:]...))
}

// formFlags adds a flag for every field of a form.
func formFlags[T any](cmd *cobra.Command, f *forms.Form[T], fields []forms.Field[T]) {
	for _, one := range fields {
		cmd.Flags().Var(typing(func(v string) { f.Type(one.Name, v) }), one.Name, one.Usage)
		complete(cmd, one.Name, completeWords(one.Words...))
	}
}

// typing is a flag's value that calls a function with the text typed for the flag.
type typing func(string)

func (t typing) String() string     { return "" }
func (t typing) Type() string       { return "string" }
func (t typing) Set(v string) error { t(v); return nil }

// logbookFlag adds the flag that names the logbook.
func logbookFlag(cmd *cobra.Command, folder *lookup.Folder) {
	cmd.Flags().StringVar(&folder.Named, "logbook", "", "`DIR` of the logbook; default $APLOMB_LOGBOOK, else the user's data folder")
	cmd.MarkFlagDirname("logbook")
	folder.Remarks = func() io.Writer {
		if f := cmd.Flag("quiet"); f != nil && f.Value.String() == "true" {
			return io.Discard
		}
		return cmd.ErrOrStderr()
	}
}

// onLogbook makes cmd run do with the logbook open. The logbook must exist.
func onLogbook(cmd *cobra.Command, do func(*cobra.Command, []string, *logbook.Logbook) error) *cobra.Command {
	var folder lookup.Folder
	logbookFlag(cmd, &folder)
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		return folder.With(func(l *logbook.Logbook) error { return do(cmd, args, l) })
	}
	return cmd
}

// completeCodes completes a value with the names that of reads from the logbook,
// and with nothing where there is no logbook.
func completeCodes(of func(*cobra.Command, *logbook.Logbook) ([]string, error)) cobra.CompletionFunc {
	return func(cmd *cobra.Command, _ []string, _ string) (all []string, _ cobra.ShellCompDirective) {
		folder := lookup.Folder{Named: cmd.Flag("logbook").Value.String()}
		err := folder.With(func(l *logbook.Logbook) (err error) {
			all, err = of(cmd, l)
			return err
		})
		if err != nil {
			return nil, cobra.ShellCompDirectiveNoFileComp
		}
		return all, cobra.ShellCompDirectiveNoFileComp
	}
}

// completeOrFiles completes a value as with does, or with the names of files that
// have an ending where with finds nothing.
func completeOrFiles(ending string, with cobra.CompletionFunc) cobra.CompletionFunc {
	return func(cmd *cobra.Command, args []string, typed string) ([]string, cobra.ShellCompDirective) {
		all, _ := with(cmd, args, typed)
		if len(all) == 0 {
			return []string{ending}, cobra.ShellCompDirectiveFilterFileExt
		}
		return all, cobra.ShellCompDirectiveDefault
	}
}

func dancerCodes(_ *cobra.Command, l *logbook.Logbook) (codes []string, err error) {
	all, err := l.Dancers()
	for _, d := range all {
		codes = append(codes, d.Code)
	}
	return codes, err
}

func shoeCodes(_ *cobra.Command, l *logbook.Logbook) (codes []string, err error) {
	all, err := l.Shoes()
	for _, s := range all {
		codes = append(codes, s.Code)
	}
	return codes, err
}

func stripNames(_ *cobra.Command, l *logbook.Logbook) (names []string, err error) {
	all, err := l.Strips()
	for _, s := range all {
		names = append(names, s.Name)
	}
	return names, err
}

// visitNames returns the visits of the dancer that --dancer names, the last one first.
func visitNames(cmd *cobra.Command, l *logbook.Logbook) (names []string, err error) {
	all, err := l.Visits(cmd.Flag("dancer").Value.String())
	for i := len(all) - 1; i >= 0; i-- {
		names = append(names, all[i].Name())
	}
	return names, err
}

// choiceFlags lets cmd take recordings: files as arguments, or those in the logbook
// that its flags choose.
func choiceFlags(cmd *cobra.Command, c *lookup.Choice) {
	choiceFlagsButShoe(cmd, c)
	cmd.Flags().StringVar(&c.Shoe, "shoe", "", "`CODE` of a shoe: recordings in it, from the logbook")
	complete(cmd, "shoe", completeCodes(shoeCodes))
}

// choiceFlagsButShoe adds the flags of choiceFlags except --shoe, for commands where
// --shoe has another meaning.
func choiceFlagsButShoe(cmd *cobra.Command, c *lookup.Choice) {
	cmd.Args = func(_ *cobra.Command, args []string) error { return c.Check(args) }
	cmd.ValidArgsFunction = completeFiles("mcap")
	cmd.Flags().StringVar(&c.Dancer, "dancer", "", "`CODE` of a dancer: recordings of theirs, from the logbook")
	cmd.Flags().StringVar(&c.Visit, "visit", "", "only those of one `VISIT`: today, last or its name; all for all of them")
	logbookFlag(cmd, &c.Folder)
	complete(cmd, "dancer", completeCodes(dancerCodes))
	complete(cmd, "visit", completeCodes(visitNames))
}

// portNames completes the name of a serial port, or of a file, since a symbolic
// link can stand for a port.
func portNames(*cobra.Command, []string, string) (names []string, _ cobra.ShellCompDirective) {
	ports, err := link.Ports()
	if err != nil {
		return nil, cobra.ShellCompDirectiveDefault
	}
	for _, p := range ports {
		names = append(names, cobra.CompletionWithDesc(p.Name, p.Product))
	}
	return names, cobra.ShellCompDirectiveDefault
}

// Parts of the help that several edit commands have in common.
const (
	editing = `Values that you do not give stay as they are; an empty value, such as
--note "", removes one.`
	codeStays = `The code cannot be changed, because recordings carry it.`
)
