package software

import (
	"runtime"

	"aplomb/analyze/measure"
)

// Provenance returns the build that runs, in the form that the provenance of
// results has.
func Provenance() measure.Software {
	b := This()
	return measure.Software{Version: b.Version, Commit: b.Commit, Modified: b.Modified, Architecture: runtime.GOARCH}
}
