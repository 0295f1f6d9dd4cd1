package software

import "aplomb/analyze/measure"

// Provenance returns the build that runs as the provenance of results names it.
func Provenance() measure.Software {
	b := This()
	return measure.Software{Version: b.Version, Commit: b.Commit, Modified: b.Modified}
}
