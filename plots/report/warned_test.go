package report

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
)

// A warning about one shoe says nothing of those that follow it.
func TestWarningsNameTheirShoes(t *testing.T) {
	left, right := "B", "C"
	r := &measure.Result{Warnings: []measure.Warning{
		measure.Warn(measure.OutlineConflict, measure.Values{Shoe: "B"}), measure.Warn(measure.RecordingCut, measure.Values{}),
	}}
	r.Recording.Shoes = measure.PerFoot[string]{Left: &left, Right: &right}
	said := otherWarnings(Data{Comparison: &compare.Comparison{}, Results: []*measure.Result{r}})
	assert.Equal(t, "2 warnings about B and C may have changed this answer: the lab sheet has the details.", said)
}
