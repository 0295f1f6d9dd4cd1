package main

import (
	"bytes"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Help fits a terminal of 80 columns; only the table of flags may be wider.
func TestHelpFitsTheScreen(t *testing.T) {
	t.Parallel()
	root := newRoot(realEnvironment())
	var look func(*cobra.Command)
	look = func(cmd *cobra.Command) {
		var help bytes.Buffer
		cmd.SetOut(&help)
		require.NoError(t, cmd.Help())
		before, _, _ := strings.Cut(help.String(), "\nFlags:\n")
		for line := range strings.Lines(before) {
			assert.LessOrEqual(t, utf8.RuneCountInString(strings.TrimSuffix(line, "\n")), 80, "%s: %s", cmd.CommandPath(), line)
		}
		for _, sub := range cmd.Commands() {
			if cmd.Name() != "completion" { // cobra's own words
				look(sub)
			}
		}
	}
	look(root)
}

// A flag states one default, and a flag of a command that keeps what is not given states none.
func TestHelpStatesOneDefault(t *testing.T) {
	t.Parallel()
	for path, states := range map[string]int{"ports": 1, "strip new": 7, "study new": 8, "study amend": 0} {
		cmd, _, err := newRoot(realEnvironment()).Find(strings.Fields(path))
		require.NoError(t, err)
		var help bytes.Buffer
		cmd.SetOut(&help)
		require.NoError(t, cmd.Help())
		_, flags, _ := strings.Cut(help.String(), "\nFlags:\n")
		var all int
		for line := range strings.Lines(flags) {
			if strings.Contains(line, "--logbook") || strings.Contains(line, "--share") {
				continue // their defaults are the same everywhere
			}
			n := strings.Count(line, "default")
			assert.LessOrEqual(t, n, 1, line)
			all += n
		}
		assert.Equal(t, states, all, path)
	}
}
