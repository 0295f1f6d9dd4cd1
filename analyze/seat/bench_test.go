package seat

import (
	"testing"

	"github.com/stretchr/testify/require"

	"aplomb/device/sim"
)

// BenchmarkFind is the seat of one mounting and foot: a press of 30 maps and 20
// holds, and the holds alone, in the physics where everything acts together.
func BenchmarkFind(b *testing.B) {
	s, err := sim.ScenarioNamed("all together")
	require.NoError(b, err)
	const mountings = 8
	for _, g := range []given{{true, true}, {false, true}} {
		var ins []Input
		for i := range mountings {
			setup := s.Setup(uint64(i), i, 20, 10)
			m, err := sim.NewMounting(setup)
			require.NoError(b, err)
			ins = append(ins, input(setup, m, g))
		}
		b.Run(g.String(), func(b *testing.B) {
			for i := range b.N {
				Find(ins[i%mountings])
			}
		})
	}
}

// BenchmarkFindTogether is the seats of four mountings of one shoe and foot, three
// of them with a press.
func BenchmarkFindTogether(b *testing.B) {
	in, _ := mountings(b, "all together", 1, given{true, true}, given{true, true}, given{true, true}, given{false, true})
	for b.Loop() {
		FindTogether(in)
	}
}
