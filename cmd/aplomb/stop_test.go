//go:build unix

package main

import (
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device/sim"
)

// A demo stopped in the middle leaves nothing that hinders the next one.
func TestDemoStopped(t *testing.T) {
	for name, o := range map[string]environment{"lines": realEnvironment(), "no lines": withoutLines()} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			dir := filepath.Join(t.TempDir(), "demo")
			ctx, stop := context.WithCancel(t.Context())
			go func() {
				defer stop()
				for ctx.Err() == nil {
					if _, err := os.Stat(filepath.Join(dir, "a1.mcap.part")); err == nil {
						return
					}
					time.Sleep(time.Millisecond)
				}
			}()
			var stdout, stderr bytes.Buffer
			assert.Equal(t, exitNo, o.run(ctx, []string{"demo", "--out", dir}, &stdout, &stderr))
			assert.Equal(t, "aplomb: stopped before it was done\n", stderr.String())
			assert.NoDirExists(t, dir)
		})
	}
}

// A stopped import leaves nothing, and commands that read recordings do not continue.
func TestStopped(t *testing.T) {
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	require.NoError(t, os.CopyFS(dir, os.DirFS("testdata/profiles")))
	require.NoError(t, os.WriteFile(at("one.csv"), []byte("t_us,c0\n1,2\n"), 0o666))
	profile := strings.NewReplacer("rows = 5", "rows = 1", "cols = 8", "cols = 1").Replace(read(t, at("left.toml")))
	require.NoError(t, os.WriteFile(at("left.toml"), []byte(profile), 0o666))
	importing := []string{"import", "--strip", at("left.toml"), "--shoe", at("A.toml"), "--out", at("a.mcap"), at("one.csv")}

	ctx, stop := context.WithCancel(t.Context())
	stop()
	var stderr bytes.Buffer
	assert.Equal(t, exitNo, realEnvironment().run(ctx, importing, io.Discard, &stderr))
	assert.NoFileExists(t, at("a.mcap"))
	assert.NoFileExists(t, at("a.mcap.part"))

	typed(t, importing...)
	for _, command := range []string{"check", "analyze", "compare"} {
		assert.Equal(t, exitNo, realEnvironment().run(ctx, []string{command, at("a.mcap")}, io.Discard, &stderr))
	}
	assert.Equal(t, strings.Repeat("aplomb: stopped before it was done\n", 4), stderr.String())
}

func read(t *testing.T, path string) string {
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	return string(b)
}

// withoutLines returns an environment without pseudo-terminals.
func withoutLines() environment {
	o := realEnvironment()
	o.line = func(string) (*sim.Line, error) { return nil, errors.New("no pseudo-terminal") }
	return o
}
