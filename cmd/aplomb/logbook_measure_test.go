package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/plots/words"
)

// until cancels a context when a line has been written that begins with a text.
type until struct {
	out    bytes.Buffer
	text   string
	cancel context.CancelFunc
}

func (u *until) Write(b []byte) (int, error) {
	if strings.HasPrefix(string(b), u.text) {
		u.cancel()
	}
	return u.out.Write(b)
}

// One command brings a logbook of the first version up to date. A signal ends it, its
// results so far are kept, and the next run continues from there. Recordings 3 and 4 may
// be done by the time that the signal for 2 arrives, because they are measured in
// parallel.
func TestLogbookMeasureGoesOnWhereItWas(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "book")
	require.NoError(t, os.CopyFS(dir, os.DirFS("../../analyze/logbook/testdata/version2")))
	lines := []string{
		"recording 1 (D7, 2026-03-07, shoe A): 2 relevés\n",
		"recording 2 (D7, 2026-03-07, shoe B): 2 relevés\n",
		"recording 3 (D7, 2026-03-14, shoe A): 2 relevés\n",
		"recording 4 (D8, 2026-03-14, shoe A): 2 relevés\n",
	}
	ctx, cancel := context.WithCancel(t.Context())
	out, said := &until{text: "recording 2 ", cancel: cancel}, &bytes.Buffer{}
	assert.Equal(t, exitNo, realEnvironment().run(ctx, []string{"logbook", "measure", "--logbook", dir}, out, said))
	done := strings.Count(out.out.String(), "\n")
	require.GreaterOrEqual(t, done, 2)
	require.LessOrEqual(t, done, len(lines))
	assert.Equal(t, strings.Join(lines[:done], ""), out.out.String())
	assert.Equal(t, fmt.Sprintf("%d of 4 recordings measured; the others are as they were\naplomb: stopped before it was done\n", done), said.String())

	rest := words.Count(len(lines)-done, "recording", "recordings")
	assert.Equal(t, strings.Join(lines[done:], "")+fmt.Sprintf("%s measured; %d up to date already\n", rest, done),
		typed(t, "logbook", "measure", "--logbook", dir))
	assert.Regexp(t, `2026-03-07  −2\.7 mm +reference, baseline`, typed(t, "track", "--dancer", "D7", "--logbook", dir))
}
