//go:build unix

package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// On a terminal --open opens the result with the desktop's opener: the page, the only
// picture, or the folder of several. Here the opener is a script that writes down its
// arguments.
func TestOpen(t *testing.T) {
	dir, programs := t.TempDir(), t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	for _, name := range []string{"xdg-open", "open"} { // Linux's and macOS's
		script := fmt.Sprintf("#!/bin/sh\necho \"$*\" >> '%s'\n", at("asked"))
		require.NoError(t, os.WriteFile(filepath.Join(programs, name), []byte(script), 0o755))
	}
	t.Setenv("PATH", programs+":"+os.Getenv("PATH"))
	t.Setenv("DISPLAY", ":9")
	require.NoError(t, os.CopyFS(dir, os.DirFS("testdata/profiles")))
	var unloaded strings.Builder
	unloaded.WriteString("t_us")
	for k := range 40 {
		fmt.Fprint(&unloaded, ",c", k)
	}
	for n := range 100 {
		fmt.Fprint(&unloaded, "\n", n*10_000, strings.Repeat(",0", 40))
	}
	require.NoError(t, os.WriteFile(at("unloaded.csv"), []byte(unloaded.String()), 0o666))
	for _, name := range []string{"a.mcap", "b.mcap"} {
		typed(t, "import", "--strip", at("left.toml"), "--shoe", at("A.toml"), "--out", at(name), at("unloaded.csv"))
	}
	far, near, err := pty.Open()
	require.NoError(t, err)
	defer far.Close()
	defer near.Close()
	go io.Copy(io.Discard, far)
	made := func(want string, args ...string) {
		t.Helper()
		var stderr bytes.Buffer
		require.Equal(t, exitDone, realEnvironment().run(t.Context(), append(args, "--open"), near, &stderr), "%s", &stderr)
		assert.Empty(t, stderr.String())
		require.Eventually(t, func() bool {
			asked, err := os.ReadFile(at("asked"))
			return err == nil && strings.HasSuffix(string(asked), "\n") && strings.TrimSpace(string(asked)) == want
		}, time.Minute, 10*time.Millisecond, "%s", want)
		require.NoError(t, os.Remove(at("asked")))
	}
	made(at("a.html"), "report", at("a.mcap"), "--sheet", "fitting", "--out", at("a.html"))
	made(at("pictures/trace-a.svg"), "plot", at("a.mcap"), "--out", at("pictures"))
	made(at("pictures"), "plot", at("a.mcap"), at("b.mcap"), "--out", at("pictures"))
}
