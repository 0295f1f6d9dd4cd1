package main

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/device"
	"aplomb/device/recording"
)

// Every finding is followed by what it means for the measures.
func TestPrintSurvey(t *testing.T) {
	s := &recording.Survey{StartNS: 5e9}
	for _, f := range device.Feet {
		s.Meta.Sides[f] = &recording.Side{
			Strip: &device.Strip{Name: "S-" + f.String()}, Shoe: &device.Shoe{Code: "A"}, Clock: "strip",
		}
	}
	left := &recording.FootSurvey{Frames: 2000, Numbered: true, SpanS: 10, RateHz: 200.3, Lost: 3, Saturated: 7, Covered: 0.8}
	for i := range gapsShown + 2 {
		left.Gaps = append(left.Gaps, device.Event{TimeNS: int64(6+i) * 1e9, Foot: device.Left, Kind: device.Gap, Cause: "lost frames", LengthS: 0.01})
	}
	s.Feet = [2]*recording.FootSurvey{left, {Covered: 1}}
	var b strings.Builder
	printSurvey(&b, "a.mcap", s)
	assert.Equal(t, `a.mcap: not whole
  left   strip S-left under shoe A: 2000 frames in 10.0 s, 200.3 a second, 3 lost
         → a relevé with frames missing says so; its sway and times are the least sure
         gap of 0.010 s up to 1.000 s: lost frames
         gap of 0.010 s up to 2.000 s: lost frames
         gap of 0.010 s up to 3.000 s: lost frames
         gap of 0.010 s up to 4.000 s: lost frames
         gap of 0.010 s up to 5.000 s: lost frames
         and 2 gaps more
         7 frames with a cell at the end of its range
         → load and peak pressure there are lower bounds
         the strip covers 80 % of the platform
         → what stands beside it is not measured: load and contact read low
  right  strip S-right under shoe A: no frame
         → nothing can be measured on this foot, nor left against right
`, b.String())

	s.Feet = [2]*recording.FootSurvey{{Frames: 100, SpanS: 2.1, RateHz: 47, LongestS: 0.2, Covered: 1}, nil}
	b.Reset()
	printSurvey(&b, "a.mcap", s)
	assert.Equal(t, `a.mcap: not whole
  left   strip S-left under shoe A: 100 frames in 2.1 s, 47.0 a second
         → not numbered, so lost frames cannot be counted: only a pause would show
         a pause of 0.200 s: frames seem to be missing
         → a relevé it falls into says so; its sway and times are the least sure
`, b.String())
}
