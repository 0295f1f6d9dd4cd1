package report

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/plots/internal/exampledata"
)

// No line ends between a number and its unit; pictures, styles and data stay as they are.
func TestUnitsStayWithTheirNumbers(t *testing.T) {
	for page, want := range map[string]string{
		"34 × 21 mm, 29 % likely; 6 h":      "34 × 21\u00a0mm, 29\u00a0% likely; 6\u00a0h",
		"2 hours, 3 mmm, 52 kg.":            "2 hours, 3 mmm, 52\u00a0kg.",
		"<svg a=\"1 mm\">1 mm</svg> 1 mm":   "<svg a=\"1 mm\">1 mm</svg> 1\u00a0mm",
		"<style>1 %</style><p>4 N</p>":      "<style>1 %</style><p>4\u00a0N</p>",
		"<script id=\"x\">1 mm</script>5 %": "<script id=\"x\">1 mm</script>5\u00a0%",
	} {
		assert.Equal(t, want, string(keepUnits([]byte(page))))
	}
}

func TestUnitsOfTheLabSheet(t *testing.T) {
	f := exampledata.Usual()
	var b bytes.Buffer
	require.NoError(t, Write(&b, Data{Results: f.Results, Comparison: f.Comparison}))
	assert.NotRegexp(t, beforeUnit, string(notProse.ReplaceAll(b.Bytes(), nil)))
}
