// Package recordtest makes recordings of simulated dancers, for tests.
package recordtest

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"aplomb/cmd/internal/capture"
	"aplomb/cmd/internal/intake"
	"aplomb/device"
	"aplomb/device/link"
	"aplomb/device/platform"
	"aplomb/device/sim"
)

// profiles is the folder of the profiles that tests of packages of cmd/internal use.
const profiles = "../../aplomb/testdata/profiles/"

// Record writes at path a recording of dancer D7 who rises twice in a shoe from the
// folder of profiles, with the load over mm from the centroid, starting at began.
// mounting is the name of the mounting of the strips.
func Record(t testing.TB, path, shoe, mounting string, began time.Time, over float64) {
	t.Helper()
	s := intake.Setup{Strips: []string{profiles + "left.toml", profiles + "right.toml"}, Shoe: profiles + shoe + ".toml", Dancer: "D7"}
	m, err := s.Metadata(t.Context(), began, [2]bool{true, true})
	require.NoError(t, err)
	setup := sim.Setup{Seed: 3, Start: began, RateHz: 100, Mounting: mounting, Dancer: sim.Dancer{MassKG: 52, LeftShare: 0.48, Rises: 2}, Faults: sim.DefaultFaults()}
	for f, side := range m.Sides {
		setup.Feet[f] = &sim.Foot{Strip: side.Strip, Shoe: side.Shoe, Stand: sim.Stand{CoPMM: platform.Point{0, over}}}
	}
	session, err := sim.NewSession(setup)
	require.NoError(t, err)
	r := capture.Recorder{Meta: m, Path: path}
	r.Open = func(ctx context.Context, _ func(device.Foot, link.Notice)) (capture.Source, error) {
		return capture.NewSimulated(ctx, session, &m), nil
	}
	_, err = r.Run(t.Context())
	require.NoError(t, err)
}
