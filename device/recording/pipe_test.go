//go:build unix

package recording_test

import (
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device/recording"
)

// A named pipe without a writer is refused at once.
func TestANamedPipeIsRefused(t *testing.T) {
	path := filepath.Join(t.TempDir(), "r.mcap")
	require.NoError(t, syscall.Mkfifo(path, 0o600))
	_, err := recording.Open(t.Context(), path)
	assert.ErrorIs(t, err, recording.ErrForeign)
	assert.EqualError(t, err, path+": not a file: name a recording")
}
