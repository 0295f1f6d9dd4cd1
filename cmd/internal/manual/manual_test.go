package manual_test

import (
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/cmd/internal/manual"
)

// Texts of commands are not interpreted as markup: they appear unchanged, indented lines
// line by line.
func TestPages(t *testing.T) {
	do := func(*cobra.Command, []string) {}
	root := &cobra.Command{Use: "top", Short: "Do all", Run: do}
	sub := &cobra.Command{Use: "sub FILE", Short: "Do this", Long: "Read *.csv, over_mm and [FILE].\n\n  a  one\n  b  *two*\n\nThe end <here>.", Run: do}
	root.AddCommand(sub, &cobra.Command{Use: "not", Hidden: true, Run: do})
	pages, err := manual.Pages(root)
	require.NoError(t, err)
	require.Len(t, pages, 2)
	assert.Equal(t, []string{"top.1", "top-sub.1"}, []string{pages[0].File, pages[1].File})
	said := strings.ReplaceAll(string(pages[1].Roff), `\&`, "") // which has no width
	assert.Contains(t, said, `.TH "TOP-SUB" "1" "" "Aplomb `, "no date")
	assert.Contains(t, said, "\nRead *.csv, over_mm and [FILE].\n")
	assert.Contains(t, said, "\n.EX\n  a  one\n  b  *two*\n")
	assert.Contains(t, said, "\nThe end <here>.\n")
}
