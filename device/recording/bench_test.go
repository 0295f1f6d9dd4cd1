package recording_test

import (
	"errors"
	"io"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"aplomb/device"
	"aplomb/device/recording"
)

// The speeds of recording, with
//
//	go test ./device/recording -run '^$' -bench . -benchtime 3x

// million is the recording of the benchmarks: 1,000,000 frames of 40 cells.
const million = 1_000_000

var frames40 = releves(100_000, 40)

func writeMillion(b *testing.B, w *recording.Writer) {
	b.Helper()
	f := device.Frame{}
	for i := range million {
		f = frames40[i%len(frames40)]
		f.Seq, f.TimeUS, f.ArrivalNS = int64(i/2), uint64(i/2)*5000, start+int64(i)*2_500_000
		if err := w.Write(&f); err != nil {
			b.Fatal(err)
		}
	}
	require.NoError(b, w.Close())
}

func BenchmarkImport(b *testing.B) {
	for range b.N {
		path := tempFile(b)
		w, err := recording.CreateDirect(path, meta(5, 8))
		require.NoError(b, err)
		writeMillion(b, w)
		info, err := os.Stat(path)
		require.NoError(b, err)
		b.ReportMetric(float64(info.Size())/million, "B/frame")
	}
	b.ReportMetric(b.Elapsed().Seconds()*1e9/float64(b.N*million), "ns/frame")
}

func BenchmarkRecord(b *testing.B) {
	for range b.N {
		w, err := recording.Create(tempFile(b), meta(5, 8))
		require.NoError(b, err)
		writeMillion(b, w)
	}
	b.ReportMetric(b.Elapsed().Seconds()*1e9/float64(b.N*million), "ns/frame")
}

func BenchmarkRead(b *testing.B) {
	path := tempFile(b)
	w, err := recording.CreateDirect(path, meta(5, 8))
	require.NoError(b, err)
	writeMillion(b, w)
	b.ReportAllocs()
	for b.Loop() {
		r, err := recording.Open(b.Context(), path)
		require.NoError(b, err)
		var f device.Frame
		for {
			if err = r.Next(&f); err != nil {
				break
			}
		}
		require.True(b, errors.Is(err, io.EOF))
		require.NoError(b, r.Close())
	}
	b.ReportMetric(b.Elapsed().Seconds()*1e9/float64(b.N*million), "ns/frame")
}
