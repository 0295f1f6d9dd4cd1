package recording

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protodesc"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/dynamicpb"
	"pgregory.net/rapid"

	"aplomb/device"
)

// The encoding is checked against google.golang.org/protobuf, which has nothing but the
// descriptors of the messages.

func describe(t testing.TB, message string) protoreflect.MessageDescriptor {
	files, err := protodesc.NewFiles(descriptors())
	require.NoError(t, err)
	d, err := files.FindDescriptorByName(protoreflect.FullName(message))
	require.NoError(t, err)
	return d.(protoreflect.MessageDescriptor)
}

func set(m *dynamicpb.Message, field string, v any) {
	m.Set(m.Descriptor().Fields().ByName(protoreflect.Name(field)), protoreflect.ValueOf(v))
}

func frameByLibrary(d protoreflect.MessageDescriptor, f *device.Frame) *dynamicpb.Message {
	m := dynamicpb.NewMessage(d)
	set(m, "t_us", f.TimeUS)
	set(m, "arrival_ns", uint64(f.ArrivalNS))
	if f.Seq != device.NoSeq {
		set(m, "seq", uint64(f.Seq))
	}
	set(m, "restarted", f.Restarted)
	counts := m.Mutable(d.Fields().ByName("counts")).List()
	for _, c := range f.Counts {
		counts.Append(protoreflect.ValueOfUint32(uint32(c)))
	}
	return m
}

func drawFrame(t *rapid.T) device.Frame {
	count := rapid.OneOf(rapid.Uint16(), rapid.Uint16Max(127), rapid.SampledFrom([]uint16{0, 127, 128, 16383, 16384, 65535}))
	return device.Frame{
		Seq:       rapid.OneOf(rapid.Just[int64](device.NoSeq), rapid.Int64Min(0)).Draw(t, "seq"),
		TimeUS:    rapid.Uint64().Draw(t, "t"),
		ArrivalNS: rapid.Int64Min(0).Draw(t, "arrival"),
		Restarted: rapid.Bool().Draw(t, "restarted"),
		Counts:    rapid.SliceOfN(count, 0, 60).Draw(t, "counts"),
	}
}

func TestFrameAgainstProtobuf(t *testing.T) {
	d := describe(t, frameMessage)
	rapid.Check(t, func(t *rapid.T) {
		f := drawFrame(t)
		ours := appendFrame(nil, &f)
		theirs, err := proto.MarshalOptions{Deterministic: true}.Marshal(frameByLibrary(d, &f))
		require.NoError(t, err)
		require.Equal(t, theirs, append([]byte{}, ours...), "encoded by us and by the library")

		m := dynamicpb.NewMessage(d)
		require.NoError(t, proto.Unmarshal(ours, m))
		require.True(t, proto.Equal(frameByLibrary(d, &f), m), "decoded by the library")

		var back device.Frame
		require.NoError(t, decodeFrame(theirs, len(f.Counts), &back))
		require.Equal(t, f.Seq, back.Seq)
		require.Equal(t, f.TimeUS, back.TimeUS)
		require.Equal(t, f.ArrivalNS, back.ArrivalNS)
		require.Equal(t, f.Restarted, back.Restarted)
		require.Equal(t, append([]uint16{}, f.Counts...), append([]uint16{}, back.Counts...))
	})
}

func TestEventAgainstProtobuf(t *testing.T) {
	d := describe(t, eventMessage)
	rapid.Check(t, func(t *rapid.T) {
		e := device.Event{
			TimeNS:  rapid.Int64Min(0).Draw(t, "t"),
			Foot:    rapid.SampledFrom([]device.Foot{device.Left, device.Right, device.NoFoot}).Draw(t, "foot"),
			Kind:    rapid.SampledFrom([]device.EventKind{device.Gap, device.Note, device.Discard, device.Reconnect, device.Press}).Draw(t, "kind"),
			Cause:   rapid.String().Draw(t, "cause"),
			LengthS: rapid.Float64Range(0, 0.999).Draw(t, "length"),
			Text:    rapid.String().Draw(t, "text"),
		}
		if e.LengthS *= float64(e.TimeNS) / 1e9; e.LengthS == 0 {
			e.LengthS = 0 // proto3 encodes a negative zero, which is no length
		}
		m := dynamicpb.NewMessage(d)
		require.NoError(t, proto.Unmarshal(appendEvent(nil, &e), m))
		want := dynamicpb.NewMessage(d)
		set(want, "t_ns", e.TimeNS)
		set(want, "foot", e.Foot.String())
		set(want, "kind", string(e.Kind))
		set(want, "cause", e.Cause)
		set(want, "length_s", e.LengthS)
		set(want, "text", e.Text)
		require.True(t, proto.Equal(want, m), "%v\n%v", want, m)

		theirs, err := proto.Marshal(want)
		require.NoError(t, err)
		back, err := decodeEvent(theirs)
		require.NoError(t, err)
		require.Equal(t, e, back)
	})
}

func TestAnEventWithImpossibleTimesIsNotRead(t *testing.T) {
	for _, e := range []device.Event{
		{TimeNS: -1}, {TimeNS: 1e18, LengthS: -1}, {TimeNS: 1e18, LengthS: 2e9}, {TimeNS: 1e18, LengthS: math.Inf(1)}, {TimeNS: 1e18, LengthS: math.NaN()},
	} {
		e.Foot, e.Kind = device.Left, device.Press
		_, err := decodeEvent(appendEvent(nil, &e))
		assert.ErrorContains(t, err, "an event with impossible times", e)
	}
}

// Another encoder may add fields or encode the same values differently.
func TestFrameForeignBytes(t *testing.T) {
	f := device.Frame{Seq: 3, TimeUS: 5, ArrivalNS: 9, Counts: []uint16{1, 300, 20000}}
	plain := appendFrame(nil, &f)
	var back device.Frame

	later := append([]byte{0x7a, 2, 'h', 'i'}, plain...) // field 15, from a later version
	require.NoError(t, decodeFrame(later, 3, &back))
	assert.Equal(t, f.Counts, back.Counts)

	split := append(appendFrame(nil, &device.Frame{Seq: 3, TimeUS: 5, ArrivalNS: 9, Counts: f.Counts[:1]}), tagCounts, 5, 0xac, 0x02, 0xa0, 0x9c, 0x01)
	require.NoError(t, decodeFrame(split, 3, &back))
	assert.Equal(t, f.Counts, back.Counts, "counts in two runs")

	long := []byte{tagCounts, 5, 0x81, 0x80, 0x80, 0x80, 0x00} // a 1 in more bytes than it needs
	require.NoError(t, decodeFrame(long, 1, &back))
	assert.Equal(t, []uint16{1}, back.Counts)
	assert.EqualValues(t, device.NoSeq, back.Seq)

	for name, bad := range map[string][]byte{
		"cut short":        plain[:len(plain)-1],
		"too many":         append(append([]byte{}, plain...), tagCounts, 1, 7),
		"too few":          plain[:6],
		"above 65535":      {tagCounts, 5, 1, 1, 0x80, 0x80, 0x04},
		"above 2^21":       {tagCounts, 6, 1, 1, 0x80, 0x80, 0x80, 0x01},
		"endless varint":   {tagCounts, 3, 0xff, 0xff, 0xff},
		"arrival below 0":  append([]byte{tagArrival, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 1}, plain...),
		"no field of ours": {0x07},
	} {
		assert.Error(t, decodeFrame(bad, 3, &back), name)
	}
}

func TestFrameAllocatesNothing(t *testing.T) {
	f := device.Frame{Seq: 3, TimeUS: 5, ArrivalNS: math.MaxInt64, Counts: make([]uint16, 40)}
	buf := appendFrame(nil, &f)
	back := device.Frame{Counts: make([]uint16, 0, 40)}
	assert.Zero(t, testing.AllocsPerRun(100, func() {
		buf = appendFrame(buf[:0], &f)
		if decodeFrame(buf, 40, &back) != nil {
			panic("not decoded")
		}
	}))
}

func FuzzFrame(f *testing.F) {
	frame := device.Frame{Seq: 3, TimeUS: 5, ArrivalNS: 9, Counts: []uint16{1, 300, 20000}}
	f.Add(appendFrame(nil, &frame))
	f.Add([]byte{tagCounts, 3, 1, 2, 3})
	d := describe(f, frameMessage)
	f.Fuzz(func(t *testing.T, b []byte) {
		var got device.Frame
		if decodeFrame(b, 3, &got) != nil {
			return
		}
		// The library accepts what decodeFrame accepts, and decodes the same counts.
		m := dynamicpb.NewMessage(d)
		if proto.Unmarshal(b, m) != nil {
			t.Fatalf("%x is no message", b)
		}
		counts := m.Get(d.Fields().ByName("counts")).List()
		if counts.Len() != 3 {
			t.Skip("counts one by one, which only the library reads")
		}
		for k := range 3 {
			if uint64(got.Counts[k]) != counts.Get(k).Uint() {
				t.Fatalf("count %d of %x is %d, by the library %d", k, b, got.Counts[k], counts.Get(k).Uint())
			}
		}
		decodeEvent(b)
	})
}
