package trace_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/field"
	"aplomb/analyze/measure"
	"aplomb/analyze/trace"
	"aplomb/device"
	"aplomb/device/platform"
)

const (
	rows, cols, pitch = 5, 8, 5.0
	cells             = rows * cols
	width, depth      = cols * pitch, rows * pitch // of a platform just as large as the strip
	kPaPerCount       = 0.1
	countN            = kPaPerCount * pitch * pitch / 1000 // N of one count on one cell
	epochNS           = 1_700_000_000_000_000_000
)

func profile(foot device.Foot) *device.Strip {
	return &device.Strip{
		Name: "S", Foot: foot, Rows: rows, Cols: cols, PitchMM: [2]float64{pitch, pitch}, CellMM: [2]float64{pitch, pitch},
		ADCBits: 16, SaturatesAt: 65535, FirstCell: "back-lateral", Scan: "rows", Calibration: device.Calibration{KPaPerCount: kPaPerCount},
	}
}

var grid = field.New(profile(device.Left), platform.Rectangle(width, depth))

func onStrip() *trace.Strip {
	return &trace.Strip{Grid: grid, Curve: profile(device.Left).Curve(), SaturatesAt: 65535}
}

// film is a Source that gives a list of frames.
type film struct {
	frames []device.Frame
	then   error // after them; io.EOF where nil
}

func (s *film) Next(f *device.Frame) error {
	if len(s.frames) == 0 {
		if s.then != nil {
			return s.then
		}
		return io.EOF
	}
	counts := append(f.Counts[:0], s.frames[0].Counts...)
	*f = s.frames[0]
	f.Counts = counts
	s.frames = s.frames[1:]
	return nil
}

// shoot returns frames of the left foot at rate, Hz, over seconds; scene gives the
// reading of cell k at time t, counts.
func shoot(rate, seconds float64, scene func(t float64, k int) float64) []device.Frame {
	frames := make([]device.Frame, int(math.Round(rate*seconds)))
	for i := range frames {
		t := float64(i) / rate
		counts := make([]uint16, cells)
		for k := range counts {
			counts[k] = uint16(math.Round(max(0, scene(t, k))))
		}
		us := math.Round(t * 1e6)
		frames[i] = device.Frame{Seq: int64(i), TimeUS: uint64(us), ArrivalNS: epochNS + int64(us)*1000, Counts: counts}
	}
	return frames
}

// develop traces frames and returns the log of the left foot.
func develop(t require.TestingT, frames []device.Frame) *trace.Log {
	logs, err := trace.Run(context.Background(), &film{frames: frames}, [2]*trace.Strip{onStrip(), nil}, nil)
	require.NoError(t, err)
	require.Nil(t, logs[device.Right])
	return logs[device.Left]
}

// even returns the counts of each cell under a uniform load of n newtons.
func even(n float64) float64 { return n / countN / cells }

// tilted returns the counts of cell k under a load of n newtons with its centre of
// pressure at medial and over, mm: mean·(1 + 12·medial·x/width² + 12·over·y/depth²) has
// its resultant there (a column under eccentric load; middle-third rule).
func tilted(n, medial, over float64, k int) float64 {
	x, y := (float64(k%cols)-(cols-1)/2.0)*pitch, (float64(k/cols)-(rows-1)/2.0)*pitch
	return even(n) * (1 + 12*medial*x/(width*width) + 12*over*y/(depth*depth))
}

// pulse returns the share of the load at time t: it rises after from over edge s, and
// falls to zero at to.
func pulse(t, from, to, edge float64) float64 {
	return max(0, min(1, (t-from)/edge, (to-t)/edge))
}

func TestLoadAndPlace(t *testing.T) {
	log := develop(t, shoot(200, 4, func(at float64, k int) float64 { return pulse(at, 1, 3, 0.2) * tilted(400, -1, 3, k) }))
	require.Len(t, log.Samples, 800)
	assert.Equal(t, 800, log.Frames)
	assert.Zero(t, log.Lost)
	for i, s := range log.Samples {
		want := 400 * pulse(float64(i)/200, 1, 3, 0.2)
		assert.InDelta(t, float64(i)/200, s.T, 1e-6)
		assert.InDelta(t, want, s.LoadN, 1.01*cells*countN/2, "at %.3f s", s.T)
		assert.Zero(t, s.Flags)
		// A sample has a centre of pressure above the load floor only.
		if s.LoadN < 25 {
			assert.True(t, s.MedialMM != s.MedialMM && s.OverMM != s.OverMM, "no place at %.1f N", s.LoadN)
		} else {
			assert.InDelta(t, -1, s.MedialMM, 0.02+0.5/float64(s.LoadN))
			assert.InDelta(t, 3, s.OverMM, 0.02+0.5/float64(s.LoadN), "at %.1f N", s.LoadN)
		}
	}
}

func TestFloorIs25N(t *testing.T) {
	// 24.9 and 25.1 N are 249 and 251 counts on every cell.
	log := develop(t, shoot(100, 4, func(at float64, _ int) float64 {
		switch {
		case at < 1:
			return 0
		case at < 2:
			return 249
		case at < 3:
			return 251
		}
		return 249
	}))
	for _, s := range log.Samples {
		located := s.OverMM == s.OverMM
		assert.Equal(t, s.T >= 2 && s.T < 3, located, "at %.2f s: %.2f N", s.T, s.LoadN)
	}
}

func TestSaturation(t *testing.T) {
	strip := onStrip()
	strip.SaturatesAt, strip.MaxCount = 4000, 4095
	frames := shoot(100, 3, func(at float64, k int) float64 {
		if at >= 1 && at < 2 && k == 17 {
			return 3999
		}
		return 0
	})
	for i := 150; i < 160; i++ {
		frames[i].Counts[39] = 4000
	}
	frames[155].Counts[39] = 4095
	frames[156].Counts[39] = 4096
	logs, err := trace.Run(context.Background(), &film{frames: frames}, [2]*trace.Strip{strip, nil}, nil)
	require.NoError(t, err)
	for i, s := range logs[device.Left].Samples {
		assert.Equal(t, i >= 150 && i < 160, s.Flags&measure.Saturated != 0, "sample %d", i)
	}
	assert.Equal(t, 1, logs[device.Left].Beyond, "frames beyond the range of the converter")
}

func TestSourceFails(t *testing.T) {
	broken := errors.New("the line broke")
	frames := shoot(100, 1, func(float64, int) float64 { return 0 })
	_, err := trace.Run(context.Background(), &film{frames: frames, then: broken}, [2]*trace.Strip{onStrip(), nil}, nil)
	assert.ErrorIs(t, err, broken)
}

func TestFramesThatDoNotBelong(t *testing.T) {
	frames := shoot(100, 1, func(float64, int) float64 { return 0 })
	frames[30].Counts = frames[30].Counts[:39]
	_, err := trace.Run(context.Background(), &film{frames: frames}, [2]*trace.Strip{onStrip(), nil}, nil)
	assert.EqualError(t, err, "frame 31 of the left foot has 39 cells, its strip profile 40: the recording is damaged")

	frames[30] = device.Frame{Foot: device.Right, Counts: make([]uint16, cells)}
	_, err = trace.Run(context.Background(), &film{frames: frames}, [2]*trace.Strip{onStrip(), nil}, nil)
	assert.EqualError(t, err, "a frame of the right foot, for which there is no strip profile")

	frames[30].Foot = device.NoFoot
	_, err = trace.Run(context.Background(), &film{frames: frames}, [2]*trace.Strip{onStrip(), onStrip()}, nil)
	assert.Error(t, err)
}

func TestNoFrames(t *testing.T) {
	logs, err := trace.Run(context.Background(), &film{}, [2]*trace.Strip{onStrip(), onStrip()}, nil)
	require.NoError(t, err)
	assert.Equal(t, [2]*trace.Log{}, logs)
}

// A recording may be shorter than one window.
func TestHardlyAnyFrames(t *testing.T) {
	for n := 1; n < 30; n++ {
		t.Run(fmt.Sprint(n), func(t *testing.T) {
			frames := shoot(200, 1, func(_ float64, k int) float64 { return float64(k) })[:n]
			log := develop(t, frames)
			require.Len(t, log.Samples, n)
			for i, s := range log.Samples {
				assert.InDelta(t, float64(i)/200, s.T, 1e-6)
				assert.InDelta(t, 0, s.LoadN, 1e-4, "what cells read from the start is no load")
			}
			assert.True(t, log.Unloaded)
			assert.False(t, log.StartsLoaded)
			assert.Len(t, log.Noise, cells)
			assert.Zero(t, log.Map(0, 1, log.ZeroAt(0)).Frames)
		})
	}
}
