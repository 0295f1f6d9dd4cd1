package bench

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/calibrate"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/device/recording"
	"aplomb/device/sim"
)

// newBench returns a bench of strip L-01, with a copy of the profile in a folder.
func newBench(t *testing.T) (*Bench, *bytes.Buffer, string) {
	path := filepath.Join(t.TempDir(), "left.toml")
	profile, err := os.ReadFile("../../aplomb/testdata/profiles/left.toml")
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, profile, 0o666))
	out := &bytes.Buffer{}
	b, err := FromFiles(t.Context(), lookup.ProfileInFile(path), out)
	require.NoError(t, err)
	return b, out, path
}

// person puts things on a simulated strip: every so many frames the next one, and
// then presses Enter.
type person struct {
	*sim.Bench
	puts    []put
	answers chan string
	n       int
	every   int // frames between Enter and Enter
}

type put struct {
	loadN float64
	at    platform.Point
}

func (p *person) Next(f *device.Frame) error {
	if p.n%p.every == p.every-1 {
		select {
		case p.answers <- "":
		default:
		}
	}
	if k := p.n / p.every; p.n%p.every == p.every*7/10 && k < len(p.puts) {
		p.Put(p.puts[k].loadN, p.puts[k].at, [2]float64{20, 15})
	}
	p.n++
	return p.Bench.Next(f)
}

// atPort makes the bench read a simulated strip on which a person puts things.
func atPort(t *testing.T, b *Bench, out io.Writer, every int, puts ...put) {
	s, err := sim.NewBench(b.Strip, sim.Faults{Zero: 40, Noise: 0.7}, 1, time.Now(), 100)
	require.NoError(t, err)
	p := &person{Bench: s, puts: puts, answers: make(chan string, 1), every: every}
	b.port = newPort(p, out)
	b.port.answers = p.answers
}

func TestUnloadedAtThePort(t *testing.T) {
	b, out, path := newBench(t)
	atPort(t, b, out, 150)
	assert.True(t, b.AtPort())
	z, err := b.Unloaded("")
	require.NoError(t, err)
	require.Len(t, z.Level, 40)
	for _, level := range z.Level {
		assert.InDelta(t, 40, level, 0.5) // what the simulated strip reads unloaded
	}
	assert.Contains(t, out.String(), "Take everything off the strip")

	write, err := b.Outcome(func(s *device.Strip) error {
		z.Into(&s.Calibration)
		Resign(s)
		return nil
	})
	require.NoError(t, err)
	require.NoError(t, write())
	now, err := device.ReadStrip(t.Context(), path)
	require.NoError(t, err)
	for k, level := range now.Calibration.ZeroCounts {
		assert.InDelta(t, z.Level[k], level, 0.01)
	}
	assert.False(t, now.Calibration.Measured(), "only the zero was")
}

// A load is read for long enough after it was applied, however early Enter was pressed.
func TestVerifyAtThePort(t *testing.T) {
	b, out, _ := newBench(t)
	atPort(t, b, out, 800, put{}, put{300, platform.Point{}}, put{450, platform.Point{-5, 0}})
	v, err := b.Verify([]string{"300N@0,0", "450N@-5,0"}, calibrate.DefaultLimits())
	require.NoError(t, err)
	require.Len(t, v.Presses, 2)
	for i, p := range v.Presses {
		assert.InDelta(t, []float64{300, 450}[i], p.MeasuredN, 10, i) // what was put on
		assert.InDelta(t, []float64{0, -5}[i], p.MeasuredAt[0], 0.5, i)
	}
	assert.Contains(t, out.String(), "Press 2 of 2: 450.0 N in all on a pad with its middle at [-5, 0] mm.")
	assert.Contains(t, strings.Join(v.Warnings, "\n"), "strip L-01 was never calibrated")
}

func TestNobodyAtThePort(t *testing.T) {
	b, out, _ := newBench(t)
	atPort(t, b, out, 1000)
	b.port.answers = nil
	_, err := b.Unloaded("") // reads at once
	require.NoError(t, err)
	_, err = b.Verify([]string{"300N@0,0"}, calibrate.DefaultLimits())
	assert.ErrorIs(t, err, ErrAlone)
	_, err = b.Gains([]string{"forward", "forward", "backward", "backward"})
	assert.ErrorIs(t, err, ErrAlone)
}

// Nothing is written if the input or the data from the port end.
func TestStopped(t *testing.T) {
	b, out, _ := newBench(t)
	atPort(t, b, out, 1000)
	gone := make(chan string)
	close(gone)
	b.port.answers = gone
	_, err := b.Unloaded("")
	assert.ErrorIs(t, err, ErrStopped)

	b.port = newPort(nothing{}, out)
	_, err = b.Unloaded("")
	assert.ErrorIs(t, err, ErrStopped)
}

type nothing struct{}

func (nothing) Next(*device.Frame) error { return io.EOF }

// writeCSV writes the readings of the strip while a load is applied after half a second.
func writeCSV(t *testing.T, path string, s *device.Strip, loadN float64, at platform.Point) {
	b, err := sim.NewBench(s, sim.Faults{Zero: 40, Noise: 0.7}, 1, time.Now(), 50)
	require.NoError(t, err)
	var csv bytes.Buffer
	csv.WriteString("t_us")
	for k := range s.Cells() {
		fmt.Fprintf(&csv, ",c%d", k)
	}
	var f device.Frame
	for b.Now() < 6 {
		if b.Now() > 0.5 {
			b.Put(loadN, at, [2]float64{20, 15})
		}
		require.NoError(t, b.Next(&f))
		fmt.Fprintf(&csv, "\n%d", f.TimeUS)
		for _, c := range f.Counts {
			fmt.Fprintf(&csv, ",%d", c)
		}
	}
	csv.WriteByte('\n')
	require.NoError(t, os.WriteFile(path, csv.Bytes(), 0o666))
}

func TestVerifyFromFiles(t *testing.T) {
	b, _, profile := newBench(t)
	zero, one := filepath.Join(filepath.Dir(profile), "zero.csv"), filepath.Join(filepath.Dir(profile), "one.csv")
	writeCSV(t, zero, b.Strip, 0, platform.Point{})
	writeCSV(t, one, b.Strip, 300, platform.Point{5, 0})
	b.ZeroFile = zero
	v, err := b.Verify([]string{"300N@5,0=" + one}, calibrate.DefaultLimits())
	require.NoError(t, err)
	assert.InDelta(t, 300, v.Presses[0].MeasuredN, 10)
	assert.True(t, v.Pass, v.Presses[0].Why)

	_, err = b.Verify([]string{"300N@0,0"}, calibrate.DefaultLimits())
	assert.EqualError(t, err, "300N@0,0: name the file of it, as in 300N@0,0=load.csv, or the strip's --port")
	b.ZeroFile = ""
	_, err = b.Verify([]string{"300N@0,0=" + one}, calibrate.DefaultLimits())
	assert.EqualError(t, err, profile+" has no zero: run aplomb strip zero first, or name a file of the strip unloaded with --zero")
	_, err = b.Unloaded(zero + ".csv")
	assert.ErrorIs(t, err, os.ErrNotExist)

	ctx, stop := context.WithCancel(t.Context())
	stop()
	b.ctx = ctx
	_, err = b.Unloaded(zero)
	assert.ErrorIs(t, err, context.Canceled)
}

// Files with restarting clocks follow each other.
func TestClocksOfFiles(t *testing.T) {
	b, _, profile := newBench(t)
	csv := filepath.Join(filepath.Dir(profile), "load.csv")
	writeCSV(t, csv, b.Strip, 300, platform.Point{})
	first, err := b.read(csv)
	require.NoError(t, err)
	second, err := b.read(csv)
	require.NoError(t, err)
	assert.Greater(t, second.TimeS[0], first.TimeS[len(first.TimeS)-1])
	assert.InDelta(t, first.span(), second.span(), 1e-9)
}

func TestWeightsAndPlaces(t *testing.T) {
	v, unit, err := ParseWeight("5kg")
	require.NoError(t, err)
	assert.Equal(t, 5.0, v)
	assert.Equal(t, calibrate.Unit("kg"), unit)
	load, at, err := ParseWeightAt("5000g@-10,2.5")
	require.NoError(t, err)
	assert.InDelta(t, 5*9.80665, load, 1e-9) // standard gravity, which is defined so
	assert.Equal(t, platform.Point{-10, 2.5}, at)
	for _, typed := range []string{"", "5", "kg", "-1kg", "5lb", "Infkg", "1e999N"} {
		_, _, err := ParseWeight(typed)
		assert.ErrorAs(t, err, &usage.Error{}, typed)
	}
	for _, typed := range []string{"5kg", "5kg@", "5kg@1", "5kg@1;2", "5kg@NaN,0", "@1,2"} {
		_, _, err := ParseWeightAt(typed)
		assert.ErrorAs(t, err, &usage.Error{}, typed)
	}
}

func TestGainSteps(t *testing.T) {
	assert.NoError(t, CheckGainSteps([]string{"press", "press=p.csv"}))
	assert.NoError(t, CheckGainSteps([]string{"forward", "backward=b.csv"}))
	for _, args := range [][]string{nil, {"press", "forward"}, {"roll"}} {
		assert.ErrorAs(t, CheckGainSteps(args), &usage.Error{})
	}
}

func TestPads(t *testing.T) {
	b, _, _ := newBench(t)
	for _, p := range []Pad{{}, {Size: "20x20", AreaMM2: 5}, {AreaMM2: -1}, {AreaMM2: math.Inf(1)}, {Size: "20", At: "0,0"}, {Size: "20x0", At: "0,0"}, {Size: "20x20", At: "x"}} {
		assert.ErrorAs(t, p.under(b.Strip, &calibrate.Loading{}), &usage.Error{}, "%+v", p)
	}
	var l calibrate.Loading
	require.NoError(t, Pad{Size: "20x15", At: "0,0"}.under(b.Strip, &l))
	assert.Equal(t, 300.0, l.AreaMM2)
	assert.Equal(t, "of 20x15 mm, its middle at [0,0] mm from that of the strip", Pad{Size: "20x15", At: "0,0"}.place())
	assert.Equal(t, "over all cells", Pad{AreaMM2: 1000}.place())
}

func TestMountingMean(t *testing.T) {
	assert.Equal(t, platform.Point{2, -1}, Mounting{Presses: []platform.Point{{1, -3}, {3, 1}}}.Mean())
}

// A calibration refuses a recording in which damage has lost frames, because a step may
// be missing.
func TestDamagedRecordingOfSteps(t *testing.T) {
	b, _, path := newBench(t)
	shoe := &device.Shoe{Code: "A", PlatformMM: [2]float64{36, 22}, OutlineExponent: 2.5}
	m := device.Metadata{Started: time.Unix(1_700_000_000, 0)}
	m.Sides[device.Left] = &device.Side{Strip: b.Strip, Shoe: shoe, Clock: "strip"}
	path = filepath.Join(filepath.Dir(path), "steps.mcap")
	w, err := recording.CreateDirect(path, m)
	require.NoError(t, err)
	for i := range 300 { // 3 s
		counts := make([]uint16, b.Strip.Cells())
		for k := range counts {
			counts[k] = uint16(i * k % 251)
		}
		us := uint64(i) * 10_000
		require.NoError(t, w.Write(&device.Frame{Seq: int64(i), TimeUS: us, ArrivalNS: m.Started.UnixNano() + int64(us)*1000, Counts: counts}))
	}
	require.NoError(t, w.Close())
	r, _, err := b.load(path)
	require.NoError(t, err)
	assert.Len(t, r.Frames, 300)
	file, err := os.ReadFile(path)
	require.NoError(t, err)
	second := 4 + bytes.Index(file, []byte("zstd"))
	second += bytes.Index(file[second:], []byte("zstd"))
	file[second+100] ^= 1 // in the second chunk
	require.NoError(t, os.WriteFile(path, file, 0o666))
	_, _, err = b.load(path)
	assert.ErrorContains(t, err, "damaged at byte")
	assert.ErrorContains(t, err, "copy it again")
}
