package main

import (
	"aplomb/analyze/measure"
	"aplomb/cmd/internal/software"
)

// built returns the build of this program as provenance names it.
func built() measure.Software {
	b := software.This()
	return measure.Software{Version: b.Version, Commit: b.Commit, Modified: b.Modified}
}
