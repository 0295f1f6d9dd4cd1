package software_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/cmd/internal/software"
)

func TestString(t *testing.T) {
	b := software.Build{Version: "1.2.3"}
	assert.Equal(t, "1.2.3 (commit unknown)", b.String())
	b.Commit = "5a72c400d3a1fd96bd0ae1e2d59c54b77b6a3f61"
	assert.Equal(t, "1.2.3 (commit 5a72c400)", b.String())
	b.Modified = true
	assert.Equal(t, "1.2.3 (commit 5a72c400, modified)", b.String())
}

// A program that prints its build is built outside a repository, in one, in one with a
// change, and is installed from there.
func TestThis(t *testing.T) {
	if _, err := exec.LookPath("git"); err != nil {
		t.Skip("no git here")
	}
	source, err := os.ReadFile("software.go")
	require.NoError(t, err)
	dir := t.TempDir()
	write := func(name, text string) {
		path := filepath.Join(dir, name)
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o777))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o666))
	}
	run := func(name string, args ...string) string {
		cmd := exec.Command(name, args...)
		cmd.Dir = dir
		cmd.Env = append(os.Environ(), "GOBIN="+filepath.Join(dir, "bin"), "GOFLAGS=-buildvcs=auto", "GOWORK=off",
			"GIT_CONFIG_GLOBAL="+os.DevNull, "GIT_CONFIG_NOSYSTEM=1", "GIT_CEILING_DIRECTORIES="+filepath.Dir(dir),
			"GIT_AUTHOR_DATE=2026-03-07T10:00:00Z", "GIT_COMMITTER_DATE=2026-03-07T10:00:00Z")
		out, err := cmd.CombinedOutput()
		require.NoError(t, err, "%s %v: %s", name, args, out)
		return string(out)
	}
	built := func() string {
		run("go", "build", "-o", "bin/built", ".")
		return run(filepath.Join(dir, "bin", "built"))
	}
	write("go.mod", "module example\n\ngo 1.26\n")
	write("software/software.go", string(source))
	write("main.go", `package main

import (
	"fmt"

	"example/software"
)

func main() {
	fmt.Print(software.This())
}
`)
	write(".gitignore", "bin/\n")
	assert.Equal(t, software.Version+" (commit unknown)", built())

	run("git", "init", "-q")
	run("git", "add", ".")
	run("git", "-c", "user.name=Test", "-c", "user.email=test@example.invalid", "commit", "-q", "-m", "Test")
	commit := run("git", "rev-parse", "HEAD")[:8]
	assert.Equal(t, software.Version+" (commit "+commit+")", built())

	write("new.txt", "not in the commit")
	assert.Equal(t, software.Version+" (commit "+commit+", modified)", built())
	run("go", "install", ".")
	assert.Equal(t, software.Version+" (commit "+commit+", modified)", run(filepath.Join(dir, "bin", "example")))
}
