package main

import (
	"strings"

	"github.com/spf13/cobra"

	"aplomb/cmd/internal/usage"
)

// The templates of help: what the command does, examples, and then all flags or
// commands.
const (
	helpTemplate  = `{{with or .Long .Short}}{{. | trimTrailingWhitespaces}}{{end}}` + "\n\n" + `{{.UsageString}}`
	usageTemplate = `{{if .HasExample}}Examples:
{{.Example}}

{{end}}Usage:
  {{if .HasAvailableSubCommands}}{{.CommandPath}} COMMAND{{else}}{{.UseLine}}{{end}}{{if .HasAvailableSubCommands}}

{{if .Groups}}{{$all := .Commands}}{{range $i, $g := .Groups}}{{if $i}}

{{end}}{{.Title}}:{{range $all}}{{if eq .GroupID $g.ID}}
  {{rpad .Name .NamePadding}} {{.Short}}{{end}}{{end}}{{end}}{{else}}Commands:{{range .Commands}}{{if .IsAvailableCommand}}
  {{rpad .Name .NamePadding}} {{.Short}}{{end}}{{end}}{{end}}{{end}}{{if .HasAvailableLocalFlags}}

Flags:
{{.LocalFlags.FlagUsages | trimTrailingWhitespaces}}{{end}}{{if .HasAvailableSubCommands}}

Run {{.CommandPath}} COMMAND --help for more about a command.{{end}}
`
)

func init() { cobra.EnableCommandSorting = false } // commands are listed in the order in which they are needed

// occasions are the groups in which help lists the commands, by occasion of use.
var occasions = []struct {
	title    string
	commands []string
}{
	{"At a fitting", []string{"fitting", "record", "compare", "next", "report", "plot"}},
	{"Following up", []string{"visit", "track", "show"}},
	{"In a study, and for files", []string{"study", "import", "check", "analyze", "reliability", "export", "reproduce", "fields"}},
	{"Strips", []string{"strip", "agree", "ports", "sim"}},
	{"The logbook", []string{"dancer", "shoe", "logbook"}},
	{"Learning it", []string{"demo", "guide", "completion"}},
}

// addGroups puts the commands of root into the groups of occasions.
func addGroups(root *cobra.Command) {
	for _, o := range occasions {
		root.AddGroup(&cobra.Group{ID: o.title, Title: o.title})
		for _, name := range o.commands {
			for _, cmd := range root.Commands() {
				if cmd.Name() == name {
					cmd.GroupID = o.title
				}
			}
		}
	}
}

// hideDefaults leaves the default values of flags out of the help of a command that does
// something else where they are not given.
func hideDefaults(cmd *cobra.Command, names ...string) {
	for _, name := range names {
		f := cmd.Flags().Lookup(name)
		f.DefValue = map[string]string{"int": "0", "string": ""}[f.Value.Type()] // pflag does not print these
	}
}

// addHelp gives root and its commands their help and their completion.
func addHelp(root *cobra.Command) {
	root.SetHelpTemplate(helpTemplate)
	root.SetUsageTemplate(usageTemplate)
	root.SetHelpCommand(newHelp())
	root.InitDefaultHelpCmd()
	root.InitDefaultCompletionCmd()
	for _, cmd := range root.Commands() {
		keepOrder(cmd)
		if cmd.Name() == "completion" {
			describeCompletion(cmd)
			continue
		}
		for _, sub := range cmd.Commands() {
			keepOrder(sub)
		}
	}
	addGroups(root)
	root.InitDefaultHelpFlag()
	root.Flags().Lookup("help").Usage = "show this help"
	root.InitDefaultVersionFlag()
	root.Flags().Lookup("version").Usage = "show the version"
}

// keepOrder lists a command's flags in the order in which they were added.
func keepOrder(cmd *cobra.Command) {
	cmd.Flags().SortFlags = false
	cmd.InitDefaultHelpFlag()
	cmd.Flags().Lookup("help").Usage = "show this help"
}

func describeCompletion(cmd *cobra.Command) {
	cmd.Short = "Write a script for command completion in a shell"
	cmd.Long = cmd.Short + "."
	cmd.Example = `  aplomb completion bash > ~/.local/share/bash-completion/completions/aplomb
  aplomb completion zsh --help`
	cmd.Args = cobra.ArbitraryArgs
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		if len(args) > 0 {
			return usage.Errorf("no completion for %q: bash, zsh, fish or powershell", args[0])
		}
		return cmd.Help()
	}
	for _, shell := range cmd.Commands() {
		shell.Args = noArgs
	}
}

func newHelp() *cobra.Command {
	return &cobra.Command{
		Use:   "help [COMMAND]",
		Short: "Show the help of a command",
		RunE: func(cmd *cobra.Command, args []string) error {
			of, rest, err := cmd.Root().Find(args)
			if err != nil {
				return err
			}
			if len(rest) > 0 {
				return unknownCommand(of, rest[0])
			}
			return of.Help()
		},
		ValidArgsFunction: func(cmd *cobra.Command, args []string, typed string) (names []string, _ cobra.ShellCompDirective) {
			for _, c := range cmd.Root().Commands() {
				if len(args) == 0 && c.IsAvailableCommand() && strings.HasPrefix(c.Name(), typed) {
					names = append(names, cobra.CompletionWithDesc(c.Name(), c.Short))
				}
			}
			return names, cobra.ShellCompDirectiveNoFileComp
		},
	}
}

// unknownCommand returns the error for a command that does not exist, with the one that was
// probably meant.
func unknownCommand(root *cobra.Command, name string) error {
	if near := root.SuggestionsFor(name); len(near) > 0 {
		return usage.Errorf("unknown command %q: did you mean %q?", name, near[0])
	}
	return usage.Errorf("unknown command %q", name)
}

// firstWord returns the first argument that is no flag, "" where there is none.
func firstWord(args []string) string {
	for _, a := range args {
		if !strings.HasPrefix(a, "-") {
			return a
		}
	}
	return ""
}
