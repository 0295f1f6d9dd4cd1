package recording_test

import (
	"encoding/json"
	"errors"
	"io"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"

	"github.com/foxglove/mcap/go/mcap"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protodesc"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/descriptorpb"
	"google.golang.org/protobuf/types/dynamicpb"

	"aplomb/device"
	"aplomb/device/recording"
)

// decoder returns a function that decodes messages of a schema record with google.golang.org/protobuf.
func decoder(t *testing.T, s *mcap.Schema) func([]byte) *dynamicpb.Message {
	t.Helper()
	require.Equal(t, "protobuf", s.Encoding)
	var set descriptorpb.FileDescriptorSet
	require.NoError(t, proto.Unmarshal(s.Data, &set))
	files, err := protodesc.NewFiles(&set)
	require.NoError(t, err)
	d, err := files.FindDescriptorByName(protoreflect.FullName(s.Name))
	require.NoError(t, err)
	return func(b []byte) *dynamicpb.Message {
		m := dynamicpb.NewMessage(d.(protoreflect.MessageDescriptor))
		require.NoError(t, proto.Unmarshal(b, m))
		return m
	}
}

func field(m *dynamicpb.Message, name string) protoreflect.Value {
	return m.Get(m.Descriptor().Fields().ByName(protoreflect.Name(name)))
}

// The reader of the MCAP library reads a recording by its index and in order of time, and its
// messages decode with the descriptors in the file.
func TestReadByTheLibrary(t *testing.T) {
	path, frames := tempFile(t), releves(10_000, 40)
	w, err := recording.Create(path, meta(5, 8))
	require.NoError(t, err)
	write(t, w, frames, someEvents...)
	require.NoError(t, w.Close())

	file, err := os.Open(path)
	require.NoError(t, err)
	defer file.Close()
	r, err := mcap.NewReader(file)
	require.NoError(t, err)
	defer r.Close()
	assert.Equal(t, "aplomb", r.Header().Profile)
	info, err := r.Info()
	require.NoError(t, err)
	assert.Equal(t, map[string]uint64{"left": 5_000, "right": 5_000, "events": 2}, info.ChannelCounts())
	assert.Greater(t, len(info.ChunkIndexes), 1)
	for _, c := range info.ChunkIndexes {
		assert.Equal(t, mcap.CompressionZSTD, c.Compression)
		assert.LessOrEqual(t, c.UncompressedSize, uint64(1<<20+200))
	}
	names := []string{}
	for _, m := range info.MetadataIndexes {
		names = append(names, m.Name)
	}
	assert.Equal(t, []string{"recording", "left", "right"}, names)

	it, err := r.Messages(mcap.UsingIndex(true), mcap.InOrder(mcap.LogTimeOrder))
	require.NoError(t, err)
	decoders := map[string]func([]byte) *dynamicpb.Message{}
	sequence := map[string]uint32{}
	var n int
	var events []device.Event
	var last uint64
	for {
		schema, channel, message, err := it.NextInto(nil)
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(t, err)
		require.GreaterOrEqual(t, message.LogTime, last)
		last = message.LogTime
		require.Equal(t, sequence[channel.Topic], message.Sequence)
		sequence[channel.Topic]++
		if decoders[schema.Name] == nil {
			decoders[schema.Name] = decoder(t, schema)
		}
		m := decoders[schema.Name](message.Data)
		if channel.Topic == "events" {
			foot, err := device.ParseFoot(field(m, "foot").String())
			require.NoError(t, err)
			require.Equal(t, field(m, "t_ns").Int(), int64(message.PublishTime))
			events = append(events, device.Event{
				TimeNS: field(m, "t_ns").Int(), Foot: foot, Kind: device.EventKind(field(m, "kind").String()),
				Cause: field(m, "cause").String(), LengthS: field(m, "length_s").Float(), Text: field(m, "text").String(),
			})
			continue
		}
		want := frames[n]
		n++
		arrival := uint64(want.ArrivalNS)
		require.Equal(t, want.Foot.String(), channel.Topic)
		require.Equal(t, [3]uint64{arrival, arrival, arrival}, [3]uint64{message.LogTime, message.PublishTime, field(m, "arrival_ns").Uint()})
		require.Equal(t, [2]uint64{want.TimeUS, uint64(want.Seq)}, [2]uint64{field(m, "t_us").Uint(), field(m, "seq").Uint()})
		counts := field(m, "counts").List()
		require.Equal(t, len(want.Counts), counts.Len())
		for k, c := range want.Counts {
			if uint64(c) != counts.Get(k).Uint() {
				t.Fatalf("frame %d, cell %d: %d, written was %d", n, k, counts.Get(k).Uint(), c)
			}
		}
	}
	assert.Equal(t, len(frames), n)
	assert.Equal(t, someEvents, events)
}

// A recording rewritten by the library with other ids and other compression, as tools
// that merge or filter MCAP files do, reads the same and has the same id.
func TestReadWhatAnotherToolRewrote(t *testing.T) {
	frames := releves(3000, 6)
	whole := closed(t, frames, 6)
	path := tempFile(t)
	require.NoError(t, os.WriteFile(path, whole, 0o666))
	id := identityOf(t, path)
	for compression, want := range map[mcap.CompressionFormat]string{
		mcap.CompressionNone: "", mcap.CompressionZSTD: "", mcap.CompressionLZ4: "compressed with lz4",
	} {
		require.NoError(t, os.WriteFile(path+".orig", whole, 0o666))
		in, err := os.Open(path + ".orig")
		require.NoError(t, err)
		defer in.Close()
		r, err := mcap.NewReader(in)
		require.NoError(t, err)
		info, err := r.Info()
		require.NoError(t, err)
		file, err := os.Create(path)
		require.NoError(t, err)
		w, err := mcap.NewWriter(file, &mcap.WriterOptions{Chunked: true, ChunkSize: 4000, IncludeCRC: true, Compression: compression})
		require.NoError(t, err)
		require.NoError(t, w.WriteHeader(r.Header()))
		for _, i := range info.MetadataIndexes {
			m, err := r.GetMetadata(i.Offset)
			require.NoError(t, err)
			require.NoError(t, w.WriteMetadata(m))
		}
		for _, s := range info.Schemas {
			require.NoError(t, w.WriteSchema(s))
		}
		require.NoError(t, w.WriteChannel(&mcap.Channel{ID: 1, SchemaID: 1, Topic: "temperature", MessageEncoding: "protobuf"}))
		for _, c := range info.Channels {
			c.ID += 700
			require.NoError(t, w.WriteChannel(c))
		}
		it, err := r.Messages()
		require.NoError(t, err)
		for {
			_, _, m, err := it.NextInto(nil)
			if errors.Is(err, io.EOF) {
				break
			}
			require.NoError(t, err)
			require.NoError(t, w.WriteMessage(&mcap.Message{ChannelID: 1, LogTime: m.LogTime, Data: []byte("not ours")}))
			m.ChannelID += 700
			require.NoError(t, w.WriteMessage(m))
		}
		require.NoError(t, w.Close())
		require.NoError(t, file.Close())

		again := open(t, path)
		got, err := readAll(again)
		if want != "" {
			require.ErrorContains(t, err, want)
			oneLine(t, err)
			continue
		}
		require.NoError(t, err)
		same(t, frames, got)
		assert.Equal(t, 1500, again.Count(device.Right))
		assert.Equal(t, id, again.ID())
	}
}

// javaScript returns a function that runs a script of .ci/readback and returns its output. The
// scripts use no code of this program. It needs node, and npm ci must have been run there.
func javaScript(t *testing.T) func(script string, args ...string) []byte {
	dir, err := filepath.Abs("../../.ci/readback")
	require.NoError(t, err)
	node, err := exec.LookPath("node")
	if err != nil {
		t.Skip("no node on this machine")
	}
	if _, err := os.Stat(filepath.Join(dir, "node_modules")); err != nil {
		t.Skip("no .ci/readback/node_modules: run npm ci there")
	}
	return func(script string, args ...string) []byte {
		out, err := exec.Command(node, append([]string{filepath.Join(dir, script)}, args...)...).Output()
		var exit *exec.ExitError
		if errors.As(err, &exit) {
			t.Fatalf("%s: %s", script, exit.Stderr)
		}
		require.NoError(t, err)
		return out
	}
}

// The indexed reader of @mcap/core and protobufjs read a recording and compute its id.
func TestReadByJavaScript(t *testing.T) {
	readback := javaScript(t)
	path, frames := tempFile(t), releves(10_000, 40)
	frames[0].Counts[3], frames[1].Counts[0] = 65535, 16384
	frames[9_999].Seq = device.NoSeq
	w, err := recording.Create(path, meta(5, 8))
	require.NoError(t, err)
	write(t, w, frames, someEvents...)
	require.NoError(t, w.Close())

	type channel struct {
		Schema         string
		Messages       int
		FirstUS        string `json:"first_t_us"`
		LastUS         string `json:"last_t_us"`
		FirstArrivalNS string `json:"first_arrival_ns"`
		LastArrivalNS  string `json:"last_arrival_ns"`
		Cells          int
		SumOfCounts    int64 `json:"sum_of_counts"`
		Weighted       int64 `json:"weighted_sum_of_counts"`
		SumOfSeq       int64 `json:"sum_of_seq"`
		WithoutSeq     int   `json:"without_seq"`
		Texts          []string
	}
	var got struct {
		ID       string
		Profile  string
		Ordered  bool
		Channels map[string]channel
		Metadata map[string]map[string]string
	}
	require.NoError(t, json.Unmarshal(readback("readback.mjs", path), &got))

	assert.Equal(t, identityOf(t, path), got.ID)
	assert.Equal(t, "aplomb", got.Profile)
	assert.True(t, got.Ordered)
	assert.ElementsMatch(t, []string{"left", "right", "events"}, slices.Collect(maps.Keys(got.Channels)))
	for _, foot := range device.Feet {
		want := channel{Schema: "aplomb.Frame", Cells: 40}
		for i := range frames {
			f := &frames[i]
			if f.Foot != foot {
				continue
			}
			if want.Messages == 0 {
				want.FirstUS, want.FirstArrivalNS = decimal(f.TimeUS), decimal(f.ArrivalNS)
			}
			want.LastUS, want.LastArrivalNS = decimal(f.TimeUS), decimal(f.ArrivalNS)
			want.Messages++
			for k, c := range f.Counts {
				want.SumOfCounts += int64(c)
				want.Weighted += int64(c) * int64(k+1)
			}
			if f.Seq == device.NoSeq {
				want.WithoutSeq++
			} else {
				want.SumOfSeq += f.Seq
			}
		}
		assert.Equal(t, want, got.Channels[foot.String()])
	}
	assert.Equal(t, 2, got.Channels["events"].Messages)
	assert.Equal(t, []string{"", someEvents[1].Text}, got.Channels["events"].Texts)
	m := meta(5, 8)
	assert.Equal(t, "D-07", got.Metadata["recording"]["dancer"])
	assert.Equal(t, m.Floor, got.Metadata["recording"]["floor"])
	assert.Equal(t, device.TOML(m.Sides[device.Left].Strip), got.Metadata["left"]["strip"])
	assert.Equal(t, device.TOML(m.Sides[device.Right].Shoe), got.Metadata["right"]["shoe"])
}
