package cells_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/analyze/cells"
	"aplomb/device"
	"aplomb/device/platform"
)

// A cell between two others reads at least the geometric mean of their readings, for
// every pressure that is concave within its contact, on every convex platform at every
// position: Prékopa's theorem, checked by numerical integration.
func TestReadingsAreLogConcave(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		real := func(name string, lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(t, name) }
		a, b, n := real("width", 15, 20), real("depth", 8, 14), real("exponent", 2, 8)
		tiltM, tiltO, bend := real("tilt", -0.08, 0.08), real("tilt over", -0.15, 0.15), real("bend", 0, 0.01)
		pressure := func(x, y float64) float64 {
			if math.Pow(math.Abs(x)/a, n)+math.Pow(math.Abs(y)/b, n) > 1 {
				return 0
			}
			return max(0, 1+tiltM*x+tiltO*y-bend*(x*x+y*y))
		}
		reading := func(x, y float64) (sum float64) {
			const m = 24
			for i := range m {
				for j := range m {
					sum += pressure(x+5*((float64(i)+0.5)/m-0.5), y+5*((float64(j)+0.5)/m-0.5))
				}
			}
			return sum / (m * m)
		}
		x, y := real("x", -15, 15), real("y", -10, 10)
		dx, dy := 5*float64(rapid.IntRange(-1, 1).Draw(t, "columns")), 5*float64(rapid.IntRange(-1, 1).Draw(t, "rows"))
		bound := math.Sqrt(reading(x-dx, y-dy) * reading(x+dx, y+dy))
		require.GreaterOrEqual(t, reading(x, y), bound-0.01) // the sum is coarse
	})
}

// A Monitor gives finite results for any counts in any order of time.
func FuzzMonitor(f *testing.F) {
	f.Add([]byte{3, 4, 0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16}, uint16(10_000), uint16(4095))
	f.Add([]byte{1, 1, 255, 0, 255, 0}, uint16(65535), uint16(1))
	f.Fuzz(func(t *testing.T, data []byte, stepUS, saturates uint16) {
		if len(data) < 3 {
			return
		}
		s := strip(device.Left)
		s.Rows, s.Cols = 1+int(data[0])%9, 1+int(data[1])%9
		s.ADCBits, s.SaturatesAt = 16, 1+int(saturates)
		s.Mount.SeatSDMM = float64(data[2] % 3)
		w := cells.New(s, platform.Superellipse(36, 22, 2.5))
		frame := device.Frame{Counts: make([]uint16, s.Cells())}
		at := 0
		for i := range 600 {
			for k := range frame.Counts {
				at = (at + 1) % len(data)
				frame.Counts[k] = uint16(data[at]) << (i / 60 % 9)
			}
			frame.TimeUS += uint64(stepUS)
			if data[at] == 7 {
				frame.TimeUS -= 3 * uint64(stepUS) // it may wrap below 0
			}
			w.Add(&frame)
		}
		w.End()
		for _, found := range w.Faults() {
			require.Contains(t, cells.FaultKinds, found.Kind)
			require.NotEmpty(t, found.Text)
			for _, v := range []float64{found.SinceS, found.Share, found.LoadShare, found.ShiftMM} {
				require.False(t, math.IsNaN(v) || math.IsInf(v, 0), "%+v", found)
			}
			require.True(t, found.Share >= 0 && found.Share <= 1, "%+v", found)
		}
		w.Add(&device.Frame{Counts: make([]uint16, 1000)}) // of another strip
		w.ZeroDrift()
		w.Map()
		w.LoadedCells()
	})
}

// stomp fills a frame of a pulse of load once in four seconds, at 100 Hz.
func stomp(f *device.Frame, i int) {
	f.TimeUS = uint64(i) * 10_000
	level := max(0, math.Sin(float64(i)/100*math.Pi/2))
	for k := range f.Counts {
		f.Counts[k] = uint16(20 + (i*7+k*3)%5 + int(700*level))
	}
}

func TestNoAllocationPerFrame(t *testing.T) {
	w := cells.New(strip(device.Left), platform.Superellipse(36, 22, 2.5))
	f := device.Frame{Counts: make([]uint16, 40)}
	i := 0
	require.Zero(t, testing.AllocsPerRun(20, func() {
		for range 400 {
			stomp(&f, i)
			w.Add(&f)
			i++
		}
	}))
	require.Greater(t, w.Loads(), 15)
}

func BenchmarkMonitor(b *testing.B) {
	w := cells.New(strip(device.Left), platform.Superellipse(36, 22, 2.5))
	frames := make([]device.Frame, 400)
	for i := range frames {
		frames[i].Counts = make([]uint16, 40)
		stomp(&frames[i], i)
	}
	b.ReportAllocs()
	i := 0
	for b.Loop() {
		f := &frames[i%len(frames)]
		f.TimeUS = uint64(i) * 10_000
		w.Add(f)
		i++
	}
}

func BenchmarkFaults(b *testing.B) {
	w := watched(b, usual())[0]
	for b.Loop() {
		w.Faults()
	}
}
