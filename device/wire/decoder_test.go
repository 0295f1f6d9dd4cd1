package wire_test

import (
	"bytes"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/device"
	"aplomb/device/internal/wiretest"
	"aplomb/device/wire"
)

// keptMessage is a copy of a Message.
type keptMessage struct {
	Hello    wire.Hello
	Foot     device.Foot
	HasSeq   bool
	HasClock bool
	Seq      uint16
	TimeUS   uint64
	Counts   []uint16
}

// listen feeds b to a decoder in chunks whose sizes size returns.
func listen(d *wire.Decoder, b []byte, size func() int) (out []keptMessage) {
	var m wire.Message
	for {
		n := min(size(), len(b))
		d.Feed(b[:n])
		b = b[n:]
		for d.Next(&m) {
			s := keptMessage{Foot: m.Foot, HasSeq: m.HasSeq, HasClock: m.HasClock, Seq: m.Seq, TimeUS: m.TimeUS, Counts: slices.Clone(m.Counts)}
			if m.Hello != nil {
				s.Hello = *m.Hello
			}
			out = append(out, s)
		}
		if len(b) == 0 {
			return out
		}
	}
}

func atOnce() int { return 1 << 30 }

func hello(foot device.Foot) wire.Hello {
	return wire.Hello{Link: 1, Strip: "L-01", Foot: foot, Rows: 1, Cols: 3, RateHz: 200, ADCBits: 12}
}

func small() *wire.Decoder {
	return wire.NewDecoder(strip(device.Left, 1, 3), strip(device.Right, 1, 3))
}

func TestDecodeBinary(t *testing.T) {
	line := []byte("noise\nthat ends in a zero\x00")
	junk := len(line)
	line = wire.AppendHello(line, hello(device.Right))
	line = wire.AppendFrame(line, device.Right, 65535, 1<<32-1, []uint16{0, 4095, 256})
	line = append(line, 0, 0) // an additional zero is allowed
	line = wire.AppendFrame(line, device.Left, 0, 0, []uint16{1, 2, 3})
	whole := len(line)
	line = append(line, 5, 6, 7) // a packet that is not complete

	d := small()
	got := listen(d, line, atOnce)
	require.Equal(t, []keptMessage{
		{Hello: hello(device.Right), Foot: device.Right},
		{Foot: device.Right, HasSeq: true, HasClock: true, Seq: 65535, TimeUS: 1<<32 - 1, Counts: []uint16{0, 4095, 256}},
		{Foot: device.Left, HasSeq: true, HasClock: true, Counts: []uint16{1, 2, 3}},
	}, got)
	s := d.Stats()
	assert.Equal(t, wire.Binary, s.Format)
	assert.Equal(t, []uint64{2, 1, uint64(whole + 3), uint64(junk)}, []uint64{s.Frames, s.Hellos, s.Bytes, s.Dropped})
	assert.EqualValues(t, 1, s.Bad[wire.Damaged])
}

func TestDecodeBinaryDrops(t *testing.T) {
	good := func(b []byte) []byte { return wire.AppendFrame(b, 0, 1, 2, []uint16{1, 2, 3}) }
	flip := good(nil)
	flip[5] ^= 0x40
	spliced := append(good(nil)[:9], good(nil)...) // a few bytes lost in the middle
	for _, c := range []struct {
		name string
		bad  []byte
		why  wire.Reason
	}{
		{"a flipped bit", flip, wire.Damaged},
		{"bytes lost", spliced, wire.Damaged},
		{"one cell too many", wire.AppendFrame(nil, 0, 1, 2, []uint16{1, 2, 3, 4}), wire.WrongLength},
		{"one cell too few", wire.AppendFrame(nil, 0, 1, 2, []uint16{1, 2}), wire.WrongLength},
		{"beyond 12 bits", wire.AppendFrame(nil, 0, 1, 2, []uint16{1, 4096, 3}), wire.OutOfRange},
		{"a third foot", wire.AppendFrame(nil, 2, 1, 2, []uint16{1, 2, 3}), wire.BadKind},
		{"too long for any strip", append(bytes.Repeat([]byte{1}, 100_000), 0), wire.TooLong},
		{"a hello of link 2", wire.AppendHello(nil, wire.Hello{Link: 2, Strip: "x", Rows: 1, Cols: 1, ADCBits: 8}), wire.BadHello},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := small()
			got := listen(d, good(append(good(nil), c.bad...)), atOnce)
			require.Len(t, got, 2)
			var want wire.Stats
			want.Bad[c.why] = 1
			assert.Equal(t, want.Bad, d.Stats().Bad)
			assert.EqualValues(t, len(c.bad), d.Stats().Dropped)
		})
	}
}

func TestDecodeText(t *testing.T) {
	const lines = "3,9,9\n" + // the first line may lack its beginning
		"# {\"link\":1,\"strip\":\"L-01\",\"foot\":\"left\",\"rows\":1,\"cols\":3,\"rate_hz\":200,\"adc_bits\":12}\r\n" +
		"# any comment\n\n" +
		"10,1,2,3\r\n" +
		"20;1;2;3;\n" +
		"30\t1\t 2\t3 \n" +
		"  40  1 2   3\n" +
		"50 , 1 ,2, 3\n" +
		"0000000000060,01,000000000002,4095\n" +
		"18446744073709551615,1,2,3\n" +
		"7,8,9\n" // no clock
	d := small()
	got := listen(d, []byte(lines), atOnce)
	require.Equal(t, hello(device.Left), got[0].Hello)
	var times []uint64
	for _, s := range got[1:8] {
		assert.Equal(t, device.NoFoot, s.Foot)
		assert.True(t, s.HasClock)
		assert.False(t, s.HasSeq)
		times = append(times, s.TimeUS)
	}
	assert.Equal(t, []uint64{10, 20, 30, 40, 50, 60, 1<<64 - 1}, times)
	assert.Equal(t, []uint16{1, 2, 4095}, got[6].Counts)
	require.Len(t, got, 9)
	assert.Equal(t, keptMessage{Foot: device.NoFoot, Counts: []uint16{7, 8, 9}}, got[8])
	s := d.Stats()
	assert.Equal(t, wire.Text, s.Format)
	assert.EqualValues(t, len("3,9,9\n"), s.Dropped)
	assert.Zero(t, s.Bad)
}

func TestDecodeTextDrops(t *testing.T) {
	for line, why := range map[string]wire.Reason{
		"1,2\n":                            wire.WrongLength,
		"1,2,3,4,5\n":                      wire.WrongLength,
		"1,2,3,4096\n":                     wire.OutOfRange,
		"1,2,3,65536\n":                    wire.OutOfRange,
		"1,2,3,99999999999999999999999\n":  wire.OutOfRange,
		"4096,2,3\n":                       wire.OutOfRange, // no clock: the first number is a count
		"18446744073709551616,1,2,3\n":     wire.OutOfRange,
		"1,2,x,4\n":                        wire.NotNumbers,
		"1,2,3.5,4\n":                      wire.NotNumbers,
		"1,2,-3,4\n":                       wire.NotNumbers,
		"1,,3,4\n":                         wire.NotNumbers,
		",1,2,3\n":                         wire.NotNumbers,
		"1,2,3,4,,\n":                      wire.NotNumbers,
		"1,2,3,4*00\n":                     wire.Damaged,
		"1,2,3,4*0\n":                      wire.NotNumbers,
		"# {\"link\":1\n":                  wire.BadHello,
		strings.Repeat(" ", 40_000) + "\n": wire.TooLong,
	} {
		d := small()
		got := listen(d, []byte("\n1,1,2,3\n"+line+"2,1,2,3\n"), atOnce)
		var want wire.Stats
		want.Bad[why] = 1
		assert.Len(t, got, 2, "%.40q", line)
		assert.Equal(t, want.Bad, d.Stats().Bad, "%.40q", line)
		assert.EqualValues(t, len(line), d.Stats().Dropped, "%.40q", line)
	}
}

// The checksum is that of NMEA 0183 sentences. The sentence with its checksum 47 is
// an example of GGA that the University of Hohenheim publishes (exercise on NMEA strings); in
// NMEA the $ is not part of the checksum.
func TestTextChecksum(t *testing.T) {
	const sentence = "GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,"
	x := byte(0)
	for i := range len(sentence) {
		x ^= sentence[i]
	}
	require.EqualValues(t, 0x47, x)

	line := wiretest.AppendTextFrame(nil, 5000, []uint16{10, 20, 30}, true)
	// By hand: 35^30^30^30 = 05, three commas 2C, 31^30 = 01, 32^30 = 02, 33^30 = 03; together 29.
	require.Equal(t, "5000,10,20,30*29\n", string(line))
	// With a checksum the first line is accepted.
	require.Len(t, listen(small(), []byte("5000,10,20,30*29\n"), atOnce), 1)
	// Small letters are allowed: 31^32^33^34 = 04, three commas 2C, together 28; with 7 for 4, 07^2C = 2B.
	require.Len(t, listen(small(), []byte("1,2,3,7*2b\n"), atOnce), 1)
}

// Damage to the end of a line does not turn it into a valid shorter line.
func TestTextThatHasChecksumsNeedsThem(t *testing.T) {
	good := func(us uint64, checksum bool) string {
		return string(wiretest.AppendTextFrame(nil, us, []uint16{1, 2, 345}, checksum))
	}
	d := small()
	lines := "\n" + good(1, true) + good(2, false) + good(3, true) + good(4, true) + good(5, false) + "6,1,2,34\n" + good(7, true)
	var times []uint64
	for _, s := range listen(d, []byte(lines), atOnce) {
		times = append(times, s.TimeUS)
	}
	assert.Equal(t, []uint64{1, 2, 3, 4, 7}, times)
	assert.EqualValues(t, 2, d.Stats().Bad[wire.NoChecksum])
}

func TestBinaryProvenIsBinary(t *testing.T) {
	line := []byte("\n1,1,2,3\n") // what a board may print while it starts
	line = append(line, 0)
	line = wire.AppendFrame(line, 0, 1, 2, []uint16{1, 2, 3})
	line = append(line, "\n2,1,2,3\n\x00"...)
	line = wire.AppendFrame(line, 0, 2, 3, []uint16{1, 2, 3})
	got := listen(small(), line, atOnce)
	require.Len(t, got, 3)
	assert.Equal(t, []bool{false, true, true}, []bool{got[0].HasSeq, got[1].HasSeq, got[2].HasSeq})
}

// randomStream generates the output of one of the encoders among other bytes that end at
// a delimiter, and the messages that must be decoded.
func randomStream(t *rapid.T, binary bool) (line []byte, want []keptMessage) {
	delimiter := byte('\n')
	if binary {
		delimiter = 0
	}
	line = append(line, delimiter)
	checksum := rapid.Bool().Draw(t, "checksum")
	for range rapid.IntRange(1, 12).Draw(t, "messages") {
		if rapid.Bool().Draw(t, "garbage") {
			junk := rapid.SliceOfN(rapid.Byte(), 0, 300).Draw(t, "junk")
			if !binary { // random digits could be a line of text; letters cannot
				junk = append([]byte("x"), bytes.ReplaceAll(junk, []byte("\n"), []byte("\nx"))...)
				junk = bytes.ReplaceAll(junk, []byte{0}, []byte("y"))
			}
			line = append(append(line, junk...), delimiter)
		}
		foot := device.Foot(rapid.IntRange(0, 1).Draw(t, "foot"))
		if rapid.IntRange(0, 4).Draw(t, "hello") == 0 {
			h := hello(foot)
			h.Strip = rapid.StringN(1, 20, 40).Draw(t, "name")
			if binary {
				line = wire.AppendHello(line, h)
			} else {
				line = wiretest.AppendTextHello(line, h)
			}
			h.Strip = strings.ToValidUTF8(h.Strip, "\uFFFD")
			want = append(want, keptMessage{Hello: h, Foot: foot})
			continue
		}
		s := keptMessage{
			Foot: foot, HasSeq: binary, HasClock: true, Seq: rapid.Uint16().Draw(t, "seq"),
			TimeUS: uint64(rapid.Uint32().Draw(t, "t_us")),
			Counts: rapid.SliceOfN(rapid.Uint16Max(4095), 3, 3).Draw(t, "counts"),
		}
		if binary {
			line = wire.AppendFrame(line, foot, s.Seq, uint32(s.TimeUS), s.Counts)
		} else {
			line = wiretest.AppendTextFrame(line, s.TimeUS, s.Counts, checksum)
			s.Seq, s.Foot = 0, device.NoFoot
		}
		want = append(want, s)
	}
	return line, want
}

func TestWhatWasWrittenComesOut(t *testing.T) {
	for _, binary := range []bool{true, false} {
		rapid.Check(t, func(t *rapid.T) {
			line, want := randomStream(t, binary)
			frames := func(all []keptMessage) (out []keptMessage) { // the messages in the format of the encoder
				for _, s := range all {
					if s.Hello != (wire.Hello{}) || s.HasSeq == binary {
						out = append(out, s)
					}
				}
				return out
			}
			got := frames(listen(small(), line, func() int { return rapid.IntRange(0, 60).Draw(t, "chunk") }))
			require.Equal(t, want, got)
		})
	}
}

func TestDecoderAllocatesNothingForAFrame(t *testing.T) {
	var binary, text []byte
	for i := range 50 {
		binary = wire.AppendFrame(binary, 0, uint16(i), uint32(i), []uint16{1, 2, 3})
		text = wiretest.AppendTextFrame(text, uint64(i), []uint16{1, 2, 3}, true)
	}
	for _, line := range [][]byte{binary, text} {
		d, m := small(), wire.Message{}
		assert.Zero(t, testing.AllocsPerRun(20, func() {
			d.Feed(line)
			for d.Next(&m) {
			}
		}))
	}
}

func FuzzDecoder(f *testing.F) {
	line := wire.AppendHello([]byte("boot\n"), hello(0))
	line = wire.AppendFrame(line, 0, 1, 2, []uint16{1, 2, 3})
	f.Add(line, uint64(1))
	f.Add(wiretest.AppendTextHello([]byte("1,2,3\n5,1,2,3\n"), hello(1)), uint64(2))
	f.Add(append(bytes.Repeat([]byte("ab\n\x00"), 20), line...), uint64(3))
	f.Add(append(bytes.Repeat([]byte("1"), 70_000), line...), uint64(4))
	f.Fuzz(func(t *testing.T, b []byte, seed uint64) {
		rng := rand.New(rand.NewPCG(seed, 0))
		one, many := small(), small()
		whole := listen(one, b, atOnce)
		cut := listen(many, b, func() int { return rng.IntN(1 + 1<<rng.IntN(14)) })
		require.Equal(t, whole, cut)
		require.Equal(t, one.Stats(), many.Stats())
		require.LessOrEqual(t, one.Stats().Dropped, one.Stats().Bytes)
		for _, s := range whole {
			if s.Hello == (wire.Hello{}) {
				require.Len(t, s.Counts, 3)
				require.LessOrEqual(t, slices.Max(s.Counts), uint16(4095))
			}
		}
		// Whatever came before, a packet after a zero is decoded.
		frame := wire.AppendFrame([]byte{0}, 1, 9, 9, []uint16{7, 8, 9})
		last := listen(many, frame, atOnce)
		require.NotEmpty(t, last)
		require.Equal(t, []uint16{7, 8, 9}, last[len(last)-1].Counts)
	})
}

func FuzzHello(f *testing.F) {
	f.Add([]byte(`{"link":1,"strip":"L-01","foot":"left","rows":5,"cols":8,"rate_hz":200,"adc_bits":12}`))
	f.Add([]byte(`{"link":1,"strip":"\u0000","foot":"","rows":-5,"cols":1e9}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		h, err := wire.ParseHello(b)
		if err != nil {
			return
		}
		require.True(t, h.Foot == device.Left || h.Foot == device.Right)
		require.True(t, h.Rows >= 1 && h.Cols >= 1 && h.Rows*h.Cols <= device.MaxCells)
		got := listen(small(), wiretest.AppendTextHello(wire.AppendHello(nil, h), h), atOnce)
		if len(h.Strip) < 100 {
			require.Equal(t, h, got[0].Hello)
		}
	})
}

func TestHelloAsDescribed(t *testing.T) {
	const text = `{"link":1,"strip":"L-01","foot":"left","rows":5,"cols":8,"rate_hz":200,"adc_bits":12}`
	s := strip(device.Left, 5, 8)
	assert.Equal(t, "# "+text+"\n", string(wiretest.AppendTextHello(nil, wire.HelloOf(s, 200))))
	h, err := wire.ParseHello([]byte(text))
	require.NoError(t, err)
	assert.Equal(t, wire.HelloOf(s, 200), h)
	for _, bad := range []string{
		``, `{}`, `[]`, `nonsense`, text[1:], text + text,
		strings.Replace(text, "left", "middle", 1), strings.Replace(text, `"left"`, `""`, 1), strings.Replace(text, `"foot":"left",`, "", 1),
		strings.Replace(text, `:5`, `:0`, 1), strings.Replace(text, `:8`, `:-8`, 1), strings.Replace(text, `:5`, `:4000`, 1),
		strings.Replace(text, `:12`, `:17`, 1), strings.Replace(text, `:1,`, `:2,`, 1), strings.Replace(text, "L-01", "", 1),
		strings.Replace(text, "L-01", strings.Repeat("L", 2000), 1),
	} {
		_, err := wire.ParseHello([]byte(bad))
		assert.Error(t, err, bad)
	}
}
