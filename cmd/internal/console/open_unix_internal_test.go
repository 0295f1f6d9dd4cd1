//go:build unix

package console

import (
	"os"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// An opener that fails is reported with its exit status, as is a missing one.
func TestOpenFileFails(t *testing.T) {
	t.Setenv("DISPLAY", ":9")
	programs := t.TempDir()
	t.Setenv("PATH", programs)
	name := opener(runtime.GOOS)[0]
	assert.EqualError(t, openFile(t.Context(), "a.html", time.Hour), "there is no "+name+" here to open it with")
	require.NoError(t, os.WriteFile(filepath.Join(programs, name), []byte("#!/bin/sh\nexit 3\n"), 0o755))
	assert.EqualError(t, openFile(t.Context(), "a.html", time.Hour), name+" could not open it (exit status 3)")
}
