package output_test

import (
	"bytes"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/compare"
	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/output"
	"aplomb/device"
	"aplomb/device/correction"
	"aplomb/device/recording"
)

// A recording is shown with its notes, with the remarks on it and on its visit, and with
// the advice to stop first.
func TestRecordingWithWhatWasSaid(t *testing.T) {
	l, err := logbook.Open(filepath.Join(t.TempDir(), "book"))
	require.NoError(t, err)
	t.Cleanup(func() { l.Close() })
	require.NoError(t, l.AddDancer(logbook.Dancer{Code: "D7"}))
	began := time.Date(2026, 3, 2, 10, 0, 0, 0, time.UTC)
	five, twelve := 5, 12
	v, err := l.AddVisit(logbook.Visit{Dancer: "D7", Day: logbook.DayOf(began), PainAfter: &five, SingleLeg: [2]*int{&twelve, nil}, Choice: "A", ChoiceWhy: "quiet", Note: "after a rest"})
	require.NoError(t, err)
	strip, err := device.ReadStrip(t.Context(), "../../aplomb/testdata/profiles/left.toml")
	require.NoError(t, err)
	shoe, err := device.ReadShoe(t.Context(), "../../aplomb/testdata/profiles/A.toml")
	require.NoError(t, err)
	m := device.Metadata{Dancer: "D7", Visit: v.Name(), Started: began}
	m.Sides[device.Left] = &device.Side{Strip: strip, Shoe: shoe, Mounting: "1", Clock: "strip", Format: "binary"}
	path := filepath.Join(t.TempDir(), "a.mcap")
	w, err := recording.CreateDirect(path, m)
	require.NoError(t, err)
	for i := range 100 {
		f := device.Frame{Foot: device.Left, Seq: int64(i), TimeUS: uint64(i) * 10_000, ArrivalNS: began.UnixNano() + int64(i)*10_000_000, Counts: make([]uint16, strip.Cells())}
		require.NoError(t, w.Write(&f))
	}
	require.NoError(t, w.WriteEvent(device.Event{TimeNS: began.UnixNano() + 500_000_000, Foot: device.NoFoot, Kind: device.Note, Text: "ribbon came undone"}))
	require.NoError(t, w.Close())
	r, err := l.AddRecording(t.Context(), path, v.ID)
	require.NoError(t, err)
	require.NoError(t, l.AddRemark(t.Context(), r.ID, began, "test", correction.Remark{Saw: []string{"sinks"}, Comfort: 2}))
	r, err = l.Recording(r.ID)
	require.NoError(t, err)

	var out bytes.Buffer
	require.NoError(t, output.Recording(t.Context(), &out, l, r, nil))
	assert.Regexp(t, `(?s)^Stop: pain is 5 of 10\..*\n\nrecording 1 of dancer D7, .*  seen             sinks\n  comfort          2 of 5\n`+
		`  note             0\.5 s, before the first relevé: ribbon came undone\n`+
		`  of the visit     the fitter's choice: A \(quiet\)\n.*  of the visit     rises on one leg: left 12\n  of the visit     note: after a rest\n`, out.String())
}

// The advice to stop is first in the frame of an answer, which keeps to its 12 lines.
func TestFrameWithStop(t *testing.T) {
	c := &compare.Comparison{Stop: "Stop: pain is 5 of 10. Hand over to the dancer's clinician. (From 4 on, or an increase of 2: our own cautious default.)", Answer: "Shoe B gets the dancer over the box."}
	for range 8 {
		for _, f := range device.Feet {
			c.Shoes = append(c.Shoes, compare.ShoeFoot{Shoe: "A", Foot: f})
		}
	}
	var out bytes.Buffer
	output.Frame(&out, c, "more")
	assert.Regexp(t, `(?s)^Stop: pain is 5 of 10\..*\n\nShoe B gets`, out.String())
	assert.Equal(t, 12, strings.Count(out.String(), "\n"))
}
