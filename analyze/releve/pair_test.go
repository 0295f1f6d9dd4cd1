package releve

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// pulses returns one pulse for every two times.
func pulses(times ...float64) (p []Pulse) {
	for i := 0; i < len(times); i += 2 {
		p = append(p, Pulse{OnsetS: times[i], EndS: times[i+1]})
	}
	return p
}

func TestPair(t *testing.T) {
	for name, c := range map[string]struct {
		left, right []Pulse
		want        []PulsePair
	}{
		"nothing":             {nil, nil, []PulsePair{}},
		"one foot":            {pulses(1, 3, 5, 6), nil, []PulsePair{{0, -1}, {1, -1}}},
		"both feet":           {pulses(1, 3, 5, 8), pulses(1.1, 3.1, 4.9, 8), []PulsePair{{0, 0}, {1, 1}}},
		"walking":             {pulses(1, 2, 3, 4), pulses(1.9, 3.1, 3.9, 5), []PulsePair{{0, -1}, {-1, 0}, {1, -1}, {-1, 1}}},
		"half of the shorter": {pulses(1, 9), pulses(8, 10), []PulsePair{{0, 0}}},
		"just under half":     {pulses(1, 9), pulses(8.01, 10), []PulsePair{{0, -1}, {-1, 0}}},
		"right first":         {pulses(5, 8), pulses(1, 3, 4.5, 8), []PulsePair{{-1, 0}, {0, 1}}},
		"one to one, the longest overlap": {
			pulses(1, 10), pulses(1, 2, 3, 6, 7, 9), []PulsePair{{0, 1}, {-1, 0}, {-1, 2}},
		},
	} {
		assert.Equal(t, c.want, Pair(c.left, c.right), name)
	}
}

func TestPairUsesEveryPulseOnce(t *testing.T) {
	foot := rapid.Custom(func(t *rapid.T) (p []Pulse) {
		at := 0.0
		for range rapid.IntRange(0, 8).Draw(t, "pulses") {
			onset := at + rapid.Float64Range(0.1, 2).Draw(t, "rest")
			at = onset + rapid.Float64Range(0.2, 3).Draw(t, "length")
			p = append(p, Pulse{OnsetS: onset, EndS: at})
		}
		return p
	})
	rapid.Check(t, func(t *rapid.T) {
		left, right := foot.Draw(t, "left"), foot.Draw(t, "right")
		all := Pair(left, right)
		ofLeft, ofRight := make([]int, len(left)), make([]int, len(right))
		for _, r := range all {
			if r.Left >= 0 {
				ofLeft[r.Left]++
			}
			if r.Right >= 0 {
				ofRight[r.Right]++
			}
			if r.Left >= 0 && r.Right >= 0 {
				l, r := left[r.Left], right[r.Right]
				overlap := min(l.EndS, r.EndS) - max(l.OnsetS, r.OnsetS)
				require.GreaterOrEqual(t, overlap, 0.5*min(l.EndS-l.OnsetS, r.EndS-r.OnsetS))
			}
		}
		for _, n := range append(ofLeft, ofRight...) {
			require.Equal(t, 1, n)
		}

		// Exchanging the feet exchanges the result.
		mirrored := Pair(right, left)
		for i, r := range mirrored {
			mirrored[i] = PulsePair{r.Right, r.Left}
		}
		require.ElementsMatch(t, all, mirrored)
	})
}
