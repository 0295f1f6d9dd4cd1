package reference_test

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device/reference"
)

func TestUnitsAreNamedByTheColumns(t *testing.T) {
	s, err := reference.Parse(strings.NewReader("\xEF\xBB\xBF# a plate\nT_ms;Fx_N;fz_kgf;over_cm;medial_m\n0;9;0;;\n\n2;9;10;-0.25;0.004\n"), "p.csv")
	require.NoError(t, err)
	assert.False(t, s.Simulated)
	assert.True(t, s.Place)
	assert.Nil(t, s.Triggers)
	require.Len(t, s.Samples, 2)
	assert.True(t, math.IsNaN(s.Samples[0].OverMM) && math.IsNaN(s.Samples[0].MedialMM))
	assert.InDelta(t, 0.002, s.Samples[1].T, 1e-15)
	assert.InDelta(t, 98.0665, s.Samples[1].LoadN, 1e-12) // standard gravity, exact by definition
	assert.InDelta(t, -2.5, s.Samples[1].OverMM, 1e-12)
	assert.InDelta(t, 4, s.Samples[1].MedialMM, 1e-12)
	assert.InDelta(t, 0.002, s.IntervalS(), 1e-15)
}

func TestLoadAloneTriggerAndMark(t *testing.T) {
	s, err := reference.Parse(strings.NewReader("# Simulated by hand\nt_s fz_lbf trigger\n0 1 0\n1 NaN 1\n2 1 5\n3 1 0\n4 1 1\n"), "p.csv")
	require.NoError(t, err)
	assert.True(t, s.Simulated)
	assert.False(t, s.Place)
	assert.Equal(t, []float64{1, 4}, s.Triggers)
	assert.Equal(t, 1, s.LeftOut)
	assert.Len(t, s.Samples, 4)
	assert.InDelta(t, 4.4482216152605, s.Samples[0].LoadN, 1e-15)
	s, err = reference.Parse(strings.NewReader("t_s\tfz_n\tmedial_mm\tover_mm\r\n0\t1\t\t\r\n1\t60\t2\t3\r\n"), "p.csv")
	require.NoError(t, err, "empty fields at the end of a row")
	assert.True(t, math.IsNaN(s.Samples[0].OverMM))
	assert.InDelta(t, 3, s.Samples[1].OverMM, 1e-15)
}

func TestBadFilesAreRefused(t *testing.T) {
	for name, c := range map[string]struct{ text, want string }{
		"empty":          {"# nothing\n", "p.csv: empty: it should begin with the header t_s,fz_n,medial_mm,over_mm"},
		"no header":      {"0,1,2,3\n", "p.csv:1: no column t_s"},
		"UTF-16":         {"\xff\xfet\x00_\x00s\x00\n\x00", "p.csv:1: no text in UTF-8: save it as CSV in UTF-8"},
		"no load":        {"t_s,medial_mm,over_mm\n", "p.csv:1: no column fz_n"},
		"no unit":        {"t_s,fz,medial_mm,over_mm\n", "p.csv:1: no column fz_n"},
		"one axis":       {"t_s,fz_n,over_mm\n", "p.csv:1: a centre of pressure has two columns"},
		"twice":          {"t_s,fz_n,fz_kn\n", "p.csv:1: column fz_kn: the same quantity twice"},
		"header alone":   {"t_s,fz_n\n", "p.csv: fewer than two rows with a load: is the file complete?"},
		"one row":        {"t_s,fz_n\n0,1\n", "p.csv: fewer than two rows with a load"},
		"backwards":      {"t_s,fz_n\n0,1\n2,1\n1,1\n", "p.csv:4: time 1 s after 2 s: time must increase"},
		"standing still": {"t_s,fz_n\n0,1\n0,1\n", "p.csv:3: time 0 s after 0 s"},
		"no time":        {"t_s,fz_n\nNaN,1\n", "p.csv:2: no time in the row"},
		"text":           {"t_s,fz_n\n0,x\n", `p.csv:2: "x" is no number`},
		"infinite":       {"t_s,fz_n\n0,inf\n", `p.csv:2: "inf" is no number`},
		"decimal comma":  {"t_s;fz_n\n0,5;1\n", `p.csv:2: "0,5": write numbers with a decimal point`},
		"cut short":      {"t_s,fz_n\n0,1\n1", "p.csv:3: 1 columns, the first line has 2"},
		"binary":         {"t_s,fz_n\n" + strings.Repeat("x", 70<<10), "p.csv:2: a line of more than 64 KiB"},
	} {
		_, err := reference.Parse(strings.NewReader(c.text), "p.csv")
		assert.ErrorContains(t, err, c.want, name)
	}
}

func TestReadingEndsWithItsContext(t *testing.T) {
	path := filepath.Join(t.TempDir(), "p.csv")
	require.NoError(t, os.WriteFile(path, []byte("t_s,fz_n\n0,1\n1,2\n"), 0o600))
	s, err := reference.Read(t.Context(), path)
	require.NoError(t, err)
	assert.Len(t, s.Samples, 2)
	ctx, stop := context.WithCancel(t.Context())
	stop()
	_, err = reference.Read(ctx, path)
	assert.ErrorIs(t, err, context.Canceled)
	_, err = reference.Read(t.Context(), filepath.Dir(path))
	assert.ErrorContains(t, err, "a folder")
}

// A parsed reference has increasing times and a load in every sample, and is unchanged by
// writing and reading.
func FuzzParse(f *testing.F) {
	f.Add([]byte("t_s,fz_n,medial_mm,over_mm\n0,1,2,3\n1,1,,\n"))
	f.Add([]byte("# simulated\nt_us fz_kn trigger\n0 1 0\n5 nan 1\n7 1 1\n"))
	f.Add([]byte("t_ms;fz_lbf;over_m;medial_cm;x\n0;1;2;3;4\n1;1;;;\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := reference.Parse(bytes.NewReader(data), "p.csv")
		if err != nil {
			return
		}
		var again bytes.Buffer
		fmt.Fprintln(&again, reference.Header)
		for i, one := range s.Samples {
			require.False(t, math.IsNaN(one.LoadN))
			require.True(t, i == 0 || one.T > s.Samples[i-1].T)
			fmt.Fprintf(&again, "%v,%v,%v,%v\n", one.T, one.LoadN, one.MedialMM, one.OverMM)
		}
		got, err := reference.Parse(&again, "p.csv")
		require.NoError(t, err)
		require.Equal(t, len(s.Samples), len(got.Samples))
	})
}
