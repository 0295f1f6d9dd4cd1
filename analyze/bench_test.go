package analyze_test

import (
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"aplomb/analyze"
	"aplomb/device"
	"aplomb/device/recording"
)

// recorded writes a recording of both feet with n frames of 40 cells, which alternate
// between the feet, and one relevé every 6 s.
func recorded(b *testing.B, n int) string {
	b.Helper()
	path := filepath.Join(b.TempDir(), "long.mcap")
	m := meta(on(device.Left), on(device.Right))
	p := standing(1, bed{force: 300, e: -2})[0]
	q := standing(1, bed{force: 350, e: 2})[0]
	once := shoot(m, [2][][]float64{{p}, {q}}) // 4.4 s, then unloaded up to 6 s
	const period = 6 * rate * 2
	w, err := recording.CreateDirect(path, m)
	require.NoError(b, err)
	rest := make([]uint16, 40)
	for i := range n {
		f := device.Frame{
			Foot: device.Foot(i % 2), Seq: int64(i / 2), TimeUS: uint64(i/2) * 1e6 / rate,
			ArrivalNS: m.Started.UnixNano() + int64(i/2)*1e9/rate, Counts: rest,
		}
		if at := i % period; at < len(once) {
			f.Counts = once[at].Counts
		}
		require.NoError(b, w.Write(&f))
	}
	require.NoError(b, w.Close())
	return path
}

func analyzeFile(b *testing.B, path string) {
	r, err := analyze.File(b.Context(), path, analyze.Options{})
	require.NoError(b, err)
	require.NotEmpty(b, r.Releves)
}

func BenchmarkFile(b *testing.B) {
	const n = 200_000
	path := recorded(b, n)
	b.ReportAllocs()
	for b.Loop() {
		analyzeFile(b, path)
	}
	b.ReportMetric(float64(b.N)*n/b.Elapsed().Seconds(), "frames/s")
}

// BenchmarkProcessors analyzes one recording alternately on one processor and on all. The
// median ratio is the gain by device.ReadAhead and parallel.Each:
//
//	go test ./analyze -run '^$' -bench Processors -benchtime 21x
func BenchmarkProcessors(b *testing.B) {
	path := recorded(b, 200_000)
	all := runtime.GOMAXPROCS(0)
	defer runtime.GOMAXPROCS(all)
	took := func(processors int) float64 {
		runtime.GOMAXPROCS(processors)
		began := time.Now()
		analyzeFile(b, path)
		return time.Since(began).Seconds()
	}
	var ratios []float64
	for b.Loop() {
		ratios = append(ratios, took(1)/took(all))
	}
	slices.Sort(ratios)
	b.ReportMetric(ratios[len(ratios)/2], "one÷all")
}

// BenchmarkFile10x measures the run time for ten times as many frames relative to that of
// one recording, with
//
//	APLOMB_LONG=1 go test ./analyze -run '^$' -bench 10x -benchtime 5x
func BenchmarkFile10x(b *testing.B) {
	if os.Getenv("APLOMB_LONG") == "" {
		b.Skip("set APLOMB_LONG=1")
	}
	short, long := recorded(b, 200_000), recorded(b, 2_000_000)
	b.ResetTimer()
	for range b.N {
		analyzeFile(b, short)
	}
	one := b.Elapsed()
	for range b.N {
		analyzeFile(b, long)
	}
	b.ReportMetric(float64(b.Elapsed()-one)/float64(one), "×")
}
