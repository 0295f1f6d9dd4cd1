package main

import (
	"errors"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"aplomb/analyze/logbook"
)

// book is the logbook that a command line means.
type book struct{ named string }

func (b *book) flag(cmd *cobra.Command) {
	cmd.Flags().StringVar(&b.named, "logbook", "", "`DIR` of the logbook; default $APLOMB_LOGBOOK, else the user's data folder")
	cmd.MarkFlagDirname("logbook")
}

// dir returns the logbook's folder, whether or not it is there.
func (b *book) dir() (string, error) {
	if b.named != "" {
		return b.named, nil
	}
	return logbook.DefaultDir(os.Getenv)
}

// open opens a logbook that is there.
func (b *book) open() (*logbook.Logbook, error) {
	dir, err := b.dir()
	if err != nil {
		return nil, err
	}
	if !logbook.Exists(dir) {
		if info, err := os.Stat(dir); err == nil && !info.IsDir() {
			return nil, fmt.Errorf("logbook %s: a file, and no folder", dir)
		}
		if err := logbook.CheckDatabase(dir); err != nil {
			return nil, err
		}
		return nil, fmt.Errorf("no logbook in %s: begin one with aplomb dancer add CODE, or name another with --logbook", dir)
	}
	return logbook.Open(dir)
}

// begin opens the logbook, or makes one and says so.
func (b *book) begin(cmd *cobra.Command) (*logbook.Logbook, error) {
	dir, err := b.dir()
	if err != nil {
		return nil, err
	}
	fresh := !logbook.Exists(dir)
	l, err := logbook.Open(dir)
	if err == nil && fresh {
		fmt.Fprintf(cmd.ErrOrStderr(), "a new logbook, in %s\n", l.Dir())
	}
	return l, err
}

// reading runs a command on a logbook that is there.
func (b *book) reading(do func(*cobra.Command, []string, *logbook.Logbook) error) func(*cobra.Command, []string) error {
	return func(cmd *cobra.Command, args []string) error {
		l, err := b.open()
		if err != nil {
			return err
		}
		return errors.Join(typedWrong(do(cmd, args, l)), l.Close())
	}
}

// beginning runs a command on the logbook, which is made where there is none.
func (b *book) beginning(do func(*cobra.Command, []string, *logbook.Logbook) error) func(*cobra.Command, []string) error {
	return func(cmd *cobra.Command, args []string) error {
		l, err := b.begin(cmd)
		if err != nil {
			return err
		}
		return errors.Join(typedWrong(do(cmd, args, l)), l.Close())
	}
}

// typedWrong makes misuse of what the logbook finds impossible.
func typedWrong(err error) error {
	if errors.Is(err, logbook.ErrInvalid) {
		return misuse{err}
	}
	return err
}

// listed adds to what is not in the logbook which command lists what is.
func listed(err error, command string) error {
	if errors.Is(err, logbook.ErrNotFound) {
		return fmt.Errorf("%w: %s shows what is", err, command)
	}
	return err
}

// codes completes with what the logbook holds; where there is none, with nothing.
func (b *book) codes(of func(*cobra.Command, *logbook.Logbook) ([]string, error)) cobra.CompletionFunc {
	return func(cmd *cobra.Command, _ []string, _ string) ([]string, cobra.ShellCompDirective) {
		l, err := b.open()
		if err != nil {
			return nil, cobra.ShellCompDirectiveNoFileComp
		}
		defer l.Close()
		all, err := of(cmd, l)
		if err != nil {
			return nil, cobra.ShellCompDirectiveNoFileComp
		}
		return all, cobra.ShellCompDirectiveNoFileComp
	}
}

// orFiles completes with files of an ending too.
func orFiles(ending string, with cobra.CompletionFunc) cobra.CompletionFunc {
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

// visitNames lists the visits of the dancer that --dancer names, the last one first.
func visitNames(cmd *cobra.Command, l *logbook.Logbook) (names []string, err error) {
	all, err := l.Visits(cmd.Flag("dancer").Value.String())
	for i := len(all) - 1; i >= 0; i-- {
		names = append(names, all[i].Name())
	}
	return names, err
}
