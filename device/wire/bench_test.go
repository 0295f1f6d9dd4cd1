package wire_test

import (
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"testing"

	"aplomb/device"
	"aplomb/device/internal/wiretest"
	"aplomb/device/wire"
)

// Run with: go test -run '^$' -bench . ./device/wire

// someCounts returns counts like those of a strip under a shoe: some cells near zero, some
// under load.
func someCounts(rng *rand.Rand, counts []uint16) {
	for k := range counts {
		counts[k] = uint16(rng.IntN(8))
		if rng.IntN(2) == 0 {
			counts[k] = uint16(rng.IntN(4096))
		}
	}
}

func strip(foot device.Foot, rows, cols int) *device.Strip {
	return &device.Strip{Name: "L-01", Foot: foot, Rows: rows, Cols: cols, ADCBits: 12}
}

func BenchmarkDecodeBinary(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 2))
	counts := make([]uint16, 40)
	var line []byte
	const frames = 1000
	for i := range frames {
		someCounts(rng, counts)
		line = wire.AppendFrame(line, device.Foot(i%2), uint16(i/2), uint32(i*2500), counts)
	}
	for _, chunk := range []int{64, 4096} {
		b.Run(fmt.Sprintf("chunk=%d", chunk), func(b *testing.B) { decode(b, line, chunk) })
	}
}

func BenchmarkDecodeText(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 2))
	counts := make([]uint16, 40)
	line := []byte("\n")
	for i := range 1000 {
		someCounts(rng, counts)
		line = wiretest.AppendTextFrame(line, uint64(i*5000), counts, true)
	}
	decode(b, line, 4096)
}

func decode(b *testing.B, line []byte, chunk int) {
	d := wire.NewDecoder(strip(device.Left, 5, 8), strip(device.Right, 5, 8))
	var m wire.Message
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		for rest := line; len(rest) > 0; {
			k := min(chunk, len(rest))
			d.Feed(rest[:k])
			rest = rest[k:]
			for d.Next(&m) {
				n++
			}
		}
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "frames/s")
	b.ReportMetric(0, "ns/op")
}

func BenchmarkEncode(b *testing.B) {
	counts := make([]uint16, 40)
	someCounts(rand.New(rand.NewPCG(1, 2)), counts)
	var buf []byte
	b.ReportAllocs()
	for b.Loop() {
		buf = wire.AppendFrame(buf[:0], device.Left, 7, 8, counts)
	}
}

func BenchmarkCSV(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 2))
	counts := make([]uint16, 40)
	file := []byte("t_us")
	for k := range counts {
		file = fmt.Appendf(file, ",c%d", k)
	}
	file = append(file, '\n')
	const rows = 20_000
	for i := range rows {
		someCounts(rng, counts)
		file = wiretest.AppendTextFrame(file, uint64(i*5000), counts, false)
	}
	var f device.Frame
	b.SetBytes(int64(len(file)))
	b.ReportAllocs()
	for b.Loop() {
		c := wire.NewCSV(bytes.NewReader(file), "frames.csv", strip(device.Left, 5, 8), 0)
		n := 0
		for ; ; n++ {
			if err := c.Next(&f); err == io.EOF {
				break
			} else if err != nil {
				b.Fatal(err)
			}
		}
		if n != rows {
			b.Fatal(n)
		}
	}
}
