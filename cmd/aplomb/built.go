package main

import (
	"runtime/debug"

	"aplomb/analyze/measure"
)

// built returns the build of this program, as provenance names it. Commit and
// Modified are what the go command writes into a program that it builds inside a
// repository; a test binary has neither.
func built() measure.Software {
	s := measure.Software{Version: version}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return s
	}
	for _, one := range info.Settings {
		switch one.Key {
		case "vcs.revision":
			s.Commit = one.Value
		case "vcs.modified":
			s.Modified = one.Value == "true"
		}
	}
	return s
}
