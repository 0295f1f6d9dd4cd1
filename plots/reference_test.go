package plots_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/agreement"
	"aplomb/analyze/measure"
	"aplomb/plots"
)

// withReference returns the agreement of a strip with a reference, with invented numbers.
func withReference() *agreement.Report {
	over := agreement.Compared{Measure: measure.Over, Holds: &agreement.Limits{
		N: 12, Bias: -0.1, BiasCI: [2]float64{-0.35, 0.15}, SD: 0.4, Lower: -0.88, LowCI: [2]float64{-1.4, -0.65}, Upper: 0.68, UpCI: [2]float64{0.45, 1.2},
	}}
	for k := range 12 {
		ref := -4 + 0.6*float64(k)
		d := -0.1 + 0.3*float64((k*5)%7-3)/1.5
		over.Pairs = append(over.Pairs, agreement.Pair{N: k + 1, Strip: ref + d, Reference: ref, Difference: d})
	}
	return &agreement.Report{Strip: "L-01", Simulated: true, Measures: []agreement.Compared{over, {Measure: measure.Medial}}}
}

func TestPicturesOfAgreementWithAReference(t *testing.T) {
	all := plots.Reference(withReference())
	require.Len(t, all, 1, "one measure has limits")
	assert.Equal(t, "reference-over_mm", all[0].Name)
	assert.Equal(t, "Agreement: Front to back (over). left foot, strip L-01, simulated, strip less reference: bias −0.10 mm, 95 % limits of agreement −0.88 mm and 0.68 mm, 12 pairs.", all[0].Describe())
}
