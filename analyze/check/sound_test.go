package check_test

import (
	"math/rand/v2"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/device/sim"
)

// Sound recordings of random dancers and shoes, with an ordinary seat of the strip, have
// no findings.
func TestSoundRecordings(t *testing.T) {
	n := 6
	if os.Getenv("APLOMB_LONG") != "" {
		n = 200
	}
	wrong := 0
	for i := range n {
		g := rand.New(rand.NewPCG(uint64(i), 5))
		between := func(lo, hi float64) float64 { return lo + (hi-lo)*g.Float64() }
		s := ordinary()
		s.Seed, s.RateHz = uint64(i), []float64{50, 100, 200}[g.IntN(3)]
		s.Dancer.MassKG, s.Dancer.LeftShare = between(38, 65), between(0.4, 0.6)
		for _, f := range device.Feet {
			shoe := &device.Shoe{Code: "A", PlatformMM: [2]float64{between(32, 39), between(19, 24)}, OutlineExponent: between(2, 6)}
			s.Feet[f].Shoe, s.meta.Sides[f].Shoe = shoe, shoe
			s.Feet[f].Strip.Mount.SeatSDMM, s.meta.Sides[f].Strip.Mount.SeatSDMM = 1, 1
			s.Feet[f].Stand = sim.Stand{CoPMM: platform.Point{between(-2, 2), between(-5, 2)}, ScatterSD: 0.5}
			s.Feet[f].Physics.DomeMM = max(0, between(-0.1, 0.1))
		}
		for _, found := range s.checked(t).Findings {
			wrong++
			t.Logf("recording %d: %s %s: %s", i, found.About, found.Kind, found.Text)
		}
	}
	t.Logf("%d recordings of two feet: %d false findings", n, wrong)
	assert.Zero(t, wrong)
}
