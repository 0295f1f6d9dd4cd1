//go:build !race

package analyze_test

import (
	"context"
	"fmt"
	"math"
	"os"
	"runtime"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze"
	"aplomb/analyze/hold"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/device/sim"
)

// world describes the simulated sessions of one row of the table.
type world struct {
	name       string
	platformMM [2]float64
	stand      platform.Point // target position of the load
	seatSD     float64        // mm, of the true seat and according to the profile
	gainSD     float64
	drift      float64 // counts
	noise      float64 // counts
	swaySD     float64 // mm
	domeMM     float64
	off        [4]string // why u may differ from the error, by measure; "" where it must not
	found      bool      // the seat is estimated; otherwise the profile's is assumed
	pressed    bool      // there is a pad press
}

var (
	small  = [2]float64{32, 19} // well within the strip
	large  = [2]float64{36, 22} // with 1.5 mm of strip around it
	behind = platform.Point{-1, -4}
)

// Reasons why u may differ from the true error by more than a quarter. With the reason
// wide it may be up to twice the error, and no smaller than elsewhere; with the others it
// is only reported.
const (
	tiny = "next to nothing beside the other sources"
	wide = "bounds, and the larger of both ways along both axes"
	lost = "a strip seated beyond its margin misses load"
	// u is at least the true error, and may be larger by any amount.
	less = "the seat's error is that of shoes that are less kind than these"
)

var worlds = []world{
	{"all, strip to 1 mm", small, behind, 1, 0.03, 4, 1.5, 0.5, 0, [4]string{2: wide}, false, false},
	{"the same, strip hardly wide enough", large, behind, 1, 0.03, 4, 1.5, 0.5, 0, [4]string{2: wide, 3: lost}, false, false},
	{"all, strip to 0.2 mm", small, behind, 0.2, 0.03, 4, 1.5, 0.5, 0, [4]string{}, false, false},
	{"the same, domed by 0.2 mm", small, behind, 0.2, 0.03, 4, 1.5, 0.5, 0.2, [4]string{2: wide}, false, false},
	{"seat only, 0.5 mm", small, behind, 0.5, 0, 0, 0, 0, 0, [4]string{3: tiny}, false, false},
	{"gain only, 3 %", small, behind, 0, 0.03, 0, 0, 0, 0, [4]string{2: tiny}, false, false},
	{"zero drift only, 30 counts", small, behind, 0, 0, 30, 1, 0, 0, [4]string{1: wide, 2: tiny, 3: wide}, false, false},
	{"noise only, 6 counts", small, behind, 0, 0, 0, 6, 0, 0, [4]string{tiny, tiny, tiny, tiny}, false, false},
	{"sway only, 0.5 mm", small, behind, 0, 0, 0, 0, 0.5, 0, [4]string{2: wide, 3: tiny}, false, false},
	{"all, strip to 1 mm, seat found", small, behind, 1, 0.03, 4, 1.5, 0.5, 0, [4]string{less, less, less}, true, false},
	{"the same, strip hardly wide enough", large, behind, 1, 0.03, 4, 1.5, 0.5, 0, [4]string{less, less, less, lost}, true, false},
	{"seat found from a press, sway 1 mm", small, behind, 1, 0.03, 4, 1.5, 1, 0, [4]string{less, less, less}, true, true},
}

// TestMonteCarlo compares budgets with true errors by the Monte Carlo method (JCGM
// 101:2008): in sessions of one relevé each, the seat, the gains of the cells, the drift
// and noise of their zeros and the dancer's sway are drawn, and the analysis knows only
// the profile. The root mean square error is compared with the root mean square of u.
//
// The errors of over and medial are relative to the target position, about which the
// dancer sways. Those of contact share and load are relative to the true means over the
// hold, without the budget's line for sway, since the means include the sway. All draws
// are those of our own simulator, so the table verifies the propagation of uncertainty,
// and not that the assumed standard deviations are right.
//
//	APLOMB_LONG=1 go test -run MonteCarlo -v -timeout 30m ./analyze
func TestMonteCarlo(t *testing.T) {
	sessions, every := 6, 2 // every other row
	if os.Getenv("APLOMB_LONG") != "" {
		sessions, every = 150, 1
	}
	// The tolerance is three standard errors of a standard deviation from this number of
	// feet.
	room := 1.25 * (1 + 3/math.Sqrt(2*2*float64(sessions)))
	decimals := [4]int{3, 3, 4, 2}
	var table strings.Builder
	fmt.Fprintf(&table, "root mean square error, u, ratio; %d relevés a row\n%-35s", 2*sessions, "")
	for _, name := range measure.Budgeted {
		fmt.Fprintf(&table, " | %-20s", name)
	}
	for i := 0; i < len(worlds); i += every {
		w := worlds[i]
		e, u := w.draw(t, sessions)
		fmt.Fprintf(&table, "\n%-35s", w.name)
		for j, name := range measure.Budgeted {
			fmt.Fprintf(&table, " | %6.*f %6.*f  %5.2f", decimals[j], e[j], decimals[j], u[j], u[j]/e[j])
			most := room
			if w.off[j] == wide {
				most *= 2 / 1.25
			}
			if w.off[j] == "" || w.off[j] == wide || w.off[j] == less {
				assert.LessOrEqual(t, e[j]/u[j], room, "%s, %s", w.name, name)
			}
			if w.off[j] == "" || w.off[j] == wide {
				assert.LessOrEqual(t, u[j]/e[j], most, "%s, %s", w.name, name)
			}
		}
	}
	t.Log("\n" + table.String())
}

// draw returns the root mean squares of error and of u over a number of sessions, with
// both feet of each.
func (w world) draw(t *testing.T, sessions int) (e, u [4]float64) {
	var mu sync.Mutex
	var wg sync.WaitGroup
	next := make(chan int)
	for range runtime.NumCPU() {
		wg.Go(func() {
			for i := range next {
				r, truth := w.session(t, uint64(i))
				mu.Lock()
				for k, one := range r.Releves {
					m, is := one.Hold, truth[k].Hold
					errors := [4]float64{m.OverMM - w.stand[1], m.MedialMM - w.stand[0], m.ContactShare - is.ContactShare, m.LoadN - is.LoadN}
					for j, name := range measure.Budgeted {
						e[j] = math.Hypot(e[j], errors[j])
						for _, l := range m.Budget[name].Sources {
							if j < 2 || l.Source != hold.Swaying {
								u[j] = math.Hypot(u[j], l.U)
							}
						}
					}
				}
				mu.Unlock()
			}
		})
	}
	for i := range sessions {
		next <- i
	}
	close(next)
	wg.Wait()
	for j := range e {
		e[j] /= math.Sqrt(2 * float64(sessions))
		u[j] /= math.Sqrt(2 * float64(sessions))
	}
	return e, u
}

// session simulates and analyzes one session. Both feet do the same.
func (w world) session(t *testing.T, seed uint64) (*measure.Result, []sim.Truth) {
	setup := sim.Setup{
		Seed: seed, Start: meta().Started, RateHz: 100, Mounting: "m",
		Dancer: sim.Dancer{MassKG: 55, LeftShare: 0.5, Rises: 1, SwaySD: w.swaySD, LoadSD: 0.02 * min(1, w.swaySD/0.5)},
		Faults: sim.Faults{GainSD: w.gainSD, Zero: 100, ZeroSD: 6, Drift: w.drift, Noise: w.noise},
	}
	var sides []*device.Side
	for _, f := range device.Feet {
		s := strip(f)
		s.Calibration.KPaPerCount, s.ADCBits, s.SaturatesAt = 0.75, 12, 4095
		s.Mount.SeatSDMM, s.Calibration.GainSD = w.seatSD, w.gainSD
		shoe := &device.Shoe{Code: "A", PlatformMM: w.platformMM, OutlineExponent: 2.5}
		setup.Feet[f] = &sim.Foot{Strip: s, Shoe: shoe, Physics: sim.Physics{DomeMM: w.domeMM}, Stand: sim.Stand{CoPMM: w.stand}}
		sides = append(sides, &device.Side{Strip: s, Shoe: shoe, Mounting: "m", Clock: "strip"})
	}
	if w.pressed {
		setup.Press = sim.DefaultPadPress()
	}
	path, session := recordedSession(t, fmt.Sprintf("%d.mcap", seed), setup, sides...)
	r, err := analyze.File(context.Background(), path, analyze.Options{KeepBudget: true, AtProfile: !w.found})
	require.NoError(t, err)
	require.Len(t, r.Releves, 2)
	return r, session.Truth()
}
