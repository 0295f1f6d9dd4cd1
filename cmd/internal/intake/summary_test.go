package intake_test

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/cmd/internal/capture"
	"aplomb/cmd/internal/intake"
	"aplomb/device"
	"aplomb/device/link"
	"aplomb/device/platform"
	"aplomb/device/sim"
)

// The summary of the second mounting of a shoe in a visit uses both mountings, which add
// a degree of freedom to those of the assumption; that of the first uses the assumption
// alone.
func TestSummaryUsesTheLogbooksMountings(t *testing.T) {
	s := intake.Setup{Logbook: newLogbook(t), Dancer: "D7", Visit: "today", Shoe: "A"}
	require.NoError(t, s.FindVisit(began))
	dir := t.TempDir()
	for i := range 2 {
		m, err := s.Metadata(t.Context(), began.Add(time.Duration(i)*time.Hour), left)
		require.NoError(t, err)
		side := m.Sides[device.Left]
		setup := sim.Setup{Seed: 3, Start: m.Started, RateHz: 100, Mounting: side.Mounting, Dancer: sim.Dancer{MassKG: 52, LeftShare: 1, Rises: 2}, Faults: sim.DefaultFaults()}
		setup.Feet[device.Left] = &sim.Foot{Strip: side.Strip, Shoe: side.Shoe, Stand: sim.Stand{CoPMM: platform.Point{0, -6}}}
		session, err := sim.NewSession(setup)
		require.NoError(t, err)
		path := filepath.Join(dir, side.Mounting+".mcap")
		r := capture.Recorder{Meta: m, Path: path}
		r.Open = func(ctx context.Context, _ func(device.Foot, link.Notice)) (capture.Source, error) {
			return capture.NewSimulated(ctx, session, &m), nil
		}
		_, err = r.Run(t.Context())
		require.NoError(t, err)
		kept, err := intake.Add(t.Context(), &s.Logbook, *s.Into, path)
		require.NoError(t, err)
		result, c, err := intake.Measure(t.Context(), &s.Logbook, kept)
		require.NoError(t, err)
		require.Len(t, result.Releves, 2)
		effect := c.Mountings[measure.Over]
		assert.Equal(t, float64(mounting.AssumedDOF+i), effect.DOF)
		alone, err := compare.Results([]*measure.Result{result}, compare.Options{})
		require.NoError(t, err)
		assert.Equal(t, i == 0, alone.Mountings[measure.Over] == effect)
	}
}
