package field

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/device/platform"
)

// lose draws n loaded cells, either with loaded neighbours only or at an edge of contact.
// ok is false if there are fewer.
func lose(rng *rand.Rand, s shot, n int, atEdge bool) (cells []int, ok bool) {
	most := 0.0
	for _, v := range s.p {
		most = max(most, v)
	}
	var can []int
	for _, k := range s.grid.inside {
		if s.p[k] < 0.1*most || s.grid.cells[k].w < minInside {
			continue
		}
		edge := len(s.grid.cells[k].neighbours) < 8
		for _, j := range s.grid.cells[k].neighbours {
			edge = edge || s.p[j] < 0.02*most
		}
		if edge == atEdge {
			can = append(can, k)
		}
	}
	if len(can) < n {
		return nil, false
	}
	for _, i := range rng.Perm(len(can))[:n] {
		cells = append(cells, can[i])
	}
	return cells, true
}

// stated returns the standard uncertainty due to lost cells: of the centre of
// pressure, mm, and of the contact share, percentage points.
func stated(g *Grid, p, noise []float64, at Reconstruction) (u [3]float64) {
	for _, one := range g.LeaveNeighboursOut(p, noise) {
		var sq [3]float64
		for _, m := range one {
			for i, d := range [3]float64{m.CoP[0] - at.CoP[0], m.CoP[1] - at.CoP[1], 100 * (m.ContactShare - at.ContactShare)} {
				sq[i] += d * d / float64(len(one))
			}
		}
		for i := range u {
			u[i] = math.Hypot(u[i], math.Sqrt(sq[i]))
		}
	}
	return u
}

// TestLostCellsTable prints the errors of centre of pressure and contact share
// that one and two dead cells cause on the fields of TestAccuracyTable, with
// their readings used and with WithoutCells, and holds the latter to bounds. The
// last columns are the actual change, against the map without dead cells, divided
// by the stated standard uncertainty; its expected root mean square is 1.
//
// It takes three frames a case; with APLOMB_LONG=1 it takes 500:
//
//	APLOMB_LONG=1 go test -run LostCellsTable -v -timeout 30m ./analyze/field
func TestLostCellsTable(t *testing.T) {
	frames, slack := 3, 2.0 // slack for the sampling error of so few frames
	if os.Getenv("APLOMB_LONG") != "" {
		frames, slack = 500, 1
	}
	pool := [3][2]float64{} // squares of changes and of stated uncertainties, over all rows
	var table strings.Builder
	fmt.Fprintf(&table, "root mean square errors, %d frames a case: CoP [medial over] mm, contact share in points; change ÷ stated u\n", frames)
	fmt.Fprintf(&table, "%-8s %-14s | %-20s | %-20s | %-20s | %-5s %-5s %-5s | %s\n", "field", "dead", "none", "believed", "done without", "medial", "over", "share", "unfilled")
	for i, f := range families {
		for j, c := range []struct {
			n    int
			edge bool
		}{{1, false}, {2, false}, {1, true}, {2, true}} {
			rng := rand.New(rand.NewPCG(accuracySeed+1, uint64(10*i+j)))
			var whole, believed, without tally
			var change, u [3]float64
			unfilled := 0
			for without.n < frames {
				s := shoot(rng, f, outlines[1+without.n%3].curve, 5, 0.5)
				if !s.bounded() {
					continue
				}
				dead, ok := lose(rng, s, c.n, c.edge)
				if !ok {
					continue
				}
				sound := s.grid.Reconstruct(s.p, s.noise)
				whole.add(sound.CoP, sound.ContactShare, s.truth)
				for _, k := range dead {
					s.p[k] = 0
				}
				m := s.grid.Reconstruct(s.p, s.noise)
				believed.add(m.CoP, m.ContactShare, s.truth)
				g := s.grid.WithoutCells(dead)
				m = g.Reconstruct(s.p, s.noise)
				without.add(m.CoP, m.ContactShare, s.truth)
				if len(m.Unfilled) > 0 {
					unfilled++
					continue
				}
				said := stated(g, s.p, s.noise, m)
				for a, d := range [3]float64{m.CoP[0] - sound.CoP[0], m.CoP[1] - sound.CoP[1], 100 * (m.ContactShare - sound.ContactShare)} {
					change[a] += d * d
					u[a] += said[a] * said[a]
				}
			}
			where := fmt.Sprintf("%d within", c.n)
			if c.edge {
				where = fmt.Sprintf("%d at the edge", c.n)
			}
			a, b, w := whole.rms(), believed.rms(), without.rms()
			var ratio [3]float64
			for a := range ratio {
				ratio[a] = math.Sqrt(change[a] / u[a])
				pool[a][0] += change[a]
				pool[a][1] += u[a]
			}
			fmt.Fprintf(&table, "%-8s %-14s | %.3f %.3f %6.2f | %.3f %.3f %6.2f | %.3f %.3f %6.2f | %5.2f %5.2f %5.2f | %.0f %%\n",
				f.name, where, a[0], a[1], a[2], b[0], b[1], b[2], w[0], w[1], w[2], ratio[0], ratio[1], ratio[2], 100*float64(unfilled)/float64(frames))
			if modelled := f.name != "G" && f.name != "P"; modelled {
				limit, points := 0.1, 1.0
				if f.gain > 0 {
					limit, points = 0.12, 1.5
				}
				assert.LessOrEqual(t, max(w[0], w[1]), slack*limit, "%s, %s: CoP", f.name, where)
				assert.LessOrEqual(t, w[2], slack*points, "%s, %s: contact share", f.name, where)
			}
		}
	}
	for a, what := range [3]string{"medial", "over", "contact share"} {
		ratio := math.Sqrt(pool[a][0] / pool[a][1])
		fmt.Fprintf(&table, "all: change ÷ stated u of %s: %.2f\n", what, ratio)
		assert.Less(t, ratio, 1.25, "%s: change ÷ stated uncertainty", what)
	}
	t.Log("\n" + table.String())
}

// The reading of a lost cell has no effect.
func TestLostCellsAreNotRead(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		s := shoot(rng, families[rng.IntN(len(families))], outlines[rng.IntN(len(outlines))].curve, 5, 0.5)
		dead := rng.Perm(len(s.p))[:1+rng.IntN(3)]
		g := s.grid.WithoutCells(dead)
		want, weights := g.Reconstruct(s.p, s.noise), g.Weights()
		for _, k := range dead {
			s.p[k] = rapid.Float64Range(-100, 3000).Draw(t, "reads")
			require.Zero(t, weights[k])
		}
		got := g.Reconstruct(s.p, s.noise)
		require.Equal(t, want.CoP, got.CoP)
		require.Equal(t, want.ContactShare, got.ContactShare)
		require.Equal(t, want.LoadN, got.LoadN)
	})
}

// A field that is linear over the whole platform, and one that is linear up to the
// edge of its contact, are reconstructed exactly without some of their cells. The
// weights are exact for the former where the lost cell lies between others.
func TestLinearFieldsNeedNoLostCell(t *testing.T) {
	outline := platform.Rectangle(40, 25)
	strip := tableStrip(rand.New(rand.NewPCG(1, 1)), 5)
	strip.Mount.OffsetMM, strip.Mount.RotationDeg = [2]float64{1, 0.5}, 2
	g := New(strip, outline)
	at := func(row, col int) int { return row*strip.Cols + col }
	for _, edge := range []float64{40, 4} { // where pressure ends, mm from the back
		p, truth := observe(truth{
			level:    func(r platform.Point) float64 { return edge - 12.5 - r[1] },
			pressure: func(r platform.Point) float64 { return 20 * max(0, edge-12.5-r[1]) },
		}, strip, outline)
		if truth.load < LoadFloorN {
			for k := range p {
				p[k] *= 10 * LoadFloorN / truth.load
			}
			truth.load = 10 * LoadFloorN
		}
		for _, dead := range [][]int{{at(2, 5)}, {at(1, 4), at(1, 5)}, {at(1, 3), at(2, 6)}} {
			less := g.WithoutCells(dead)
			q := append([]float64(nil), p...)
			for _, k := range dead {
				q[k] = 0
			}
			m := less.Reconstruct(q, nil)
			assert.Equal(t, LinearBed, m.Family)
			assert.Equal(t, dead, m.Filled)
			assert.Empty(t, m.Unfilled)
			assert.InEpsilon(t, truth.load, m.LoadN, 1e-3)
			assert.InDelta(t, truth.cop[0], m.CoP[0], 2e-3)
			assert.InDelta(t, truth.cop[1], m.CoP[1], 2e-3)
			assert.InDelta(t, truth.share, m.ContactShare, 2e-3)
		}
		if edge == 40 {
			less := g.WithoutCells([]int{at(2, 5)})
			q := append([]float64(nil), p...)
			q[at(2, 5)] = 0
			cop := weighted(less.Weights(), q)
			assert.InDelta(t, truth.cop[0], cop[0], 1e-3)
			assert.InDelta(t, truth.cop[1], cop[1], 1e-3)
		}
	}
}

// A lost cell at the rim is not extrapolated if no model fits: it is listed in Unfilled
// and counts as unloaded.
func TestLostCellsAtTheRimAreUnfilled(t *testing.T) {
	outline := platform.Rectangle(40, 25)
	strip := tableStrip(rand.New(rand.NewPCG(1, 1)), 5)
	strip.Rows, strip.Cols = 5, 8
	strip.Mount.OffsetMM, strip.Mount.RotationDeg = [2]float64{}, 0
	rng := rand.New(rand.NewPCG(5, 5))
	p := make([]float64, strip.Cells())
	for k := range p {
		p[k] = 1000 * rng.Float64() // no model fits random readings
	}
	for _, c := range []struct {
		dead             []int
		filled, unfilled []int
	}{
		{[]int{0}, nil, []int{0}},
		{[]int{3}, nil, []int{3}},
		{[]int{2*8 + 3}, []int{2*8 + 3}, nil},
		{[]int{2*8 + 3, 2*8 + 4}, []int{2*8 + 3, 2*8 + 4}, nil},
		{[]int{8 + 2, 8 + 3, 8 + 4, 16 + 2, 16 + 3, 16 + 4, 24 + 2, 24 + 3, 24 + 4}, nil, []int{8 + 2, 8 + 3, 8 + 4, 16 + 2, 16 + 3, 16 + 4, 24 + 2, 24 + 3, 24 + 4}},
	} {
		m := New(strip, outline).WithoutCells(c.dead).Reconstruct(p, nil)
		require.Equal(t, CellByCell, m.Family)
		assert.Equal(t, c.filled, m.Filled)
		assert.Equal(t, c.unfilled, m.Unfilled)
	}
}
