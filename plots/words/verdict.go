package words

import (
	"aplomb/analyze/measure"
	"aplomb/analyze/verdict"
)

// Verdict returns a verdict in plain words, see verdict.Text.
func Verdict(v measure.Verdict, misses []measure.Direction, medialMM float64) string {
	return verdict.Text(v, misses, medialMM)
}

// ShortVerdict returns a verdict in as few words as possible, see verdict.ShortText.
func ShortVerdict(v measure.Verdict, misses []measure.Direction, medialMM float64) string {
	return verdict.ShortText(v, misses, medialMM)
}

// NotYetSure replaces the verdict too close to call on pages for a dancer.
const NotYetSure = "not yet sure"
