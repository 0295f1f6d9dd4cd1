package recording_test

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/foxglove/mcap/go/mcap"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device"
	"aplomb/device/recording"
)

// part returns a .part as a crash leaves it.
func part(t *testing.T, frames []device.Frame, cells int) []byte {
	t.Helper()
	path := tempFile(t)
	w, err := recording.Create(path, meta(1, cells))
	require.NoError(t, err)
	write(t, w, frames)
	b := waitForPart(t, path, len(frames))
	require.NoError(t, w.Discard())
	return b
}

// closed returns a finished recording.
func closed(t *testing.T, frames []device.Frame, cells int) []byte {
	t.Helper()
	path := tempFile(t)
	w, err := recording.CreateDirect(path, meta(1, cells))
	require.NoError(t, err)
	write(t, w, frames, device.Event{TimeNS: start, Kind: device.Note, Foot: device.NoFoot, Text: "n"})
	require.NoError(t, w.Close())
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	return b
}

// records follows the top level of a file by the MCAP specification, an opcode and a length
// before each record, and calls f with the offset after each record.
func records(b []byte, f func(op mcap.OpCode, end int)) {
	for at := len(mcap.Magic); at+9 <= len(b); {
		end := at + 9 + int(binary.LittleEndian.Uint64(b[at+1:]))
		f(mcap.OpCode(b[at]), end)
		at = end
	}
}

// readBytes reads b as a file.
func readBytes(t *testing.T, path string, b []byte) (frames []device.Frame, r *recording.Reader, err error) {
	t.Helper()
	require.NoError(t, os.WriteFile(path, b, 0o666))
	r, err = recording.Open(t.Context(), path)
	if err != nil {
		return nil, nil, err
	}
	defer r.Close()
	frames, err = readAll(r)
	return frames, r, err
}

// If a .part is truncated at any byte of its last second, around the end of its
// description, or at some bytes before, every frame before the cut is read.
func TestPartCutAtEveryByte(t *testing.T) {
	var frames []device.Frame // of two seconds
	for i, f := range releves(800, 3) {
		if i/2%20 == 0 {
			frames = append(frames, f)
		}
	}
	whole, path := part(t, frames, 3), tempFile(t)
	ends := []int{} // of each frame
	described := 0
	records(whole, func(op mcap.OpCode, end int) {
		switch op {
		case mcap.OpMessage:
			ends = append(ends, end)
		case mcap.OpMetadata:
			described = end
		}
	})
	require.Len(t, ends, len(frames))
	for size := range len(whole) + 1 {
		if size < ends[len(ends)/2] && (size < described-20 || size > described+20) && size%41 != 0 {
			continue
		}
		got, r, err := readBytes(t, path, whole[:size])
		if err != nil {
			assert.Less(t, size, described, "%v", err)
			oneLine(t, err)
			continue
		}
		want := 0
		for want < len(ends) && ends[want] <= size {
			want++
		}
		require.Equal(t, frames[:want], append([]device.Frame{}, got...), "cut at %d", size)
		assert.False(t, r.Whole())
		if want > 0 && size > ends[want-1] {
			assert.Contains(t, r.Missing(), "left out", "cut at %d", size)
		}
	}
}

func TestPartThatEndsInWhatTheDiskHad(t *testing.T) {
	frames := releves(12, 6)
	whole := part(t, frames, 6)
	// The length had reached the disk, but not the content.
	for name, tail := range map[string][]byte{
		"zeros":            make([]byte, 4096),
		"an empty message": append([]byte{byte(mcap.OpMessage), 30, 0, 0, 0, 0, 0, 0, 0, 1, 0}, make([]byte, 500)...),
		"a short message":  {byte(mcap.OpMessage), 3, 0, 0, 0, 0, 0, 0, 0, 1, 0, 0},
		"noise":            {0xee, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 1, 2, 3},
	} {
		got, r, err := readBytes(t, tempFile(t), append(bytes.Clone(whole), tail...))
		require.NoError(t, err, name)
		assert.Equal(t, frames, got, name)
		assert.Contains(t, r.Missing(), "left out", name)
	}
}

func TestClosedFileCut(t *testing.T) {
	frames := releves(60, 6)
	whole, path := closed(t, frames, 6), tempFile(t)
	described, chunk := 0, 0
	records(whole, func(op mcap.OpCode, end int) {
		switch op {
		case mcap.OpMetadata:
			described = end
		case mcap.OpChunk:
			chunk = end
		}
	})
	for size := 0; size < len(whole); size += 11 {
		got, r, err := readBytes(t, path, whole[:size])
		if err != nil {
			assert.Less(t, size, described, "%v", err)
			oneLine(t, err)
			continue
		}
		assert.False(t, r.Whole(), "cut at %d", size)
		assert.NotEmpty(t, r.Missing())
		if size >= chunk {
			require.Equal(t, frames, got, "cut at %d", size)
		} else {
			require.Empty(t, got)
		}
	}
}

// A flipped bit anywhere in a finished file or a .part is refused, costs at most one
// chunk or message, or has no effect. No frame is read that was not written, and the
// first frame of a foot after a loss is marked.
func TestFlippedBit(t *testing.T) {
	frames := releves(1600, 3)        // 4 s
	for i := range frames[800:1600] { // of a strip that numbers no frames
		frames[800+i].Seq = device.NoSeq
	}
	files := map[string][]byte{"finished": closed(t, frames, 3), "part": part(t, frames, 3)}
	for name, whole := range files {
		t.Run(name, func(t *testing.T) {
			path := tempFile(t)
			sound := readFlipped(t, path, whole)
			require.Equal(t, flipped{id: sound.id, events: sound.events, missing: sound.missing, frames: frames}, sound)
			refused, lossy, harmless, cut, clean := 0, 0, 0, 0, 0
			flips := 100
			if os.Getenv("APLOMB_LONG") != "" {
				flips = 5_000
			}
			step := 1 + 8*len(whole)/flips
			for bit := 0; bit < 8*len(whole); bit += step {
				b := bytes.Clone(whole)
				b[bit/8] ^= 1 << (bit % 8)
				got := readFlipped(t, path, b)
				switch {
				case got.err != nil:
					refused++
					continue
				case got.lost:
					lossy++
					require.Empty(t, got.id, "bit %d", bit)
				case got.damaged != "":
					harmless++
					require.Equal(t, sound.id, got.id, "bit %d", bit)
				case got.missing != sound.missing:
					cut++
				default:
					clean++
					require.Equal(t, sound.id, got.id, "bit %d", bit)
				}
				lost := requirePartOf(t, frames, got.frames)
				require.LessOrEqual(t, lost, 2*time.Second, "bit %d", bit)
				if !got.lost && got.missing == sound.missing {
					require.Len(t, got.frames, len(frames), "bit %d", bit)
					require.Equal(t, sound.events, got.events)
				}
			}
			t.Logf("%d refused, %d cost frames or events, %d are known to have cost nothing, %d read as cut short, %d without effect", refused, lossy, harmless, cut, clean)
			assert.Positive(t, refused)
			assert.Positive(t, lossy)
		})
	}
}

// flipped is what is read of a file.
type flipped struct {
	frames           []device.Frame
	events           int
	id               string
	missing, damaged string
	lost             bool // frames or events
	err              error
}

func readFlipped(t *testing.T, path string, b []byte) (f flipped) {
	t.Helper()
	frames, r, err := readBytes(t, path, b)
	if err != nil {
		oneLine(t, err)
		assert.True(t, errors.Is(err, recording.ErrDamaged) || errors.Is(err, recording.ErrCutShort) || errors.Is(err, recording.ErrForeign) || errors.Is(err, recording.ErrNewer), "%v", err)
		return flipped{err: err}
	}
	f = flipped{frames: frames, events: len(r.Events()), id: r.ID(), missing: r.Missing(), damaged: r.Damaged()}
	for _, l := range r.Losses() {
		f.lost = f.lost || !l.NoMessage
		assert.LessOrEqual(t, l.Offset+l.Bytes, int64(len(b)))
	}
	if f.lost {
		require.True(t, slices.ContainsFunc(r.Events(), func(e device.Event) bool { return e.Kind == device.Gap && e.Cause == recording.Damaged }))
	}
	assert.Less(t, len(f.damaged), 400)
	return f
}

// requirePartOf requires that got are frames in their order with some missing, and that
// the first of a foot after missing ones is marked. It returns the longest time without
// frames.
func requirePartOf(t *testing.T, frames, got []device.Frame) (longest time.Duration) {
	t.Helper()
	n := 0
	var missing [2]bool
	last := int64(start)
	for i := range frames {
		w := &frames[i]
		if n == len(got) || got[n].ArrivalNS != w.ArrivalNS || got[n].Foot != w.Foot {
			missing[w.Foot] = true
			continue
		}
		g := got[n]
		longest = max(longest, time.Duration(g.ArrivalNS-last))
		last = g.ArrivalNS
		require.True(t, g.AfterLoss || !missing[w.Foot], "frame %d", i)
		missing[w.Foot] = false
		same(t, frames[i:i+1], got[n:n+1])
		n++
	}
	require.Equal(t, len(got), n, "a frame that was not written")
	return longest
}

// A bad chunk loses its own content. Everything before and after it is read.
func TestBadChunk(t *testing.T) {
	frames := releves(4800, 40) // 12 s
	whole, path := closed(t, frames, 40), tempFile(t)
	var ends []int
	records(whole, func(op mcap.OpCode, end int) {
		if op == mcap.OpChunk {
			ends = append(ends, end)
		}
	})
	require.GreaterOrEqual(t, len(ends), 8)
	for name, bad := range map[string][]int{"first": {0}, "inside": {3}, "two": {2, 5}, "neighbours": {2, 3}, "last": {len(ends) - 1}} {
		t.Run(name, func(t *testing.T) {
			b := bytes.Clone(whole)
			for _, c := range bad {
				b[ends[c]-100] ^= 1
			}
			got, r, err := readBytes(t, path, b)
			require.NoError(t, err)
			lost := requirePartOf(t, frames, got)
			assert.LessOrEqual(t, lost, time.Duration(len(bad))*1100*time.Millisecond)
			assert.InDelta(t, 4800-400*len(bad), len(got), 400)
			assert.True(t, r.Whole(), "it was closed")
			assert.Regexp(t, `^damaged at byte \d+ \(.*chunk.*\).*; lost: (the first|from) \d.*; \d+ left and \d+ right frames are missing`, r.Damaged())
			missing := strings.Contains(r.Damaged(), fmt.Sprintf("; %d left and %d right frames are missing", 2400-feet(got)[0], 2400-feet(got)[1]))
			assert.True(t, missing, r.Damaged())
			assert.Equal(t, bad[0] == 0, strings.Contains(r.Damaged(), "1 of its marks and notes"), r.Damaged())
			gaps := 0
			for _, e := range r.Events() {
				if e.Kind == device.Gap {
					gaps++
					assert.Equal(t, recording.Damaged, e.Cause)
					assert.Equal(t, device.NoFoot, e.Foot)
					assert.Greater(t, e.LengthS, 0.4)
				}
			}
			assert.Equal(t, len(r.Losses()), gaps)
			assert.Empty(t, r.ID())
		})
	}
}

func feet(frames []device.Frame) (n [2]int) {
	for _, f := range frames {
		n[f.Foot]++
	}
	return n
}

// No chunk contains more than two seconds, for any rate of the strip and size of frames.
func TestChunksAreShort(t *testing.T) {
	for name, every := range map[string]int{"200 frames a second": 1, "10 frames a second": 20} {
		var frames []device.Frame
		for i, f := range releves(8000, 3) {
			if i/2%every == 0 {
				frames = append(frames, f)
			}
		}
		path := tempFile(t)
		require.NoError(t, os.WriteFile(path, closed(t, frames, 3), 0o666))
		file, err := os.Open(path)
		require.NoError(t, err)
		defer file.Close()
		r, err := mcap.NewReader(file)
		require.NoError(t, err)
		defer r.Close()
		info, err := r.Info()
		require.NoError(t, err)
		for _, c := range info.ChunkIndexes {
			assert.LessOrEqual(t, time.Duration(c.MessageEndTime-c.MessageStartTime), 1200*time.Millisecond, name)
		}
		assert.LessOrEqual(t, len(info.ChunkIndexes), 21, name)
	}
}

// In a file without chunks and seals only the checksum of the whole file covers the
// frames: if it does not match, none of them is trusted. A recording of the first version
// has no checksum of its description: a flipped bit in the description is found by the
// checksum of the whole file, and if that cannot be used because a chunk is bad, the
// reader reports it.
func TestFilesWithFewerChecksums(t *testing.T) {
	frames := releves(2400, 6)
	whole, path := closed(t, frames, 6), tempFile(t)
	unchunked := rewritten(t, whole, &mcap.WriterOptions{IncludeCRC: true}, nil)
	unchunked[len(unchunked)/2] ^= 1
	_, _, err := readBytes(t, path, unchunked)
	require.ErrorIs(t, err, recording.ErrDamaged)
	assert.ErrorContains(t, err, "copy it again")
	oneLine(t, err)

	first := rewritten(t, whole, &mcap.WriterOptions{Chunked: true, ChunkSize: 40_000, IncludeCRC: true, Compression: mcap.CompressionZSTD},
		func(m *mcap.Metadata) { delete(m.Metadata, "checksum") })
	got, r, err := readBytes(t, path, first)
	require.NoError(t, err)
	same(t, frames, got)
	assert.Empty(t, r.Damaged())

	b := bytes.Clone(first)
	b[bytes.Index(b, []byte("kpa_per_count = 0.75"))+len("kpa_per_count = 0.")] ^= 2
	_, _, err = readBytes(t, path, b)
	require.ErrorIs(t, err, recording.ErrDamaged)
	assert.ErrorContains(t, err, "the description may not be as it was written: copy it again")

	b = bytes.Clone(first)
	records(b, func(op mcap.OpCode, end int) {
		if op == mcap.OpMessageIndex {
			b[end-5] ^= 1 // it might as well be the description
		}
	})
	_, _, err = readBytes(t, path, b)
	require.ErrorIs(t, err, recording.ErrDamaged)

	b = bytes.Clone(first)
	chunk := bytes.Index(b, []byte("zstd"))
	b[chunk+4+bytes.Index(b[chunk+4:], []byte("zstd"))+500] ^= 1
	got, r, err = readBytes(t, path, b)
	require.NoError(t, err)
	requirePartOf(t, frames, got)
	assert.Less(t, len(got), len(frames))
	assert.Contains(t, r.Damaged(), "the description has no checksum: see that strip and shoe are the right ones")
}

// A chunk of another position or of another recording is rejected although its checksum
// matches.
func TestChunkOfAnotherPlace(t *testing.T) {
	frames := releves(2400, 6)
	whole, path := closed(t, frames, 6), tempFile(t)
	var chunks [][2]int // from, to
	from := len(mcap.Magic)
	records(whole, func(op mcap.OpCode, end int) {
		if op == mcap.OpChunk {
			chunks = append(chunks, [2]int{from, end})
		}
		from = end
	})
	second, fourth := chunks[1], chunks[3]
	inserted := append(bytes.Clone(whole[:fourth[1]]), whole[second[0]:second[1]]...)
	inserted = append(inserted, whole[fourth[1]:]...)
	over := bytes.Clone(whole)
	copy(over[fourth[0]:], whole[second[0]:second[1]])
	for name, b := range map[string][]byte{"inserted": inserted, "in place of another": over} {
		got, r, err := readBytes(t, path, b)
		if err != nil {
			require.ErrorIs(t, err, recording.ErrDamaged, name)
			continue
		}
		requirePartOf(t, frames, got)
		assert.NotEmpty(t, r.Damaged(), name)
	}
}

// rewritten returns the recording in b as the MCAP library writes it with other options.
func rewritten(t *testing.T, b []byte, o *mcap.WriterOptions, change func(*mcap.Metadata)) []byte {
	t.Helper()
	var out bytes.Buffer
	w, err := mcap.NewWriter(&out, o)
	require.NoError(t, err)
	lexer, err := mcap.NewLexer(bytes.NewReader(b))
	require.NoError(t, err)
	defer lexer.Close()
	for {
		token, record, err := lexer.Next(nil)
		require.NoError(t, err)
		switch token {
		case mcap.TokenHeader:
			h, err := mcap.ParseHeader(record)
			require.NoError(t, err)
			require.NoError(t, w.WriteHeader(h))
		case mcap.TokenMetadata:
			m, err := mcap.ParseMetadata(record)
			require.NoError(t, err)
			if change != nil {
				change(m)
			}
			require.NoError(t, w.WriteMetadata(m))
		case mcap.TokenSchema:
			s, err := mcap.ParseSchema(record)
			require.NoError(t, err)
			require.NoError(t, w.WriteSchema(s))
		case mcap.TokenChannel:
			c, err := mcap.ParseChannel(record)
			require.NoError(t, err)
			require.NoError(t, w.WriteChannel(c))
		case mcap.TokenMessage:
			m, err := mcap.ParseMessage(record)
			require.NoError(t, err)
			require.NoError(t, w.WriteMessage(m))
		case mcap.TokenDataEnd:
			require.NoError(t, w.Close())
			return out.Bytes()
		}
	}
}

// A finished file that is cut within its first chunk is reported as damaged: it cannot be
// one that was never closed.
func TestCutInTheFirstChunk(t *testing.T) {
	whole, path := closed(t, releves(2400, 6), 6), tempFile(t)
	end := 0 // of the first chunk
	records(whole, func(op mcap.OpCode, at int) {
		if op == mcap.OpChunk && end == 0 {
			end = at
		}
	})
	got, r, err := readBytes(t, path, whole[:end-10])
	require.NoError(t, err)
	assert.Empty(t, got)
	assert.Equal(t, "D-07", r.Meta().Dancer)
	assert.Contains(t, r.Missing(), "it was cut short at byte ")
	assert.Contains(t, r.Missing(), "copy it again")
	got, r, err = readBytes(t, path, whole[:end+10])
	require.NoError(t, err)
	assert.NotEmpty(t, got)
	assert.NotContains(t, r.Missing(), "copy it again")
	assert.Empty(t, r.ID(), "it is not what was recorded")
}

// The search for the next record ends early in a file in which nearly every byte looks
// like the beginning of one.
func TestSearchEnds(t *testing.T) {
	whole, path := part(t, releves(40, 6), 6), tempFile(t)
	const size = 1 << 20
	b := bytes.Clone(whole)
	at := len(b)
	b = append(b, make([]byte, size)...)
	for i := at; i+9 < len(b); i += 16 {
		b[i] = byte(mcap.OpMessage)
		binary.LittleEndian.PutUint64(b[i+1:], uint64((len(b)-i)/16*16-16))
		b[i+10] = 15<<3 | 5 // looks like a seal, for the records that end here
	}
	got, r, err := readBytes(t, path, b)
	require.NoError(t, err)
	assert.Len(t, got, 40)
	assert.Contains(t, r.Missing(), "left out")
}

func oneLine(t *testing.T, err error) {
	t.Helper()
	assert.NotContains(t, strings.TrimSpace(err.Error()), "\n")
	assert.Less(t, len(err.Error()), 400)
}
