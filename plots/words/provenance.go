package words

import (
	"fmt"
	"strings"
	"time"

	"aplomb/analyze/measure"
)

// shortCommit is the number of digits of a commit that are shown.
const shortCommit = 8

// Validated states what the measurement was validated on. It is part of the version, and
// of every sheet about a strip without a known agreement with a reference instrument.
const Validated = "validated in simulation and on an emulated board, not yet on a physical strip"

// ValidatedOn returns what the numbers of a provenance are validated on: for each of its
// strips the last agreement with a reference instrument in the logbook for exactly this
// profile, otherwise Validated. Simulated data do not count.
func ValidatedOn(p *measure.Provenance) string {
	var with []string
	for _, s := range p.Strips {
		if a := lastAgreement(p.Agreements, s); a != nil {
			m := a.Measures[0]
			with = append(with, fmt.Sprintf("strip %s on %s %s %s, %s of one mounting",
				s.Name, a.Day.Format(time.DateOnly), DisplayOf(m.Measure).Label, Agreed(m), Count(m.Holds, "hold", "holds")))
		}
	}
	switch {
	case len(with) == 0:
		return Validated
	case len(with) < len(p.Strips):
		with = append(with, "the others: "+Validated)
	}
	return "agreement with a reference instrument: " + strings.Join(with, "; ")
}

// lastAgreement returns the last agreement that applies to a strip, nil for none. all are
// by day.
func lastAgreement(all []measure.Agreement, of measure.Content) (last *measure.Agreement) {
	for i := range all {
		if a := &all[i]; !a.Simulated && a.StripSHA256 == of.SHA256 && len(a.Measures) > 0 {
			last = a
		}
	}
	return last
}

// Agreed writes the bias of a measure ± half of the width between its limits of agreement.
func Agreed(m measure.Agreed) string {
	d := DisplayOf(m.Measure)
	return withUnit(Number(m.Bias*d.Scale, d.Decimals)+" ± "+Number((m.Upper-m.Lower)/2*d.Scale, d.Decimals), d.DiffUnit)
}

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
