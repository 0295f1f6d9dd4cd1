package recording_test

import (
	"os"
	"path/filepath"
	"runtime"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device/recording"
)

// A recording names the dancer, so only its owner can read it: during recording, after it
// is rewritten together with its folder, and when finished.
func TestOnlyTheOwnerCanReadARecording(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("modes mean nothing there")
	}
	hidden := func(t *testing.T, path string) {
		info, err := os.Stat(path)
		require.NoError(t, err)
		assert.Zero(t, info.Mode().Perm()&0o077, "%s: %v", path, info.Mode())
	}
	t.Run("live", func(t *testing.T) {
		dir := filepath.Join(t.TempDir(), "fitting")
		require.NoError(t, os.Mkdir(dir, 0o777))
		path := filepath.Join(dir, "r.mcap")
		synctest.Test(t, func(t *testing.T) {
			w, err := recording.Create(path, meta(1, 8))
			require.NoError(t, err)
			hidden(t, path+".part")
			require.NoError(t, os.RemoveAll(dir))
			_, err = inSeconds(w, releves(300, 8)) // more than a second
			require.NoError(t, err)
			require.Len(t, w.Warnings(), 1)
			hidden(t, dir)
			hidden(t, path+".part")
			require.NoError(t, w.Close())
			hidden(t, path)
		})
	})
	t.Run("direct", func(t *testing.T) {
		path := tempFile(t)
		w, err := recording.CreateDirect(path, meta(1, 8))
		require.NoError(t, err)
		hidden(t, path+".part")
		write(t, w, releves(4, 8))
		require.NoError(t, w.Close())
		hidden(t, path)
	})
}
