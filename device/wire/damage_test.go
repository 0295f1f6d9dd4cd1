package wire_test

import (
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/device"
	"aplomb/device/internal/wiretest"
	"aplomb/device/wire"
)

// TestNoWrongFrame damages packets in five ways, sends each between whole ones, and counts the
// results: 100,000 binary packets in the usual tests, and 40,000 of text, in which some wrong
// frames are possible. For 10,000,000 of each:
//
//	APLOMB_LONG=1 go test -run NoWrongFrame -v -timeout 30m ./device/wire
//
// A frame is wrong where its foot, number, time or counts differ from those of every frame that
// was sent, and it passes both Decoder and Unwrap.
func TestNoWrongFrame(t *testing.T) {
	long := os.Getenv("APLOMB_LONG") != ""
	// Text with a checksum lets through as much as eight bits of checksum can, and without
	// one everything that still looks like numbers. The bounds show when that gets worse;
	// they are no specification.
	for _, c := range []struct {
		format string
		write  func(dst []byte, f *device.Frame) []byte
		most   float64 // share of damaged packets that may come out as wrong frames
	}{
		{"binary", func(dst []byte, f *device.Frame) []byte {
			return wire.AppendFrame(dst, f.Foot, uint16(f.Seq), uint32(f.TimeUS), f.Counts)
		}, 0},
		{"text with checksum", func(dst []byte, f *device.Frame) []byte {
			return wiretest.AppendTextFrame(dst, f.TimeUS, f.Counts, true)
		}, 0.01},
		{"text without checksum", func(dst []byte, f *device.Frame) []byte {
			return wiretest.AppendTextFrame(dst, f.TimeUS, f.Counts, false)
		}, 0.25},
	} {
		t.Run(c.format, func(t *testing.T) {
			t.Parallel()
			packets := 40_000
			switch {
			case long:
				packets = 10_000_000
			case c.format == "binary":
				packets = 100_000
			}
			total := outcome{}
			table := fmt.Sprintf("%-12s %10s %10s %10s %10s %10s  %s\n", "", "damaged", "dropped", "as sent", "left out", "WRONG", "share")
			for _, d := range damages {
				o := sendDamaged(c.write, c.format == "binary", d.apply, packets/len(damages))
				table += fmt.Sprintf("%-12s %s\n", d.name, o)
				total = total.plus(o)
			}
			t.Logf("\n%s%-12s %s\nwhole packets lost beside them: %d of %d", table, "all", total, total.wholeLost, total.whole)
			if c.most == 0 {
				assert.Zero(t, total.wrong)
			}
			assert.LessOrEqual(t, float64(total.wrong), c.most*float64(total.damaged))
			assert.Equal(t, packets, total.damaged)
			// Damage loses the packet, and the next one where the delimiter is lost.
			// Where the time is damaged too, Unwrap may leave out one more.
			assert.Less(t, float64(total.wholeLost), 0.3*float64(total.damaged))
		})
	}
}

// damages lists the ways to damage packet a, which packet b follows. Both end with their
// delimiter.
var damages = []struct {
	name  string
	apply func(rng *rand.Rand, dst, a, b []byte) []byte
}{
	{"bit flips", func(rng *rand.Rand, dst, a, _ []byte) []byte { // 1 to 8
		at := len(dst)
		dst = append(dst, a...)
		for range 1 + rng.IntN(8) {
			dst[at+rng.IntN(len(a))] ^= 1 << rng.IntN(8)
		}
		return dst
	}},
	{"bursts", func(rng *rand.Rand, dst, a, _ []byte) []byte { // of 3 to 16 bytes
		n := 3 + rng.IntN(14)
		at := len(dst) + rng.IntN(len(a)-n+1)
		dst = append(dst, a...)
		return noise(rng, dst[:at], n, dst[at+n:])
	}},
	{"truncation", func(rng *rand.Rand, dst, a, _ []byte) []byte { // with its delimiter and without
		dst = append(dst, a[:rng.IntN(len(a)-1)]...)
		if rng.IntN(2) == 0 {
			dst = append(dst, a[len(a)-1])
		}
		return dst
	}},
	{"insertion", func(rng *rand.Rand, dst, a, _ []byte) []byte { // of 1 to 16 bytes
		at := rng.IntN(len(a))
		dst = append(dst, a[:at]...)
		return append(noise(rng, dst, 1+rng.IntN(16), nil), a[at:]...)
	}},
	{"splices", func(rng *rand.Rand, dst, a, b []byte) []byte { // of two packets, half of them at the same place
		i := 1 + rng.IntN(len(a)-1)
		j := rng.IntN(len(b))
		if rng.IntN(2) == 0 {
			j = min(i, len(b)-1)
		}
		return append(append(dst, a[:i]...), b[j:]...)
	}},
}

// noise appends n random bytes to dst and then rest, which may directly follow dst.
func noise(rng *rand.Rand, dst []byte, n int, rest []byte) []byte {
	for range n {
		dst = append(dst, byte(rng.Uint32()))
	}
	return append(dst, rest...)
}

// outcome counts damaged packets by their result, and whole ones.
type outcome struct {
	damaged int
	sent    int // decoded as a frame that was sent: the damage was outside it
	leftOut int // decoded as a frame that was not sent, and refused by its number or time
	wrong   int

	whole, wholeLost int
}

func (o outcome) String() string {
	dropped := o.damaged - o.sent - o.leftOut - o.wrong
	return fmt.Sprintf("%10d %10d %10d %10d %10d  %.2g", o.damaged, dropped, o.sent, o.leftOut, o.wrong, float64(o.wrong)/float64(o.damaged))
}

func (o outcome) plus(p outcome) outcome {
	return outcome{o.damaged + p.damaged, o.sent + p.sent, o.leftOut + p.leftOut, o.wrong + p.wrong, o.whole + p.whole, o.wholeLost + p.wholeLost}
}

// sendDamaged sends frames of 40 cells, of both feet in turn where the format distinguishes
// them, a damaged one after every two whole ones.
func sendDamaged(write func([]byte, *device.Frame) []byte, bothFeet bool, damage func(*rand.Rand, []byte, []byte, []byte) []byte, packets int) (o outcome) {
	const periodUS, recent = 5000, 8
	rng := rand.New(rand.NewPCG(2024, 7))
	d := wire.NewDecoder(strip(device.Left, 5, 8), strip(device.Right, 5, 8))
	var unwrap [2]wire.Unwrap
	var frames [recent]device.Frame // the last frames that were sent
	var packet [recent][]byte
	for i := range frames {
		frames[i].Counts = make([]uint16, 40)
	}
	n := -1
	send := func() int {
		n++
		i := n % recent
		f := &frames[i]
		f.Foot = device.Left
		f.Seq, f.TimeUS = int64(n), uint64(n)*periodUS
		if bothFeet {
			f.Foot, f.Seq = device.Foot(n%2), int64(n/2)
		}
		quickCounts(rng, f.Counts)
		packet[i] = write(packet[i][:0], f)
		return i
	}
	wasSent := func(m *wire.Message) bool {
		return slices.ContainsFunc(frames[:], func(f device.Frame) bool {
			same := m.Foot == device.NoFoot && m.TimeUS == f.TimeUS ||
				m.Foot == f.Foot && m.Seq == uint16(f.Seq) && m.TimeUS == uint64(uint32(f.TimeUS))
			return same && slices.Equal(m.Counts, f.Counts)
		})
	}
	var m wire.Message
	arrived := 0 // frames that were sent and decoded
	hear := func(line []byte) {
		d.Feed(line)
		for d.Next(&m) {
			right := m.Hello == nil && m.HasClock && wasSent(&m)
			if m.Hello != nil {
				o.wrong++
				continue
			}
			foot := m.Foot & 1
			if m.Foot == device.NoFoot {
				foot = device.Left
			}
			// A line without its clock is left out, as package link does once it has seen a clock.
			in := m.HasClock && unwrap[foot].Next(&m, int64(n)*periodUS*1000).Order == wire.InOrder
			switch {
			case right && in:
				arrived++
			case in:
				o.wrong++
			case !right:
				o.leftOut++
			}
		}
	}
	var line []byte
	hear([]byte(strings.Repeat("\n", 1-btoi(bothFeet)))) // text begins after a line feed
	for range packets {
		line = line[:0]
		a, b := send(), 0
		line = append(line, packet[a]...)
		b = send()
		line = append(line, packet[b]...)
		whole := line
		hear(whole)
		o.whole += 2
		o.wholeLost += 2 - arrived
		arrived = 0

		a, b = send(), send()
		line = damage(rng, line[:0], packet[a], packet[b])
		for slices.Equal(line, packet[a]) || slices.Equal(line, packet[b]) {
			line = damage(rng, line[:0], packet[a], packet[b])
		}
		o.damaged++
		hear(line)
		o.sent += min(arrived, 1)
		arrived = 0
	}
	return o
}

// quickCounts sets counts like someCounts, with one random number for five of them.
func quickCounts(rng *rand.Rand, counts []uint16) {
	for k := 0; k < len(counts); k += 5 {
		x := rng.Uint64()
		for j := k; j < min(k+5, len(counts)); j++ {
			counts[j] = uint16(x & 0xFFF)
			if x>>60&1 == uint64(j&1) {
				counts[j] &= 7
			}
			x = x>>12 | x&(0xF<<60)
		}
	}
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}
