package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// typed runs a command line, which must succeed, and returns its output.
func typed(t *testing.T, args ...string) string {
	t.Helper()
	var stdout, stderr bytes.Buffer
	require.Equal(t, exitDone, realEnvironment().run(t.Context(), args, &stdout, &stderr), "aplomb %s: %s", strings.Join(args, " "), &stderr)
	return stdout.String()
}

// contents reads every file under dir, by path relative to it.
func contents(t *testing.T, dir string) map[string]string {
	all := map[string]string{}
	require.NoError(t, filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		name, _ := filepath.Rel(dir, path)
		all[name] = string(b)
		return err
	}))
	return all
}
