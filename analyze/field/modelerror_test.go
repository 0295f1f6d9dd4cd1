package field

import (
	"fmt"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestModelErrorTable prints the errors of reconstructions of maps without noise
// or gain error, by fitted model, and holds ModelError to them: root mean squares
// over the true fields L, U, M, C, G, D and P in equal parts on the four
// platforms of the accuracy table.
//
// It takes 20 frames a case; with APLOMB_LONG=1 it takes 2,000:
//
//	APLOMB_LONG=1 go test -run ModelErrorTable -v -timeout 30m ./analyze/field
func TestModelErrorTable(t *testing.T) {
	frames, slack := 20, 1.5 // slack for the sampling error of so few frames
	if os.Getenv("APLOMB_LONG") != "" {
		frames, slack = 2000, 1.1
	}
	left, of := map[string]*tally{}, map[string]map[string]int{}
	for i, f := range families {
		if f.gain > 0 {
			continue
		}
		for j, o := range outlines {
			rng := rand.New(rand.NewPCG(accuracySeed+1, uint64(10*i+j)))
			for n := 0; n < frames; {
				shot := shoot(rng, f, o.curve, 5, 0)
				if !shot.bounded() {
					continue
				}
				n++
				m := shot.grid.Reconstruct(shot.p, shot.noise)
				if left[m.Family] == nil {
					left[m.Family], of[m.Family] = &tally{}, map[string]int{}
				}
				left[m.Family].add(m.CoP, m.ContactShare, shot.truth)
				of[m.Family][f.name]++
			}
		}
	}
	var table strings.Builder
	for _, family := range []string{LinearBed, PowerBed, DomedBed, UniformCut, SlopedCut, CellByCell} {
		e := left[family]
		if e == nil {
			continue // found out below
		}
		r := e.rms()
		fmt.Fprintf(&table, "%-12s %5d maps, CoP %.4f %.4f mm (worst %.2f), contact share %.2f points, true fields %v\n",
			family, e.n, r[0], r[1], max(e.worst[0], e.worst[1]), r[2], of[family])
		cop, share := Reconstruction{Family: family}.ModelError()
		assert.LessOrEqual(t, max(r[0], r[1]), slack*cop, family)
		assert.LessOrEqual(t, r[2], slack*100*share, family)
		if frames >= 2000 { // a figure that is never too small may still be too large
			assert.GreaterOrEqual(t, max(r[0], r[1]), cop/4, family)
			assert.GreaterOrEqual(t, r[2], 100*share/1.5, family)
		}
	}
	t.Log("\n" + table.String())
	assert.Len(t, left, len(modelErrors), "every way to explain a map was met")
}
