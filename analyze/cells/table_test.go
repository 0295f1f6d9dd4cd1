package cells_test

import (
	"fmt"
	"math/rand/v2"
	"os"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/analyze/cells"
	"aplomb/device"
	"aplomb/device/crosstalk"
	"aplomb/device/platform"
	"aplomb/device/sim"
)

// assorted draws a session of one foot with random shoe, dome, stance, dancer,
// grid, rate and strip.
func assorted(seed uint64) (sim.Setup, *rand.Rand) {
	g := rand.New(rand.NewPCG(seed, 3))
	between := func(lo, hi float64) float64 { return lo + (hi-lo)*g.Float64() }
	s := usual()
	s.Seed = seed
	s.RateHz = []float64{50, 100, 200}[g.IntN(3)]
	s.Dancer.MassKG, s.Dancer.LeftShare = between(38, 75), between(0.35, 0.65)
	s.Dancer.Rises, s.Dancer.SwaySD = 4, between(0.2, 1)
	s.Feet[device.Left].Strip.Calibration.KPaPerCount = 1.2 // no simulated dancer saturates it
	s.Faults.Noise, s.Faults.Zero = between(0.7, 3), between(10, 60)
	foot := s.Feet[device.Left]
	foot.Shoe = &device.Shoe{Code: "A", PlatformMM: [2]float64{between(32, 39), between(19, 25)}, OutlineExponent: between(2, 6)}
	if g.IntN(2) == 0 {
		foot.Physics.DomeMM = between(0, 0.15)
	}
	foot.Stand = sim.Stand{CoPMM: platform.Point{between(-3, 3), between(-6, 3)}, ScatterSD: 0.5}
	if g.IntN(3) == 0 {
		foot.Strip.Rows, foot.Strip.Cols = 8, 12
		foot.Strip.PitchMM, foot.Strip.CellMM = [2]float64{3.4, 3.2}, [2]float64{3, 3}
	}
	foot.Strip.Scan = []string{"rows", "columns", "serpentine"}[g.IntN(3)]
	if g.IntN(2) == 0 {
		foot.Strip.Foot = device.Right
		s.Feet = [2]*sim.Foot{nil, foot}
	}
	return s, g
}

// outcome reports whether a Monitor found the simulated fault, and whether it found
// another one.
type outcome struct{ found, other bool }

// try simulates a session with one fault and looks for the kinds of f at its
// cell.
func try(t testing.TB, seed uint64, f fault) outcome {
	s, g := assorted(seed)
	foot := s.Feet[0]
	if foot == nil {
		foot = s.Feet[1]
	}
	place := cells.WholeStrip
	if f.strip != nil {
		f.strip(&s)
	} else if f.want != "" {
		rows, cols := foot.Strip.Rows, foot.Strip.Cols
		place = cells.Cell{Row: 1 + g.IntN(rows-2), Col: 1 + g.IntN(cols-2)}
		if f.back { // loaded for every simulated stance
			place.Row, place.Col = 1, cols/2-1+g.IntN(2)
		}
		foot.Broken = []sim.Broken{{Row: place.Row, Col: place.Col, How: f.how, Value: f.value}}
	}
	w := watched(t, s)[foot.Strip.Foot]
	var o outcome
	for _, found := range w.Faults() {
		if (found.Kind == f.want || found.Kind == f.or && f.or != "") && found.Cell == place {
			o.found = true
		} else {
			o.other = true
			if testing.Verbose() {
				fmt.Printf("  seed %d, %s: %s at %s: %s\n", seed, f.name, found.Kind, found.Cell, found.Text)
			}
		}
	}
	return o
}

type fault struct {
	name  string
	want  cells.FaultKind
	or    cells.FaultKind
	how   sim.Breakage
	value float64
	back  bool
	strip func(*sim.Setup)
	least float64 // share of sessions in which it must be found
}

// TestFaultTable prints how often simulated faults are found, and how often faults
// are found where there are none. It shows that the rules work as described, not
// which faults real strips have.
func TestFaultTable(t *testing.T) {
	n, clean := 4, 10
	if os.Getenv("APLOMB_LONG") != "" {
		n, clean = 100, 500
	}
	for _, f := range []fault{
		{name: "none"},
		{name: "dead, under load", want: cells.Dead, how: sim.Dead, back: true, least: 0.75},
		{name: "dead, under load, or silent", want: cells.Dead, or: cells.Silent, how: sim.Dead, back: true, least: 0.95},
		{name: "stuck at 700, inside", want: cells.Stuck, how: sim.Stuck, value: 700, least: 0.95},
		{name: "digit 4 stuck, under load", want: cells.StuckBit, how: sim.StuckBit, value: 4, back: true, least: 0.95},
		{name: "noise of 25 counts, inside", want: cells.Noisy, how: sim.Noisy, value: 25, least: 0.9},
		{name: "loose in 5 % of frames, under load", want: cells.Loose, how: sim.Loose, value: 0.05, back: true, least: 0.9},
		{name: "idle lines afloat", want: cells.Crosstalk, strip: func(s *sim.Setup) { s.Faults.Tie = crosstalk.Floating }},
	} {
		t.Run(f.name, func(t *testing.T) {
			t.Parallel()
			runs := n
			if f.want == "" {
				runs = clean
			}
			var found, other int
			var mu sync.Mutex
			var wg sync.WaitGroup
			next := make(chan uint64)
			for range 2 {
				wg.Go(func() {
					for seed := range next {
						o := try(t, seed, f)
						mu.Lock()
						if o.found {
							found++
						}
						if o.other {
							other++
						}
						mu.Unlock()
					}
				})
			}
			for i := range runs {
				next <- uint64(i + 1)
			}
			close(next)
			wg.Wait()
			t.Logf("%-36s %4d recordings, found in %5.1f %%, something else in %5.1f %%", f.name, runs, 100*float64(found)/float64(runs), 100*float64(other)/float64(runs))
			assert.GreaterOrEqual(t, float64(found)/float64(runs), f.least)
			if f.want == "" {
				assert.Zero(t, other, "false findings")
			}
		})
	}
}
