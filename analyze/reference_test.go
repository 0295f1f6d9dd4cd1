package analyze_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze"
	"aplomb/analyze/agreement"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/device/reference"
	"aplomb/device/sim"
)

// Measurements of a simulated strip agree with the simulation's true values, given in the
// file format of a reference instrument, within the stated intervals. This verifies that
// file, clock, axes and numbers are consistent, but says nothing about a physical strip;
// the file and the report therefore carry the mark of a simulation.
func TestAgreementWithTheTruthOfASimulation(t *testing.T) {
	side := on(device.Left)
	m := meta(side)
	scenario, err := sim.ScenarioNamed("kind")
	require.NoError(t, err)
	setup := sim.Setup{
		Seed: 11, Start: m.Started, RateHz: 100, Mounting: "1", Press: scenario.PadPress(4),
		Dancer: sim.Dancer{MassKG: 52, LeftShare: 1, Rises: 4, SwaySD: 0.3}, Faults: sim.DefaultFaults(),
	}
	setup.Feet[device.Left] = &sim.Foot{Strip: side.Strip, Shoe: side.Shoe, Stand: sim.Stand{CoPMM: platform.Point{1, -4}, ScatterSD: 0.5}}
	path, session := recordedSession(t, "truth.mcap", setup, side)

	// The true values are the mean of each hold; from onset to hold the load is assumed
	// to rise linearly, and it is zero outside.
	const rows, ahead = 100, 40.0
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n%s\n", reference.SimulatedMark, reference.Header)
	truth := session.Truth()
	for k := range int((truth[len(truth)-1].EndS + 2) * rows) {
		now := float64(k) / rows
		load, place := 0.0, ","
		for _, one := range truth {
			if now >= one.OnsetS && now <= one.EndS {
				level := max(0, min(1, (now-one.OnsetS)/(one.HoldStartS-one.OnsetS), (one.EndS-now)/(one.EndS-one.HoldEndS)))
				load, place = level*one.LoadN, fmt.Sprintf("%.4f,%.4f", one.MedialMM, one.OverMM)
			}
		}
		fmt.Fprintf(&b, "%.4f,%.3f,%s\n", ahead+now, load, place)
	}
	ref, err := reference.Parse(strings.NewReader(b.String()), "truth.csv")
	require.NoError(t, err)
	result, err := analyze.File(t.Context(), path, analyze.Options{KeepTrace: true})
	require.NoError(t, err)
	r, err := agreement.Of(result, ref, agreement.Options{Triggers: []agreement.Trigger{{Reference: ahead}}})
	require.NoError(t, err)
	assert.True(t, r.Simulated)
	assert.Equal(t, measure.EvidencePress, r.Evidence)
	assert.Equal(t, 4, r.Frames.Loads, "the pad press is no load")
	for _, c := range r.Measures {
		t.Logf("%s: bias %.3f, limits %.3f to %.3f, %d of %d inside", c.Measure, c.Holds.Bias, c.Holds.Lower, c.Holds.Upper, c.Inside, len(c.Pairs))
		assert.Len(t, c.Pairs, 4)
		assert.Equal(t, 4, c.Inside, c.Measure)
	}
}
