package words

import (
	"fmt"
	"strings"

	"aplomb/analyze/measure"
)

// shortCommit is how many digits of a commit people read.
const shortCommit = 8

// Validated says what the measurement was validated on. It stands in the version and on
// every sheet, until its agreement with a reference instrument is known.
const Validated = "validated in simulation and on an emulated board, not yet on a physical strip"

// Software returns the version of a build and, in brackets, its commit and
// whether the source was modified, as far as they are known.
func Software(s measure.Software) string {
	var more []string
	if s.Commit != "" {
		more = append(more, fmt.Sprintf("commit %.*s", shortCommit, s.Commit))
	}
	if s.Modified {
		more = append(more, "modified")
	}
	if len(more) == 0 {
		return s.Version
	}
	return fmt.Sprintf("%s (%s)", s.Version, strings.Join(more, ", "))
}
