package firmware

import (
	"encoding/hex"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device"
	"aplomb/device/internal/wiretest"
	"aplomb/device/wire"
)

// block returns the text in README.md between ```name and ```.
func block(t *testing.T, name string) string {
	t.Helper()
	page, err := os.ReadFile("README.md")
	require.NoError(t, err)
	_, rest, found := strings.Cut(string(page), "\n```"+name+"\n")
	require.True(t, found, "README.md has no block %q", name)
	text, _, found := strings.Cut(rest, "```\n")
	require.True(t, found)
	return text
}

var leadingBytes = regexp.MustCompile(`(?m)^[0-9a-f]{2}( [0-9a-f]{2})*`)

// bytesOf returns the bytes at the beginning of every line of a block.
func bytesOf(t *testing.T, name string) []byte {
	t.Helper()
	text := strings.Join(leadingBytes.FindAllString(block(t, name), -1), "")
	b, err := hex.DecodeString(strings.ReplaceAll(text, " ", ""))
	require.NoError(t, err)
	return b
}

var (
	pageHello = wire.Hello{Link: 1, Strip: "T-01", Foot: device.Left, Rows: 2, Cols: 3, RateHz: 200, ADCBits: 12}
	pageStrip = &device.Strip{Name: "T-01", Foot: device.Left, Rows: 2, Cols: 3, ADCBits: 12}
)

var pageCounts = []uint16{0, 1, 255, 256, 1000, 4095}

// The bytes on the page were made with Python's struct and zlib.crc32. The encoder writes the same
// bytes, and they decode to what the page says.
func TestBytesOfThePage(t *testing.T) {
	hello, frame := bytesOf(t, "hex hello packet"), bytesOf(t, "hex frame packet")
	assert.Equal(t, wire.AppendHello(nil, pageHello), hello)
	assert.Equal(t, wire.AppendFrame(nil, device.Left, 258, 5_000_000, pageCounts), frame)

	for _, name := range []string{"hex hello", "hex frame"} {
		packet := bytesOf(t, name+" packet")
		body, ok := wire.DecodeCOBS(nil, packet[:len(packet)-1])
		require.True(t, ok)
		assert.Equal(t, body, bytesOf(t, name))
	}

	d := wire.NewDecoder(pageStrip, nil)
	d.Feed(append(hello, frame...))
	var m wire.Message
	require.True(t, d.Next(&m))
	assert.Equal(t, pageHello, *m.Hello)
	require.True(t, d.Next(&m))
	assert.Equal(t, wire.Message{Foot: device.Left, HasSeq: true, HasClock: true, Seq: 258, TimeUS: 5_000_000, Counts: pageCounts}, m)
}

func TestTextOfThePage(t *testing.T) {
	hello, frame := block(t, "text hello"), block(t, "text frame")
	assert.Equal(t, string(wiretest.AppendTextHello(nil, pageHello)), hello)
	assert.Equal(t, string(wiretest.AppendTextFrame(nil, 5_000_000, pageCounts, true)), frame)

	d := wire.NewDecoder(pageStrip, nil)
	d.Feed([]byte(hello + frame))
	var m wire.Message
	require.True(t, d.Next(&m))
	assert.Equal(t, pageHello, *m.Hello)
	require.True(t, d.Next(&m))
	assert.Equal(t, wire.Message{Foot: device.NoFoot, HasClock: true, TimeUS: 5_000_000, Counts: pageCounts}, m)
}

func TestFramesASecondOfThePage(t *testing.T) {
	page, err := os.ReadFile("README.md")
	require.NoError(t, err)

	// The longest packet of each kind: without a zero, every number at its largest.
	full := func(cells int, count uint16) []uint16 {
		counts := make([]uint16, cells)
		for i := range counts {
			counts[i] = count
		}
		return counts
	}
	sizes := [3]int{
		len(wire.AppendFrame(nil, device.Left, 0x0101, 0x01010101, full(40, 0x0101))),
		len(wiretest.AppendTextFrame(nil, 1<<32-1, full(40, 4095), true)),
		len(wire.AppendFrame(nil, device.Right, 0x0101, 0x01010101, full(256, 0x0101))),
	}
	assert.Equal(t, [3]int{94, 214, 528}, sizes, "as the page says")

	rows := regexp.MustCompile(`(?m)^\| (\d+) \| (\d+) \| (\d+) \| (\d+) \|$`).FindAllStringSubmatch(string(page), -1)
	require.Len(t, rows, 10)
	for _, row := range rows {
		var n [4]int
		for i := range n {
			n[i], err = strconv.Atoi(row[i+1])
			require.NoError(t, err)
		}
		for i, size := range sizes {
			assert.Equal(t, n[0]/10/size, n[1+i], "at %d baud, %d bytes a frame", n[0], size)
		}
	}
}

// profile returns the profile on the page.
func profile(t *testing.T) *device.Strip {
	t.Helper()
	s, err := device.ParseStrip("README.md", []byte(block(t, "toml")))
	require.NoError(t, err)
	return s
}
