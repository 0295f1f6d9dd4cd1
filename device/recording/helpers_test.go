package recording_test

import (
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"aplomb/device"
	"aplomb/device/recording"
)

// start is the start of the recordings of these tests, ns since 1970.
const start = 1_700_000_000_000_000_000

func strip(foot device.Foot, rows, cols int) *device.Strip {
	return &device.Strip{
		Name: "S-" + foot.String(), Foot: foot, Rows: rows, Cols: cols, PitchMM: [2]float64{5, 5}, CellMM: [2]float64{5, 5},
		ADCBits: 16, SaturatesAt: 65535, FirstCell: "back-lateral", Scan: "rows",
		Mount:       device.Mount{OffsetMM: [2]float64{0.3, -0.1}, RotationDeg: 1.5, SeatSDMM: 1},
		Calibration: device.Calibration{KPaPerCount: 0.75, GainSD: 0.03},
	}
}

func meta(rows, cols int) device.Metadata {
	m := device.Metadata{
		Dancer: "D-07", Visit: "2023-11-14", Started: time.Unix(0, start).UTC(), Software: "aplomb test", Support: "barre", Rise: "roll-up",
		Position: "sixth", Floor: "vinyl on \"sprung\" wood\n", MassKG: 57.25, Feedback: "after",
	}
	for _, foot := range device.Feet {
		m.Sides[foot] = &device.Side{
			Strip:    strip(foot, rows, cols),
			Shoe:     &device.Shoe{Code: "A", PlatformMM: [2]float64{36, 22}, OutlineExponent: 2.5, Box: "tapered", HoursWorn: 1.5},
			Mounting: "m-" + foot.String(), Clock: "strip", Format: "binary", Baud: 921600, Fixing: "cover with a pocket, \"tape\"",
			Mark: 1 + int(foot), Padding: "gel",
		}
	}
	return m
}

// releves returns n frames of the given number of cells, alternating between the feet,
// 200 a second: repeated relevés with noise, which compress as well as real ones. Counts
// repeat after 10,000 frames, which is more than a chunk contains.
func releves(n, cells int) []device.Frame {
	const fresh = 10_000
	r := rand.New(rand.NewPCG(1, 2))
	frames := make([]device.Frame, n)
	for i := range frames {
		frames[i] = device.Frame{
			Foot: device.Foot(i % 2), Seq: int64(i / 2), TimeUS: uint64(i/2) * 5000, ArrivalNS: start + int64(i)*2_500_000,
		}
		if i >= fresh {
			frames[i].Counts = frames[i-fresh].Counts
			continue
		}
		t := float64(i/2) / 200
		u := math.Mod(t, 6)
		load := 400 * max(0, min(1, u/0.4, (3.8-u)/0.4))
		over := -3 + 1.5*math.Sin(2*math.Pi*0.7*t)
		counts := make([]uint16, cells)
		for k := range counts {
			x, y := float64(k%8)*5-17.5, float64(k/8)*5-10
			w := math.Exp(-(x*x/180 + (y-over)*(y-over)/60))
			counts[k] = uint16(max(0, math.Round(3*load*w+r.NormFloat64())))
		}
		frames[i].Counts = counts
	}
	return frames
}

// write writes frames and events to w, each event with the first frame after it.
func write(t testing.TB, w *recording.Writer, frames []device.Frame, events ...device.Event) {
	t.Helper()
	for i := range frames {
		if err := w.Write(&frames[i]); err != nil {
			t.Fatal(err)
		}
		for len(events) > 0 && events[0].TimeNS <= frames[i].ArrivalNS {
			require.NoError(t, w.WriteEvent(events[0]))
			events = events[1:]
		}
	}
	require.Empty(t, events)
}

// readAll reads to the end. err is the error at the end, nil for io.EOF.
func readAll(r *recording.Reader) (frames []device.Frame, err error) {
	var f device.Frame
	for {
		if err := r.Next(&f); err != nil {
			if errors.Is(err, io.EOF) {
				err = nil
			}
			return frames, err
		}
		keep := f
		keep.Counts = slices.Clone(f.Counts)
		frames = append(frames, keep)
	}
}

// same compares many frames quickly.
func same(t testing.TB, want, got []device.Frame) {
	t.Helper()
	require.Len(t, got, len(want))
	for i, w := range want {
		g := got[i]
		if g.Foot != w.Foot || g.Seq != w.Seq || g.TimeUS != w.TimeUS || g.ArrivalNS != w.ArrivalNS || g.Restarted != w.Restarted || !slices.Equal(g.Counts, w.Counts) {
			require.Equal(t, w, g, "frame %d", i)
		}
	}
}

func open(t testing.TB, path string) *recording.Reader {
	t.Helper()
	r, err := recording.Open(t.Context(), path)
	require.NoError(t, err)
	t.Cleanup(func() { r.Close() })
	return r
}

func tempFile(t testing.TB) string { return filepath.Join(t.TempDir(), "r.mcap") }

// waitForPart waits until all frames written are in the .part, and returns its bytes.
func waitForPart(t testing.TB, path string, frames int) []byte {
	t.Helper()
	require.Eventually(t, func() bool {
		r, err := recording.Open(t.Context(), path+".part")
		if err != nil {
			return false
		}
		defer r.Close()
		got, err := readAll(r)
		return err == nil && len(got) == frames
	}, 10*time.Second, 20*time.Millisecond)
	b, err := os.ReadFile(path + ".part")
	require.NoError(t, err)
	return b
}

func decimal[T int64 | uint64](n T) string { return fmt.Sprint(n) }
