package files_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/cmd/internal/files"
)

func TestChecks(t *testing.T) {
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	require.NoError(t, os.WriteFile(at("a.mcap"), []byte("frames"), 0o666))
	require.NoError(t, os.WriteFile(at("a.html"), []byte("<!DOCTYPE html><title>a</title>"), 0o666))
	for _, check := range []func(string) error{files.CheckVacant, files.CheckPage} {
		assert.NoError(t, check(at("b.html")))
		assert.ErrorContains(t, check(at("a.mcap")), "exists: move it away or choose another name")
		assert.ErrorContains(t, check(at("none/b.html")), "make it first")
		assert.ErrorContains(t, check(at("a.mcap/b.html")), "is no folder")
	}
	assert.ErrorContains(t, files.CheckVacant(at("a.html")), "exists")
	assert.NoError(t, files.CheckPage(at("a.html")))
}
