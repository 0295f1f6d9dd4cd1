// Package software identifies the running build of the program.
package software

import (
	"fmt"
	"runtime/debug"
)

// Version is the version of the source.
const Version = "0.2.0-dev"

// Build is the information about a build of the program.
type Build struct {
	Version  string
	Commit   string // full hash; "" for a build outside a repository
	Modified bool   // the source differed from the commit
}

// This returns the running build. Commit and Modified are those that the go command
// writes into a program built inside a repository, with go install as with go build.
func This() Build {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return Build{Version: Version}
	}
	return from(info)
}

func from(info *debug.BuildInfo) Build {
	b := Build{Version: Version}
	for _, s := range info.Settings {
		switch s.Key {
		case "vcs.revision":
			b.Commit = s.Value
		case "vcs.modified":
			b.Modified = s.Value == "true"
		}
	}
	return b
}

// shortest is how many digits of a commit String gives.
const shortest = 8

// String returns the version and, in brackets, the commit and whether the
// source was modified.
func (b Build) String() string {
	switch {
	case b.Commit == "":
		return b.Version + " (commit unknown)"
	case b.Modified:
		return fmt.Sprintf("%s (commit %.*s, modified)", b.Version, shortest, b.Commit)
	}
	return fmt.Sprintf("%s (commit %.*s)", b.Version, shortest, b.Commit)
}
