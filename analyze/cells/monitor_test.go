package cells_test

import (
	"errors"
	"fmt"
	"io"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/cells"
	"aplomb/device"
	"aplomb/device/crosstalk"
	"aplomb/device/platform"
	"aplomb/device/sim"
)

func strip(foot device.Foot) *device.Strip {
	return &device.Strip{
		Name: "T-" + foot.String(), Foot: foot, Rows: 5, Cols: 8,
		PitchMM: [2]float64{5, 5}, CellMM: [2]float64{5, 5},
		ADCBits: 12, SaturatesAt: 4095, FirstCell: "back-lateral", Scan: "rows",
		Mount:       device.Mount{SeatSDMM: 1},
		Calibration: device.Calibration{KPaPerCount: 0.75, GainSD: device.DefaultGainSD},
	}
}

// usual returns a session of a dancer on an ordinary strip, with the load slightly behind
// the centre.
func usual() sim.Setup {
	d := sim.DefaultDancer()
	d.Rises = 4
	return sim.Setup{
		Seed: 7, Start: time.Date(2026, 3, 1, 10, 0, 0, 0, time.UTC), RateHz: 100, Mounting: "1",
		Dancer: d, Faults: sim.DefaultFaults(),
		Feet: [2]*sim.Foot{{
			Strip: strip(device.Left), Shoe: &device.Shoe{Code: "A", PlatformMM: [2]float64{36, 22}, OutlineExponent: 2.5},
			Stand: sim.Stand{CoPMM: platform.Point{-1, -2}, ScatterSD: 0.4},
		}},
	}
}

// watched returns the monitors of a session at its end.
func watched(t testing.TB, setup sim.Setup) (ws [2]*cells.Monitor) {
	s, err := sim.NewSession(setup)
	require.NoError(t, err)
	for f, foot := range setup.Feet {
		if foot != nil {
			ws[f] = cells.New(foot.Strip, foot.Shoe.Outline())
		}
	}
	var f device.Frame
	for {
		err := s.Next(&f)
		if errors.Is(err, io.EOF) {
			return ws
		}
		require.NoError(t, err)
		ws[f.Foot].Add(&f)
	}
}

// places lists faults by kind and cell.
func places(all []cells.Fault) (said []string) {
	for _, f := range all {
		said = append(said, fmt.Sprintf("%s %d,%d", f.Kind, f.Cell.Row, f.Cell.Col))
	}
	return said
}

func breaks(b ...sim.Broken) func(*sim.Setup) {
	return func(s *sim.Setup) { s.Feet[0].Broken = b }
}

// TestFaults simulates one fault at a time: it must be found with the right kind
// in the right cell, and nothing else.
func TestFaults(t *testing.T) {
	for _, c := range []struct {
		name string
		do   func(*sim.Setup)
		want []string
	}{
		{"none", breaks(), nil},
		{"dead", breaks(sim.Broken{Row: 2, Col: 3}), []string{"dead 2,3"}},
		{"dead neighbours", breaks(sim.Broken{Row: 2, Col: 3}, sim.Broken{Row: 2, Col: 4}), []string{"dead 2,3", "dead 2,4"}},
		{"dead at the back edge", breaks(sim.Broken{Row: 0, Col: 3}), []string{"silent 0,3"}},
		{"dead later", breaks(sim.Broken{Row: 1, Col: 3, FromS: 6}), []string{"dead 1,3"}},
		{"stuck", breaks(sim.Broken{Row: 1, Col: 3, How: sim.Stuck, Value: 800}), []string{"stuck 1,3"}},
		{"stuck at the top", breaks(sim.Broken{Row: 1, Col: 3, How: sim.Stuck, Value: 4095}), []string{"stuck 1,3"}},
		{"stuck at a corner", breaks(sim.Broken{Row: 4, Col: 0, How: sim.Stuck, Value: 30}), []string{"stuck 4,0"}},
		{"stuck later", breaks(sim.Broken{Row: 1, Col: 3, How: sim.Stuck, Value: 800, FromS: 5}), []string{"stuck 1,3"}},
		{"stuck later, three", breaks(
			sim.Broken{Row: 1, Col: 3, How: sim.Stuck, Value: 900, FromS: 5},
			sim.Broken{Row: 2, Col: 3, How: sim.Stuck, Value: 900, FromS: 5},
			sim.Broken{Row: 2, Col: 5, How: sim.Stuck, Value: 900, FromS: 5}), []string{"stuck 1,3", "stuck 2,3", "stuck 2,5"}},
		{"a digit", breaks(sim.Broken{Row: 1, Col: 3, How: sim.StuckBit, Value: 5}), []string{"stuck_bit 1,3"}},
		{"a low digit", breaks(sim.Broken{Row: 4, Col: 0, How: sim.StuckBit, Value: 1}), []string{"stuck_bit 4,0"}},
		{"noisy", breaks(sim.Broken{Row: 1, Col: 3, How: sim.Noisy, Value: 15}), []string{"noisy 1,3"}},
		{"noisy beside the platform", breaks(sim.Broken{Row: 0, Col: 7, How: sim.Noisy, Value: 40}), []string{"noisy 0,7"}},
		{"loose", breaks(sim.Broken{Row: 1, Col: 3, How: sim.Loose, Value: 0.1}), []string{"loose 1,3"}},
		{"offset", breaks(sim.Broken{Row: 1, Col: 3, How: sim.Drifting, Value: 1, FromS: -60 * 1200}), []string{"offset 1,3"}},
		{"drifting", func(s *sim.Setup) {
			for col := range 8 {
				s.Feet[0].Broken = append(s.Feet[0].Broken, sim.Broken{Row: 3, Col: col, How: sim.Drifting, Value: 1000})
			}
		}, []string{"drifting -1,-1"}},
		{"floating lines", func(s *sim.Setup) { s.Faults.Tie = crosstalk.Floating }, []string{"ghosting -1,-1"}},
		{"badly tied lines", func(s *sim.Setup) { s.Faults.Tie = 1e-2 }, []string{"ghosting -1,-1"}},
		{"never loaded", func(s *sim.Setup) { s.Dancer.MassKG = 1 }, []string{"never_loaded -1,-1"}},
		{"always loaded", func(s *sim.Setup) { s.Faults.Zero = 200 }, []string{"never_at_rest -1,-1"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			s := usual()
			c.do(&s)
			assert.Equal(t, c.want, places(watched(t, s)[0].Faults()))
		})
	}
}

// End classifies the load in progress at the end of a recording.
func TestEndsUnderLoad(t *testing.T) {
	watch := func(until func(w *cells.Monitor, f *device.Frame) bool) *cells.Monitor {
		setup := usual()
		s, err := sim.NewSession(setup)
		require.NoError(t, err)
		w := cells.New(setup.Feet[0].Strip, setup.Feet[0].Shoe.Outline())
		var f device.Frame
		for !until(w, &f) {
			require.NoError(t, s.Next(&f))
			w.Add(&f)
		}
		return w
	}
	var over uint64
	watch(func(w *cells.Monitor, f *device.Frame) bool { over = f.TimeUS; return w.Loads() == 1 })
	w := watch(func(w *cells.Monitor, f *device.Frame) bool { return f.TimeUS >= over-1_000_000 })
	assert.Equal(t, []string{"never_loaded -1,-1"}, places(w.Faults()), "as yet")
	w.End()
	assert.Equal(t, 1, w.Loads())
	assert.Empty(t, w.Faults())
}
