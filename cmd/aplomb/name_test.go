//go:build unix

package main

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
)

// A code that looks like a name is confirmed before a dancer is added under it, also if
// no progress is shown.
func TestACodeThatReadsLikeANameAtATerminal(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	env := []string{"APLOMB_LOGBOOK=" + filepath.Join(dir, "book")}
	for _, c := range []struct {
		answer, then string
		status       int
	}{
		{"", "dancer Firstname Lastname was not added: choose a code", exitNo},
		{"y", "dancer Firstname Lastname added", exitDone},
	} {
		x := onTerminal(t, dir, 120, 10, env, "--quiet", "dancer", "add", "Firstname Lastname")
		x.shows("Keep it as the code? [y/N]")
		x.types(c.answer + "\r")
		x.shows(c.then)
		assert.Equal(t, c.status, x.ends())
	}
}
