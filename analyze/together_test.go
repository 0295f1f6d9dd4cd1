package analyze_test

import (
	"errors"
	"io"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/device/recording"
	"aplomb/device/sim"
)

// worn is a shoe on a foot.
type worn struct {
	shoe, padding string
	mark          int
	foot          device.Foot
}

// mounted writes a recording of one mounting of a strip under a shoe whose edges are
// rounded, with a pad press or without, and prepares it. It returns the true seat.
func mounted(t *testing.T, mounting string, w worn, press bool) (*analyze.Prepared, sim.Seat) {
	scenario, err := sim.ScenarioNamed("rounded")
	require.NoError(t, err)
	s := strip(w.foot)
	s.Calibration.KPaPerCount, s.ADCBits, s.SaturatesAt = 0.75, 12, 4095
	side := &device.Side{Strip: s, Shoe: &device.Shoe{Code: w.shoe, PlatformMM: [2]float64{36, 22}, OutlineExponent: 2.5, Padding: w.padding}, Mark: w.mark, Mounting: mounting, Clock: "strip"}
	setup := sim.Setup{
		Seed: 5, Start: meta().Started, RateHz: 50, Mounting: mounting,
		Dancer: sim.Dancer{MassKG: 55, LeftShare: 1 - float64(w.foot), Rises: 2, SwaySD: 0.3},
		Faults: sim.DefaultFaults(), Scatter: sim.Scatter{RulerSDMM: 0.8},
	}
	setup.Feet[w.foot] = &sim.Foot{Strip: s, Shoe: side.Shoe, Physics: scenario.Physics, Stand: sim.Stand{CoPMM: platform.Point{-0.5, -3}}}
	if press {
		setup.Press = sim.DefaultPadPress()
	}
	path, session := recordedSession(t, mounting+".mcap", setup, side)
	p, err := analyze.Prepare(t.Context(), path)
	require.NoError(t, err)
	return p, session.Seat(w.foot)
}

// A pad press in one recording determines the bearing outline of the shoe, which improves
// the seat in another recording of that shoe. A press of another shoe has no effect, and
// neither has one recording alone.
func TestTogether(t *testing.T) {
	together := func(other string) (results []*measure.Result, truth sim.Seat) {
		pressed, _ := mounted(t, "pressed", worn{shoe: other}, true)
		held, truth := mounted(t, "held", worn{shoe: "A"}, false)
		results, err := analyze.Together(t.Context(), []*analyze.Prepared{pressed, held}, analyze.Options{})
		require.NoError(t, err)
		return results, truth
	}
	both, truth := together("A")
	apart, _ := together("B")
	alone, known := apart[1].Seats.Left, both[1].Seats.Left
	assert.Equal(t, measure.EvidencePress, both[0].Seats.Left.Evidence)
	for _, s := range []*measure.Seat{alone, known} {
		assert.Equal(t, measure.EvidenceHolds, s.Evidence)
		assert.InDelta(t, truth.OverMM, s.Over.Value, 3*s.Over.U)
	}
	assert.Empty(t, alone.Outline.From)
	assert.Equal(t, []string{both[0].Provenance.Inputs[0].ID}, known.Outline.From)
	assert.Less(t, known.Over.U, 0.8*alone.Over.U)
	assert.Less(t, known.Outline.HalfDepth.U, 0.8*alone.Outline.HalfDepth.U)

	held, _ := mounted(t, "held", worn{shoe: "A"}, false)
	single, err := analyze.Together(t.Context(), []*analyze.Prepared{held}, analyze.Options{})
	require.NoError(t, err)
	assert.Equal(t, alone.Over, single[0].Seats.Left.Over)
}

// recordedSession writes the recording of a simulated session with its pad presses
// marked, and returns its path.
func recordedSession(t testing.TB, name string, setup sim.Setup, sides ...*device.Side) (path string, session *sim.Session) {
	session, err := sim.NewSession(setup)
	require.NoError(t, err)
	path = filepath.Join(t.TempDir(), name)
	out, err := recording.CreateDirect(path, meta(sides...))
	require.NoError(t, err)
	var frame device.Frame
	for {
		err := session.Next(&frame)
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(t, err)
		require.NoError(t, out.Write(&frame))
	}
	for _, e := range session.PressEvents() {
		require.NoError(t, out.WriteEvent(e))
	}
	require.NoError(t, out.Close())
	return path, session
}
