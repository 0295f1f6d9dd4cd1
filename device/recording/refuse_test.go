package recording_test

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/foxglove/mcap/go/mcap"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device"
	"aplomb/device/recording"
)

// foreign returns an MCAP file with a profile and metadata.
func foreign(t *testing.T, profile string, metadata ...*mcap.Metadata) []byte {
	t.Helper()
	var b bytes.Buffer
	w, err := mcap.NewWriter(&b, &mcap.WriterOptions{Chunked: true, IncludeCRC: true, Compression: mcap.CompressionZSTD})
	require.NoError(t, err)
	require.NoError(t, w.WriteHeader(&mcap.Header{Profile: profile}))
	for _, m := range metadata {
		require.NoError(t, w.WriteMetadata(m))
	}
	require.NoError(t, w.Close())
	return b.Bytes()
}

func TestWhatIsNotARecording(t *testing.T) {
	whole := closed(t, releves(4, 2), 2)
	about := func(kv ...string) *mcap.Metadata {
		m := map[string]string{"version": "1", "started": "2024-05-01T10:00:00Z"}
		for i := 0; i < len(kv); i += 2 {
			m[kv[i]] = kv[i+1]
		}
		return &mcap.Metadata{Name: "recording", Metadata: m}
	}
	side := &mcap.Metadata{Name: "left", Metadata: map[string]string{"strip": "strip = \"L\"\nrows = 0", "shoe": ""}}
	third := &mcap.Metadata{Name: "left", Metadata: map[string]string{"mark": "third"}}
	slow := &mcap.Metadata{Name: "left", Metadata: map[string]string{"baud": "-9600"}}
	for name, c := range map[string]struct {
		file []byte
		kind error
		want string
	}{
		"empty":              {nil, recording.ErrCutShort, "the file is empty"},
		"text":               {[]byte("t_us,c0,c1\n1,2,3\n"), recording.ErrForeign, "not an MCAP file"},
		"one letter":         {[]byte("x"), recording.ErrForeign, "not an MCAP file"},
		"half a magic":       {whole[:4], recording.ErrCutShort, "cut off before the end of its description"},
		"magic alone":        {whole[:8], recording.ErrCutShort, "cut off before the end of its description"},
		"other profile":      {foreign(t, "ros2"), recording.ErrForeign, `an MCAP file with the profile "ros2"`},
		"no profile":         {foreign(t, ""), recording.ErrForeign, `an MCAP file with the profile ""`},
		"no description":     {foreign(t, "aplomb"), recording.ErrDamaged, "holds no description of a recording"},
		"newer":              {foreign(t, "aplomb", about("version", "2")), recording.ErrNewer, "written in version 2 of the format, this program reads up to 1: use a newer one"},
		"no version":         {foreign(t, "aplomb", about("version", "x")), recording.ErrDamaged, `version "x"`},
		"no start":           {foreign(t, "aplomb", about("started", "noon")), recording.ErrDamaged, `start "noon"`},
		"mark":               {foreign(t, "aplomb", about(), third), recording.ErrDamaged, `mark "third" of the left foot`},
		"baud":               {foreign(t, "aplomb", about(), slow), recording.ErrDamaged, `baud "-9600" of the left foot`},
		"mass":               {foreign(t, "aplomb", about("mass_kg", "light")), recording.ErrDamaged, `mass_kg "light"`},
		"no foot":            {foreign(t, "aplomb", about()), recording.ErrDamaged, "at least one foot"},
		"impossible strip":   {foreign(t, "aplomb", about(), side), recording.ErrDamaged, "strip of the left foot"},
		"no header":          {append(bytes.Clone(mcap.Magic), 3, 1, 0, 0, 0, 0, 0, 0, 0, 0), recording.ErrForeign, "without a header"},
		"huge first record":  {append(bytes.Clone(mcap.Magic), 1, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0x7f), recording.ErrCutShort, "cut off"},
		"magic and rubbish":  {append(bytes.Clone(mcap.Magic), "rubbish"...), recording.ErrCutShort, "cut off"},
		"metadata that lies": {append(bytes.Clone(whole[:bytes.Index(whole, []byte("recording"))-4]), 0xff, 0xff, 0xff, 0xff), recording.ErrCutShort, "cut off"},
	} {
		t.Run(name, func(t *testing.T) {
			path := tempFile(t)
			_, _, err := readBytes(t, path, c.file)
			require.ErrorContains(t, err, c.want)
			assert.ErrorIs(t, err, c.kind)
			var file *recording.FileError
			require.ErrorAs(t, err, &file)
			assert.Equal(t, path, file.Path)
			oneLine(t, err)
		})
	}
}

func TestOpenNames(t *testing.T) {
	dir := t.TempDir()
	_, err := recording.Open(t.Context(), dir)
	require.ErrorContains(t, err, "not a file")
	assert.ErrorIs(t, err, recording.ErrForeign)
	path := filepath.Join(dir, "r.mcap")
	_, err = recording.Open(t.Context(), path)
	require.ErrorIs(t, err, os.ErrNotExist)

	w, err := recording.Create(path, meta(1, 1))
	require.NoError(t, err)
	_, err = recording.Open(t.Context(), path)
	require.ErrorContains(t, err, "r.mcap.part does")
	assert.ErrorIs(t, err, recording.ErrUnfinished)
	oneLine(t, err)
	require.NoError(t, w.Discard())
	require.NoFileExists(t, path+".part")
}

func TestCreateRefuses(t *testing.T) {
	path := tempFile(t)
	for _, create := range []func(string, device.Metadata) (*recording.Writer, error){recording.Create, recording.CreateDirect} {
		require.NoError(t, os.WriteFile(path, []byte("kept"), 0o666))
		_, err := create(path, meta(1, 1))
		require.ErrorContains(t, err, path+" exists")
		assert.ErrorIs(t, err, recording.ErrExists)
		require.NoError(t, os.Rename(path, path+".part"))
		_, err = create(path, meta(1, 1))
		require.ErrorContains(t, err, path+".part exists")
		assert.ErrorIs(t, err, recording.ErrExists)
		oneLine(t, err)
		kept, err := os.ReadFile(path + ".part")
		require.NoError(t, err)
		assert.Equal(t, "kept", string(kept))
		require.NoError(t, os.Remove(path+".part"))

		_, err = create(path, device.Metadata{})
		require.ErrorContains(t, err, "at least one foot")
		swapped := meta(1, 1)
		swapped.Sides[0].Strip = strip(device.Right, 1, 1)
		_, err = create(path, swapped)
		require.ErrorContains(t, err, "is for the right foot")
		bad := meta(1, 1)
		bad.Sides[1].Strip.Rows = 0
		_, err = create(path, bad)
		require.ErrorContains(t, err, "right foot: rows")
		bad = meta(1, 1)
		bad.Sides[1].Shoe = nil
		_, err = create(path, bad)
		require.ErrorContains(t, err, "its strip and its shoe")
		_, err = create(filepath.Join(path, "no", "r.mcap"), meta(1, 1))
		require.Error(t, err)
		require.NoFileExists(t, path+".part")
	}
}

func TestWriteRefuses(t *testing.T) {
	path := tempFile(t)
	w, err := recording.CreateDirect(path, meta(1, 2))
	require.NoError(t, err)
	good := device.Frame{Foot: device.Left, ArrivalNS: start, Counts: []uint16{1, 2}}
	require.NoError(t, w.Write(&good))
	for want, change := range map[string]func(*device.Frame){
		"3 cells":                 func(f *device.Frame) { f.Counts = make([]uint16, 3) },
		"no foot":                 func(f *device.Frame) { f.Foot = device.NoFoot },
		"before 1970":             func(f *device.Frame) { f.ArrivalNS = -1 },
		"number -2":               func(f *device.Frame) { f.Seq = -2 },
		"0.001 s before the last": func(f *device.Frame) { f.ArrivalNS -= 1_000_000 },
	} {
		f := good
		change(&f)
		assert.ErrorContains(t, w.Write(&f), want)
	}
	for _, e := range []device.Event{{TimeNS: -1}, {TimeNS: 1e18, LengthS: -1}, {TimeNS: 1e18, LengthS: math.Inf(1)}, {TimeNS: 1e18, LengthS: math.NaN()}} {
		require.ErrorContains(t, w.WriteEvent(e), "an event with impossible times")
	}
	require.NoError(t, w.Close())
	require.NoError(t, w.Close(), "closing again")
	require.NoError(t, w.Discard(), "discarding what is closed")
	require.ErrorContains(t, w.Write(&good), "has ended")
	require.ErrorIs(t, w.Write(&good), recording.ErrEnded)
	require.ErrorContains(t, w.WriteEvent(device.Event{}), "has ended")
	frames, err := readAll(open(t, path))
	require.NoError(t, err)
	require.Equal(t, []device.Frame{good}, frames)
}

// Another program creates the file during the recording: both stay.
func TestCloseKeepsBoth(t *testing.T) {
	path := tempFile(t)
	w, err := recording.Create(path, meta(1, 1))
	require.NoError(t, err)
	require.NoError(t, w.Write(&device.Frame{ArrivalNS: start, Counts: []uint16{7}}))
	require.NoError(t, os.WriteFile(path, []byte("theirs"), 0o666))
	err = w.Close()
	require.ErrorContains(t, err, "the recording is in "+path+".part")
	oneLine(t, err)
	theirs, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, "theirs", string(theirs))
	frames, err := readAll(open(t, path+".part"))
	require.NoError(t, err)
	assert.Len(t, frames, 1)
	require.NoFileExists(t, path+".tmp")
}

func TestReaderClosedEarly(t *testing.T) {
	path := tempFile(t)
	w, err := recording.CreateDirect(path, meta(5, 8))
	require.NoError(t, err)
	write(t, w, releves(30_000, 40))
	require.NoError(t, w.Close())
	for _, read := range []int{0, 1, 10_000} {
		r, err := recording.Open(t.Context(), path)
		require.NoError(t, err)
		var f device.Frame
		for range read {
			require.NoError(t, r.Next(&f))
		}
		require.NoError(t, r.Close())
		require.ErrorContains(t, r.Next(&f), "closed")
		require.ErrorIs(t, r.Next(&f), recording.ErrEnded)
	}
}
