package output_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/cmd/internal/output"
	"aplomb/device"
)

const rest = "aplomb compare --dancer D7 --visit last --details shows all of it."

func framed(c *compare.Comparison) string {
	var b bytes.Buffer
	output.Frame(&b, c, rest)
	return b.String()
}

// worn returns a comparison of shoes on both feet.
func worn(shoes ...string) *compare.Comparison {
	c := &compare.Comparison{Answer: "Over the box on both feet in B, behind in A."}
	for _, shoe := range shoes {
		for _, f := range device.Feet {
			s := compare.ShoeFoot{Shoe: shoe, Foot: f, Verdict: measure.OverTheBox, Measures: map[measure.Measure]compare.Summary{
				measure.Over: {N: 5, Mean: -0.4, CI95: &[2]float64{-1.4, 0.6}}, measure.Medial: {N: 5},
			}}
			if shoe == "A" {
				s.Verdict = measure.PulledBack
			}
			c.Shoes = append(c.Shoes, s)
		}
	}
	return c
}

// A fitting without problems has no warning in its frame; warnings for the record are
// omitted.
func TestFrameOfACleanFitting(t *testing.T) {
	c := worn("A", "B")
	c.Warnings = []measure.Warning{
		measure.Warn(measure.GainAssumed, measure.Values{Strip: "L-01", Percent: 3}),
		measure.Warn(measure.GainAssumed, measure.Values{Strip: "R-01", Percent: 3}),
		measure.Warn(measure.RecordingTwice, measure.Values{File: "a.mcap"}),
	}
	assert.Equal(t, `Over the box on both feet in B, behind in A.
A left   over −0.4 ± 1.0 mm  behind (pulled back)
A right  over −0.4 ± 1.0 mm  behind (pulled back)
B left   over −0.4 ± 1.0 mm  over the box
B right  over −0.4 ± 1.0 mm  over the box
Assumed, not measured: cells differ by 3 % (L-01, R-01).
`+rest+"\n", framed(c))
}

// A warning that may have changed the answer appears under its shoe and foot, or under
// the headline if it belongs to neither.
func TestFrameWarnsWhereItMatters(t *testing.T) {
	c := worn("A", "B")
	c.Warnings = []measure.Warning{
		measure.Warn(measure.OneReleve, measure.Values{Shoe: "A"}).On(device.Left),
		measure.Warn(measure.SeveralFloors, measure.Values{}),
	}
	lines := strings.Split(framed(c), "\n")
	assert.Equal(t, "warning: several floors: contact share compares only on the same floor", lines[1])
	assert.Equal(t, "warning: A left: one relevé only: its scatter is unknown, so there is no", lines[3])
}

// The first-ranked shoe comes first, however late it was worn.
func TestFrameOfTwelveShoes(t *testing.T) {
	c := worn(strings.Split("ABCDEFGHIJKL", "")...)
	c.Ranking = []compare.RankedShoe{{Place: 1, Shoe: "L"}}
	for _, shoe := range strings.Split("ABCDEFGHIJK", "") {
		c.Ranking = append(c.Ranking, compare.RankedShoe{Place: 2, Shoe: shoe})
	}
	c.Warnings = []measure.Warning{measure.Warn(measure.OneReleve, measure.Values{Shoe: "K"}).On(device.Left)}
	lines := strings.Split(strings.TrimSpace(framed(c)), "\n")
	assert.Len(t, lines, 12)
	assert.Contains(t, lines[1], "L left")
	assert.Equal(t, "… and 16 lines more, 1 warning among them", lines[10])
}

// A long code leaves room for the verdict.
func TestFrameOfALongCode(t *testing.T) {
	c := worn(strings.Repeat("long", 15))
	assert.Contains(t, framed(c), "longlonglo…glonglong left   over −0.4 ± 1.0 mm  over the box\n")
}

// For any content a frame has at most 12 lines of 80 columns, and its last line names
// where the rest is.
func TestFrameFits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		long := rapid.StringMatching(`[A-Z][a-z0-9 ]{0,58}[a-z]`)
		c := worn(rapid.SliceOfN(long, 0, 12).Draw(t, "shoes")...)
		c.Answer = strings.Repeat("Over the box on both feet in B. ", rapid.IntRange(1, 40).Draw(t, "answer"))
		for i := range rapid.IntRange(0, 9).Draw(t, "warnings") {
			code := rapid.SampledFrom([]measure.Code{measure.OneReleve, measure.SeveralFloors, measure.CheckMoved, measure.GainAssumed, measure.SeatAssumed, measure.HostClock}).Draw(t, "code")
			w := measure.Warn(code, measure.Values{Strip: fmt.Sprint("L-", i), Interval: &[2]float64{-5, 5}})
			if len(c.Shoes) > 0 {
				w.Foot, w.Values.Shoe = c.Shoes[0].Foot.String(), c.Shoes[0].Shoe
			}
			c.Warnings = append(c.Warnings, w)
		}
		lines := strings.Split(strings.TrimSuffix(framed(c), "\n"), "\n")
		assert.LessOrEqual(t, len(lines), 12)
		for _, line := range lines {
			assert.LessOrEqual(t, utf8.RuneCountInString(line), 80, line)
		}
		assert.Equal(t, rest, lines[len(lines)-1])
	})
}
