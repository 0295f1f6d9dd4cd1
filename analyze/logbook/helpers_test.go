package logbook

import (
	"context"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/measure"
	"aplomb/analyze/plan"
	"aplomb/analyze/provenance"
	"aplomb/device"
	"aplomb/device/recording"
)

var bg = context.Background()

// newDatabase is the database of a logbook in which nothing is. It takes all migrations to make
// one, so that begin copies it.
var newDatabase = sync.OnceValues(func() ([]byte, error) {
	dir, err := os.MkdirTemp("", "logbook-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	l, err := Open(dir)
	if err != nil {
		return nil, err
	}
	if err := l.Close(); err != nil {
		return nil, err
	}
	return os.ReadFile(filepath.Join(dir, database))
})

// begin opens a new logbook.
func begin(t testing.TB) *Logbook {
	t.Helper()
	data, err := newDatabase()
	require.NoError(t, err)
	dir := filepath.Join(t.TempDir(), "logbook")
	require.NoError(t, os.Mkdir(dir, 0o700))
	require.NoError(t, os.WriteFile(filepath.Join(dir, database), data, 0o600))
	return reopen(t, dir)
}

func reopen(t testing.TB, dir string) *Logbook {
	t.Helper()
	l, err := Open(dir)
	require.NoError(t, err)
	t.Cleanup(func() { l.Close() })
	return l
}

func strip(foot device.Foot) *device.Strip {
	return &device.Strip{
		Name: strings.ToUpper(foot.String()[:1]) + "-01", Foot: foot, Rows: 2, Cols: 3, PitchMM: [2]float64{12, 11}, CellMM: [2]float64{12, 11},
		ADCBits: 12, SaturatesAt: 4095, FirstCell: "back-lateral", Scan: "rows",
		Mount: device.Mount{SeatSDMM: 1}, Calibration: device.Calibration{KPaPerCount: 0.75, GainSD: 0.03},
	}
}

func shoe(code string) device.Shoe {
	return device.Shoe{Code: code, PlatformMM: [2]float64{36, 22}, OutlineExponent: 2.5, Box: "tapered", VampMM: 31, WingsMM: 44, Padding: "none"}
}

// started is when recordings of these tests begin: noon, so that the day is the
// same in almost every time zone.
var started = time.Date(2026, 3, 14, 12, 0, 0, 0, time.UTC)

// about returns the metadata of a recording of both feet.
func about(dancer, visit string, s device.Shoe) device.Metadata {
	m := device.Metadata{
		Dancer: dancer, Visit: visit, Started: started, Software: "aplomb test", Support: "barre", Rise: "roll-up",
		Position: "first", Floor: "vinyl", MassKG: 55,
	}
	for _, foot := range device.Feet {
		worn := s
		m.Sides[foot] = &device.Side{Strip: strip(foot), Shoe: &worn, Mounting: "mounted at noon", Clock: "strip", Format: "binary"}
	}
	return m
}

// recordings made so far: no two have the same frames.
var made atomic.Int64

// record writes a short recording to path.
func record(t require.TestingT, path string, m device.Metadata) string {
	w, err := recording.CreateDirect(path, m)
	require.NoError(t, err)
	n := made.Add(1)
	for i := range 20 {
		if m.Sides[i%2] == nil {
			continue
		}
		require.NoError(t, w.Write(&device.Frame{
			Foot: device.Foot(i % 2), Seq: int64(i / 2), TimeUS: uint64(i/2) * 5000, ArrivalNS: m.Started.UnixNano() + int64(i)*2_500_000,
			Counts: []uint16{uint16(n >> 10), uint16(n & 1023), 3, 4, 5, uint16(i)},
		}))
	}
	require.NoError(t, w.Close())
	return path
}

// keep records into the logbook.
func keep(t testing.TB, l *Logbook, visit Visit, m device.Metadata) Recording {
	t.Helper()
	r, err := l.AddRecording(bg, record(t, l.NewRecordingPath(m.Started), m), visit.ID)
	require.NoError(t, err)
	return r
}

// keepThree adds three recordings of dancer D7 in shoe A, a minute apart.
func keepThree(t testing.TB, l *Logbook, v Visit) (kept []Recording) {
	for i := range 3 {
		m := about("D7", "", shoe("A"))
		m.Started = m.Started.Add(time.Duration(i) * time.Minute)
		kept = append(kept, keep(t, l, v, m))
	}
	return kept
}

// visit adds a visit of a dancer, and the dancer if necessary.
func visit(t testing.TB, l *Logbook, dancer string) Visit {
	t.Helper()
	if _, err := l.Dancer(dancer); err != nil {
		require.NoError(t, l.AddDancer(Dancer{Code: dancer}))
	}
	v, err := l.AddVisit(Visit{Dancer: dancer, Day: "2026-03-14"})
	require.NoError(t, err)
	return v
}

// files reads every file below dir, by path relative to it.
func files(t testing.TB, dir string) map[string]string {
	t.Helper()
	all := map[string]string{}
	require.NoError(t, filepath.WalkDir(dir, func(path string, e os.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		name, _ := filepath.Rel(dir, path)
		all[name] = string(b)
		return err
	}))
	return all
}

// unchanged asserts that the same files hold the same bytes.
func unchanged(t testing.TB, before, after map[string]string) {
	t.Helper()
	assert.ElementsMatch(t, slices.Collect(maps.Keys(before)), slices.Collect(maps.Keys(after)))
	for name, content := range before {
		assert.True(t, after[name] == content, name)
	}
}

// oneLine asserts that an error is of a kind and states in one line what failed and
// where.
func oneLine(t testing.TB, err, kind error, parts ...string) {
	t.Helper()
	require.ErrorIs(t, err, kind)
	assert.NotContains(t, err.Error(), "\n")
	for _, p := range parts {
		assert.ErrorContains(t, err, p)
	}
}

// steps returns the steps of a plan of the given number of relevés: one shoe a letter,
// each time in its next mounting.
func steps(releves int, shoes ...string) plan.Plan {
	var all []plan.Step
	worn := map[string]int{}
	for _, s := range shoes {
		worn[s]++
		all = append(all, plan.Step{Shoe: s, Mounting: worn[s], Releves: releves})
	}
	return plan.FromSteps(0, all)
}

// result returns a result of this program's algorithm.
func result(version string, releves ...measure.Releve) *measure.Result {
	return &measure.Result{Provenance: provenance.New(measure.Software{Version: version}, measure.Settings{}), Releves: releves}
}

// releve returns a measured relevé with a place and its uncertainty.
func releve(n int, foot device.Foot, over, u float64) measure.Releve {
	return measure.Releve{
		N: n, Foot: foot, FeetUp: 2, StartS: float64(n), Status: measure.Measured,
		Hold: &measure.Hold{OverMM: over, UOverMM: u, LoadN: 300, Verdict: measure.OverTheBox},
	}
}

// valueOf returns the stored value of a measure.
func valueOf(t testing.TB, r Releve, m measure.Measure) Value {
	t.Helper()
	i := slices.IndexFunc(r.Values, func(v Value) bool { return v.Measure == m })
	require.GreaterOrEqual(t, i, 0, "%s is not kept", m)
	return r.Values[i]
}

func ptr[T any](v T) *T { return &v }
