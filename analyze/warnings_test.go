package analyze_test

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/plots/words"
)

// domed returns the pressure under a platform that touches only in the middle.
func domed(s *device.Strip) []float64 {
	p := make([]float64, s.Cells())
	for k := range p {
		row, col := s.RowCol(k)
		c := s.Centre(row, col)
		const fine = 10
		for i := range fine * fine {
			x := c[0] + (float64(i%fine)+0.5)/fine*5 - 2.5
			y := c[1] + (float64(i/fine)+0.5)/fine*5 - 2.5
			p[k] += 2000 * max(0, 1-x*x/144-y*y/81) / (fine * fine)
		}
	}
	return p
}

// Each recording has exactly one problem, and gives the warning of that problem once and
// no other.
func TestWarnings(t *testing.T) {
	whole := func(side *device.Side, frames []device.Frame) []device.Frame { return frames }
	cutAt := func(s float64) func(*device.Side, []device.Frame) []device.Frame {
		return func(_ *device.Side, frames []device.Frame) []device.Frame {
			return only(frames, func(f *device.Frame) bool { return seconds(f) >= s })
		}
	}
	for _, c := range []struct {
		name      string
		side      func(*device.Side)
		field     func(*device.Strip) []float64 // nil: load in the middle
		frames    func(*device.Side, []device.Frame) []device.Frame
		recording []string
		first     []string // codes of the first relevé; the second has none unless always is set
		always    bool
	}{
		{name: "nothing wrong", frames: whole},
		{
			name: "strip too small", frames: whole,
			side:      func(s *device.Side) { s.Shoe = rectangle("A", 43, 25) },
			field:     func(s *device.Strip) []float64 { return bed{400, 43, 25, 0}.cells(s) },
			recording: []string{"left: strip L-01 covers 93 % of the platform: load beside it is not measured"},
			first:     []string{"strip L-01 covers 93 % of the platform: load beside it is not measured"}, always: true,
		},
		{
			name: "outline misplaced", frames: whole,
			side:  func(s *device.Side) { s.Shoe = rectangle("A", 30, 20) },
			field: func(s *device.Strip) []float64 { return bed{400, 40, 25, 0}.cells(s) },
			first: []string{"more than 3 % of the load is beside the outline: strip or outline is misplaced"}, always: true,
		},
		{
			name: "platform not flat", frames: whole, field: domed,
			first: []string{"platform not flat, or strip does not cover it"}, always: true,
		},
		{
			name: "saturated",
			frames: func(s *device.Side, frames []device.Frame) []device.Frame {
				for i := range frames {
					if at := seconds(&frames[i]); at > 1.5 && at < 1.6 {
						frames[i].Counts[20] = 65535
					}
				}
				return frames
			},
			first: []string{"cells at the end of their range: load, peak pressure and pressure-time integral are lower bounds; over, medial, contact share and thirds are unreliable"},
		},
		{
			name: "frames missing",
			frames: func(_ *device.Side, frames []device.Frame) []device.Frame {
				return only(frames, func(f *device.Frame) bool { return f.Seq < 400 || f.Seq >= 420 })
			},
			recording: []string{"left: 20 of 1600 frames are missing"},
			first:     []string{"frames are missing in it, or the recording begins or ends in it"},
		},
		{
			name: "no clock", frames: whole,
			side:      func(s *device.Side) { s.Clock = "host" },
			recording: []string{"left: the strip sends no clock: times are those of arrival at the computer"},
		},
		{
			name: "begins under load", frames: cutAt(2),
			recording: []string{"left: the recording begins under load: its zero is taken from a later time"},
			first:     []string{"frames are missing in it, or the recording begins or ends in it"},
		},
		{
			name: "never unloaded",
			frames: func(_ *device.Side, frames []device.Frame) []device.Frame {
				return only(frames, func(f *device.Frame) bool { return seconds(f) > 1.5 && seconds(f) < 3 })
			},
			recording: []string{"left: the strip was never unloaded: its zero is unknown, and 0 counts is assumed"},
			first:     []string{"frames are missing in it, or the recording begins or ends in it"},
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			side := on(device.Left)
			if c.side != nil {
				c.side(side)
			}
			field := standing(1, bed{force: 400})[0]
			if c.field != nil {
				field = c.field(side.Strip)
			}
			m := meta(side)
			r := analyzed(t, m, c.frames(side, shoot(m, [2][][]float64{{field, field}, nil})))
			assert.Equal(t, append([]string{}, c.recording...), words.Warnings(r.Warnings))
			require.NotEmpty(t, r.Releves)
			for i, one := range r.Releves {
				require.Equal(t, measure.Measured, one.Status)
				if i == 0 || c.always {
					assert.Equal(t, append([]string{}, c.first...), words.Warnings(one.Warnings))
				} else {
					assert.Empty(t, words.Warnings(one.Warnings))
				}
			}
		})
	}
}

// The pressure of the dome is within an ellipse of 12 × 9 mm about the centre.
func TestDomedPlatform(t *testing.T) {
	side := on(device.Left)
	m := meta(side)
	r := analyzed(t, m, shoot(m, [2][][]float64{{domed(side.Strip)}, nil}))
	one := r.Releves[0]
	assert.InDelta(t, 0, one.OverMM, 0.01)
	assert.InDelta(t, 0, one.MedialMM, 0.01)
	assert.Equal(t, measure.OverTheBox, one.Verdict)
	assert.InEpsilon(t, math.Pi*12*9, one.ContactMM2, 0.03)
}

func TestRecordingCutShort(t *testing.T) {
	m := meta(on(device.Left))
	path := filepath.Join(t.TempDir(), "cut.mcap")
	write(t, path, m, shoot(m, [2][][]float64{standing(1, bed{force: 400}), nil}))
	info, err := os.Stat(path)
	require.NoError(t, err)
	require.NoError(t, os.Truncate(path, info.Size()-5))
	r, err := analyze.File(context.Background(), path, analyze.Options{AtProfile: true})
	require.NoError(t, err)
	require.Len(t, r.Warnings, 1)
	assert.Contains(t, words.Warnings(r.Warnings)[0], "the recording is not whole: it was never closed, or was cut short")
	require.Len(t, r.Releves, 1)
	assert.InDelta(t, 400*onHold, r.Releves[0].LoadN, 0.3)
}
